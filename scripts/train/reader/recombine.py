"""Put runs of words of one hand together to lines nobody wrote: the letters stay real, what they say can not be learnt by heart.

  recombine.py --packed DIR --out DIR [--workers N] [--chunks N] [--size N] [--seed N]

--packed  folder written by prepare.py and align.py; lines whose transcript hardly fits are left out
Chunks are those of draw_lines.py and may lie in the same folder.
"""

import argparse
import io
import json
import os
import pathlib

import numpy as np
from PIL import Image

from align import HARDLY_FIT, places
from draw_lines import MOST_CHARACTERS, MOST_WIDE, in_processes, save

PAPER_PERCENTILE = 85


def joined(rng, lines, hand):
    """One picture [64, w] and its text, of two to four runs of words from other lines of one hand."""
    parts, texts, wide = [], [], 0
    for k in rng.permutation(hand)[:rng.integers(2, 5)]:
        picture, text, starts = lines[k]
        a = rng.integers(0, len(starts) - 1)
        b = rng.integers(a + 1, min(len(starts), a + 5))
        (i, left), (j, right) = starts[a], starts[b]
        words = text[i:j - 1]
        if right - left < 16 or not words or wide + right - left > MOST_WIDE or sum(map(len, texts)) + len(words) > MOST_CHARACTERS:
            continue
        part = picture[:, left:right].astype(np.float32)
        if parts:   # the paper of the first
            part *= np.percentile(parts[0], PAPER_PERCENTILE) / max(1.0, np.percentile(part, PAPER_PERCENTILE))
        parts.append(part)
        texts.append(words)
        wide += right - left
    if len(parts) < 2:
        return None
    return np.clip(np.concatenate(parts, 1), 0, 255).astype(np.uint8), " ".join(texts)


def _work(job):
    packed, out, seed, worker, workers, chunks, size = job
    blob = (packed / "lines.bin").read_bytes()
    lines, hands = [], {}
    for (name, start, length, text), (cuts, fit) in zip(json.loads((packed / "lines.json").read_text(encoding="utf8")), json.loads((packed / "cuts.json").read_text(encoding="utf8"))):
        if fit <= HARDLY_FIT:
            continue
        picture = np.asarray(Image.open(io.BytesIO(blob[start:start + length])).convert("L"))
        hands.setdefault(name.rsplit("_", 1)[0], []).append(len(lines))
        lines.append((picture, text, places(cuts, len(text), picture.shape[1])))
    hands = [h for h in hands.values() if len(h) > 1]
    weight = np.array([len(h) for h in hands]) ** 0.75
    for c in range(worker, chunks, workers):
        rng, made = np.random.default_rng([seed, c]), []
        while len(made) < size:
            line = joined(rng, lines, hands[rng.choice(len(hands), p=weight / weight.sum())])
            if line:
                made.append(line)
        save(made, out / f"joined{c:05d}.npz")


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--packed", type=pathlib.Path, required=True)
    ask.add_argument("--out", type=pathlib.Path, required=True)
    ask.add_argument("--workers", type=int, default=os.cpu_count())
    ask.add_argument("--chunks", type=int, default=100)
    ask.add_argument("--size", type=int, default=500)
    ask.add_argument("--seed", type=int, default=7)
    say = ask.parse_args()
    say.out.mkdir(parents=True, exist_ok=True)
    in_processes(_work, [(say.packed, say.out, say.seed, w, say.workers, say.chunks, say.size) for w in range(say.workers)])


if __name__ == "__main__":
    main()
