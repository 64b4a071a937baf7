"""A character language model of labels and running prose: counting, smoothing, pruning, writing, reading.

  language_model.py --packed DIR --out models/reader/language.bin [--label-lines N]

Text: generated label lines (label_text.py), four times over the transcripts of the training lines, and prose of old books (prepare.py). Smoothing: interpolated
Kneser-Ney with one discount an order (Kneser and Ney 1995; Chen and Goodman 1999); rare n-grams of high order are dropped and the
back-off weights set so that every context sums to one. The file's layout is in models/reader/card.md.
"""

import argparse
import json
import math
import pathlib
import random
import struct

import numpy as np

from alphabet import CLASSES, classes_of, fold
from label_text import LabelText

ORDER = 7
LEAST = {1: 1, 2: 1, 3: 1, 4: 2, 5: 3, 6: 4, 7: 4}    # n-grams counted less often than this are dropped
STEP = 1 / 16                                   # natural-log units of one quantum
EDGE = 0                                        # class 0 stands before and after a line
MAGIC = b"PAPILM1\n"


def keys_of(text, n):
    """Every n-gram of the class sequence as a number, oldest class in the highest byte."""
    key = np.zeros(len(text) - n + 1, np.uint64)
    for i in range(n):
        key = (key << np.uint64(8)) | text[i:len(text) - n + 1 + i].astype(np.uint64)
    return key


def counts(sequence):
    """Raw n-gram counts; those that run over a line's edge (an edge anywhere but first or last) are left out."""
    out = {}
    for n in range(1, ORDER + 1):
        key = keys_of(sequence, n)
        if n > 2:
            inner = np.zeros(len(key), bool)
            for i in range(1, n - 1):
                inner |= sequence[i:len(key) + i] == EDGE
            key = key[~inner]
        if n > 1:   # the pair edge-edge between two lines is no event
            key = key[~(((key & np.uint64(0xFFFF)) == 0))]
        out[n] = np.unique(key, return_counts=True)
    return out


class Backoff:
    """Orders of (keys, log-probabilities, back-off weights), sorted by key."""

    def __init__(self):
        self.orders = []

    def score(self, key, n):
        """Log-probability of the last class of each n-gram after the ones before it, with back-off."""
        if n == 0:
            return np.full(len(key), -math.log(CLASSES))
        out = np.empty(len(key))
        if n > len(self.orders):
            return self.score(key & np.uint64((1 << (8 * (n - 1))) - 1), n - 1)
        keys, logs, _ = self.orders[n - 1]
        at = np.minimum(np.searchsorted(keys, key), len(keys) - 1)
        hit = keys[at] == key
        out[hit] = logs[at[hit]]
        miss = key[~hit]
        if len(miss):
            low = miss & np.uint64((1 << (8 * (n - 1))) - 1)
            out[~hit] = self.score(low, n - 1) + (self.weight(miss >> np.uint64(8), n - 1) if n > 1 else 0)
        return out

    def weight(self, context, n):
        keys, _, weights = self.orders[n - 1]
        at = np.minimum(np.searchsorted(keys, context), len(keys) - 1)
        return np.where(keys[at] == context, weights[at], 0.0)


def estimate(raw):
    model = Backoff()
    byte = np.uint64(8)
    for n in range(1, ORDER + 1):
        keys, number = raw[n]
        full = number.astype(np.float64)
        if n < ORDER:   # continuation counts: how many different classes stand before it (line starts keep their own count)
            longer = raw[n + 1][0]
            rest, before = np.unique(longer & np.uint64((1 << (8 * n)) - 1), return_counts=True)
            at = np.minimum(np.searchsorted(rest, keys), len(rest) - 1)
            starts = (keys >> np.uint64(8 * (n - 1))) == EDGE
            full = np.where(starts & (n > 1), full, np.where(rest[at] == keys, before[at], 0)).astype(np.float64)
            if n == 1:
                full[keys == EDGE] = number[keys == EDGE]
        once, twice = np.sum(full == 1), np.sum(full == 2)
        discount = once / max(1, once + 2 * twice) if once else 0.5
        context = keys >> byte
        groups, first = np.unique(context, return_index=True)
        total = np.add.reduceat(full, first)
        kinds = np.add.reduceat((full > 0).astype(np.float64), first)
        of = np.searchsorted(groups, context)
        lower = np.exp(model.score(keys & np.uint64((1 << (8 * (n - 1))) - 1), n - 1)) if n > 1 else np.full(len(keys), 1 / CLASSES)
        p = np.maximum(full - discount, 0) / np.maximum(total[of], 1) + discount * kinds[of] / np.maximum(total[of], 1) * lower
        kept = (number >= LEAST[n]) & (p > 0)
        keys, p, lower, context = keys[kept], p[kept], lower[kept], context[kept]
        if n > 1:
            # what the kept ones leave over goes to the lower order
            groups, first = np.unique(context, return_index=True)
            left = np.maximum(1 - np.add.reduceat(p, first), 1e-4) / np.maximum(1 - np.add.reduceat(lower, first), 1e-4)
            above_keys, above_logs, above_weights = model.orders[-1]
            at = np.searchsorted(above_keys, groups)
            good = (at < len(above_keys)) & (above_keys[np.minimum(at, len(above_keys) - 1)] == groups)
            above_weights[at[good]] = np.log(left[good])
        model.orders.append((keys, np.log(p), np.zeros(len(keys))))
    return model


