"""Average precision of findings on whole photographs, by kind, and how sure each detector of stages/condition/detectors should be of a mark.

  settle_signs.py --detectors stages/condition/detectors SET [SET...]

SET is a folder of generated photographs with their truth (papillote_samples), SET.json beside it what `papillote export json` says of them.
Envelopes and findings are paired as papillote_evaluate pairs them: one to one, the best agreeing first, from 0.5 and 0.1 of the union on;
envelopes of which less than 0.9 is visible do not count. Prints for each kind how many there are, right and false ones, the average
precision, and `middle` and `scale` of sign_of, so that a confidence is the share of such marks that are right. Only what was reported can
be learnt from: for a new net, kLeastConfidence of condition.cpp should be low meanwhile.
"""

import argparse
import collections
import json
import pathlib
import re

import numpy as np

from cut import shared

LEAST_VISIBLE, LEAST_ENVELOPE, LEAST_FINDING = 0.9, 0.5, 0.1


def paired(truths, found, least):
    outlines = [[np.asarray(one["polygon_px"], float).reshape(-1, 2) for one in group] for group in (truths, found)]
    rows = sorted(((shared(t, f), i, k) for i, t in enumerate(outlines[0]) for k, f in enumerate(outlines[1])), reverse=True)
    pairs, taken_truths, taken_found = [], set(), set()
    for share, i, k in rows:
        if share >= least and i not in taken_truths and k not in taken_found:
            pairs.append((i, k))
            taken_truths.add(i)
            taken_found.add(k)
    return pairs


def findings_of(folder):
    """(kind, confidence or None where it was missed, right) of everything that is there or was said."""
    said = {pathlib.PurePath(p["file"]).name: p for p in json.loads(folder.with_name(folder.name + ".json").read_text(encoding="utf8"))["photographs"]}
    for path in sorted(folder.glob("*.expected.json")):
        for truth in json.loads(path.read_text(encoding="utf8"))["photographs"]:
            there, found = truth["envelopes"], said.get(truth["file"], {"envelopes": []})["envelopes"]
            for i, k in paired(there, found, LEAST_ENVELOPE):
                if there[i]["visible_fraction"] < LEAST_VISIBLE:
                    continue
                for kind in {f["kind"] for f in there[i]["findings"] + found[k]["findings"]}:
                    true, claimed = ([f for f in e["findings"] if f["kind"] == kind] for e in (there[i], found[k]))
                    pairs = paired(true, claimed, LEAST_FINDING)
                    right = {c for _, c in pairs}
                    yield from ((kind, f["confidence"], c in right) for c, f in enumerate(claimed))
                    yield from ((kind, None, False) for _ in range(len(true) - len(pairs)))


def curve(scores, right):
    """middle and scale of 1 / (1 + exp(-(score - middle) / scale)), by Newton's method on the likelihood; few findings pull the slope to 3."""
    a, b = 3.0, -3 * float(np.mean(scores))
    for _ in range(200):
        p = 1 / (1 + np.exp(-(a * scores + b)))
        w = p * (1 - p) + 1e-6
        g = np.array([((right - p) * scores).sum() - 0.3 * (a - 3), (right - p).sum()])
        h = np.array([[(w * scores ** 2).sum() + 0.3, (w * scores).sum()], [(w * scores).sum(), w.sum() + 1e-3]])
        step = np.clip(np.linalg.solve(h, g), -0.5, 0.5)
        a, b = max(a + step[0], 0.5), b + step[1]
    return -b / a, 1 / a


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--detectors", type=pathlib.Path, required=True)
    ask.add_argument("sets", nargs="+", type=pathlib.Path)
    say = ask.parse_args()
    rows = collections.defaultdict(list)
    for folder in say.sets:
        for kind, confidence, right in findings_of(folder):
            rows[kind].append((confidence, right))
    for kind, of_kind in sorted(rows.items()):
        said = sorted((r for r in of_kind if r[0] is not None), reverse=True)
        right = np.array([r for _, r in said], float)
        there = int(right.sum()) + sum(c is None for c, _ in of_kind)
        words = f"{kind:15s} there {there:4d} right {int(right.sum()):4d} false {len(said) - int(right.sum()):4d}"
        if there:
            words += f" average precision {(right * np.cumsum(right) / np.arange(1, len(said) + 1)).sum() / there:.2f}"
        now = re.search(r"sign_of\(mark, ([\d.-]+), ([\d.]+)\)", (say.detectors / f"{kind}.cpp").read_text(encoding="utf8"))
        if now and 0 < right.sum() < len(said):   # what is never wrong says nothing of where it would be
            middle, scale = float(now[1]), float(now[2])
            confidence = np.clip([c for c, _ in said], 0.001, 0.9995)
            new = curve(middle + scale * np.log(confidence / (1 - confidence)), right)
            words += f" middle {middle:.2f} scale {scale:.2f} -> {new[0]:.2f} {new[1]:.2f}"
        print(words)


if __name__ == "__main__":
    main()