def write(model, path):
    with open(path, "wb") as f:
        f.write(MAGIC + struct.pack("<IIf", len(model.orders), CLASSES, STEP))
        for n, (keys, logs, weights) in enumerate(model.orders, 1):
            f.write(struct.pack("<I", len(keys)))
            table = np.zeros((len(keys), n + 2), np.uint8)
            for i in range(n):
                table[:, i] = (keys >> np.uint64(8 * (n - 1 - i))) & np.uint64(255)
            table[:, n] = np.clip(np.round(-logs / STEP), 0, 255)
            table[:, n + 1] = np.clip(np.round(-weights / STEP) + 64, 0, 255)   # a weight may be above one
            f.write(table.tobytes())


class LanguageModel:
    """The written file, for scoring one character at a time."""

    def __init__(self, path):
        data = pathlib.Path(path).read_bytes()
        assert data[:8] == MAGIC
        self.order, _, step = struct.unpack_from("<IIf", data, 8)
        at, self.table = 20, {}
        for n in range(1, self.order + 1):
            count, = struct.unpack_from("<I", data, at)
            rows = np.frombuffer(data, np.uint8, count * (n + 2), at + 4).reshape(count, n + 2)
            at += 4 + count * (n + 2)
            p, w = -step * rows[:, n].astype(float), -step * (rows[:, n + 1].astype(float) - 64)
            self.table.update(zip(map(bytes, rows[:, :n]), zip(p.tolist(), w.tolist())))
        self.floor = -math.log(CLASSES)

    def start(self):
        return bytes([EDGE])

    def extend(self, context, k):
        return (context + bytes([k]))[1 - self.order:]

    def score(self, context, k):
        """Natural log of P(class k | the classes before it)."""
        gram, weight = context + bytes([k]), 0.0
        while gram:
            hit = self.table.get(gram)
            if hit:
                return weight + hit[0]
            above = self.table.get(gram[:-1])
            weight += above[1] if above and len(gram) > 1 else 0.0
            gram = gram[1:]
        return weight + self.floor


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--packed", type=pathlib.Path, required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--label-lines", type=int, default=300000)
    say = ask.parse_args()
    prose = [row[3] for row in json.loads((say.packed / "lines.json").read_text(encoding="utf8"))]
    places = (say.packed / "places.txt").read_text(encoding="utf8").split("\n")[:-1]
    maker, r = LabelText(places, prose), random.Random(11)
    texts = prose * 4 + (say.packed / "prose.txt").read_text(encoding="utf8").split("\n")[:-1]
    made = 0
    while made < say.label_lines:
        parts = r.choices([maker.locality, maker.date, maker.collector, maker.elevation, maker.taxon, maker.sex, maker.number, maker.coordinates, maker.ditto, maker.type_word, maker.phrase],
                          [30, 30, 13, 9, 14, 8, 7, 4, 2, 2, 12], k=r.choice([1, 1, 1, 2, 2, 3]))
        text = fold(r.choice([" ", ", ", ". ", " ", " - ", "; "]).join(m(r) for m in parts))
        if text:
            texts.append(text)
            made += 1
    r.shuffle(texts)
    sequence = np.array([EDGE] + [k for t in texts for k in classes_of(t) + [EDGE, EDGE]][:-1], np.uint8)
    model = estimate(counts(sequence))
    write(model, say.out)
    print("characters", len(sequence), "n-grams", [len(o[0]) for o in model.orders], "bytes", pathlib.Path(say.out).stat().st_size)


if __name__ == "__main__":
    main()
