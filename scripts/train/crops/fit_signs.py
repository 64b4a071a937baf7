"""Settle how sure each detector of stages/condition/detectors is of a mark, for a new net.

  fit_signs.py --weights latest.pt --crops FOLDER

FOLDER is filled by draw_crops.py --plain with seeds that training did not use. Marks are found as marks_of (stages/condition/marks.cpp)
finds them; a mark is right when it shares a tenth of its union with a region of its kind, as papillote_evaluate counts. Prints for each
kind the average precision, and `middle` and `scale` of sign_of, so that a confidence is the share of such marks that are right.
"""

import argparse
import pathlib

import cv2
import numpy as np
import torch

import augment
from draw_crops import read
from kinds import MARKS, SIDE_PX
from net import load

FINER, RIM = 2, -1.0
UNIT_PX = 2.5    # of the maps in a millimetre
JOIN = {"crushed": 3, "faded": 5, "foxing": 4, "fragments": 4, "frass": 2.5, "grease": 2, "hole": 0, "missing_corner": 1, "mould": 3, "open_flap": 2,
        "protruding": 1.5, "rust": 2, "tape": 1.5, "tear": 1, "water_stain": 2, "webbing": 2.5, "broken_wings": 1, "no_body": 2, "glassine": 3, "bulging": 3}
LEAST = -2.5     # log odds of a mark that is looked at


def marks_of(odds, join):
    """(score, region at FINER times the map's size) of each mark."""
    smooth = cv2.blur(odds, (3, 3))
    if smooth.max() < LEAST:
        return
    within = (cv2.resize(odds, None, fx=FINER, fy=FINER, interpolation=cv2.INTER_CUBIC) > RIM).astype(np.uint8)
    gap = round(join * UNIT_PX * FINER) | 1
    if gap > 1:
        within = cv2.copyMakeBorder(within, gap, gap, gap, gap, cv2.BORDER_CONSTANT)
        within = cv2.morphologyEx(within, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (gap, gap)))[gap:-gap, gap:-gap]
    count, labels = cv2.connectedComponents(np.ascontiguousarray(within), connectivity=8)
    for k in range(1, count):
        region = labels == k
        score = smooth[region[::FINER, ::FINER]]
        if len(score) and score.max() >= LEAST:
            yield float(score.max()), region


def curve(scores, right):
    """middle and scale of 1 / (1 + exp(-(score - middle) / scale)), by Newton's method on the likelihood."""
    x, y = np.asarray(scores), np.asarray(right, float)
    a, b = 1.5, -1.0
    for _ in range(100):
        p = 1 / (1 + np.exp(-(a * x + b)))
        w = p * (1 - p) + 1e-6
        g = np.array([((y - p) * x).sum() - 0.1 * (a - 1.5), (y - p).sum()])
        h = np.array([[(w * x * x).sum() + 0.1, (w * x).sum()], [(w * x).sum(), w.sum()]])
        step = np.linalg.solve(h, g)
        a, b = a + float(np.clip(step[0], -1, 1)), b + float(np.clip(step[1], -1, 1))
        a = max(a, 0.3)
        if np.abs(step).max() < 1e-4:
            break
    return -b / a, 1 / a


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--weights", required=True)
    ask.add_argument("--crops", type=pathlib.Path, required=True)
    ask.add_argument("--kinds", nargs="*", default=MARKS)
    say = ask.parse_args()
    net = load(say.weights)
    found = {k: [] for k in say.kinds}   # (score, right)
    truths = dict.fromkeys(say.kinds, 0)
    crops = 0
    for path in sorted(say.crops.glob("*.npz")):
        for crop in read(path):
            h, w = crop["bgr"].shape[:2]
            if max(h, w) > SIDE_PX:
                continue
            crops += 1
            room = np.zeros((4, SIDE_PX, SIDE_PX), np.uint8)
            room[:3, :h, :w], room[3, :h, :w] = crop["bgr"].transpose(2, 0, 1), crop["paper"]
            room[:3, h:, :w], room[:3, :, w:] = room[:3, h - 1:h, :w], room[:3, :, w - 1:w]
            half = np.zeros((SIDE_PX // 2, SIDE_PX // 2), np.int32)
            half[:h // 2, :w // 2] = crop["damage"][:h // 2, :w // 2]
            drawn = {"picture": torch.from_numpy(room)[None], "line": torch.zeros(1, *half.shape, dtype=torch.uint8), "damage": torch.from_numpy(half)[None],
                     "lines": torch.zeros(1, 256, 7), "size": torch.tensor([[w, h]], dtype=torch.float32)}
            with torch.no_grad():
                picture, truth = augment.plain(drawn)
                cols, rows = (min(picture.shape[3], (int(w / 1.2) + 31) // 32 * 32), min(picture.shape[2], (int(h / 1.2) + 31) // 32 * 32))
                odds = net.raw(picture[:, :, :rows, :cols])[0].numpy()
            truth = truth["damage"][0, :, :rows // 2, :cols // 2].numpy() > 0.5
            for name in say.kinds:
                k = MARKS.index(name)
                there = cv2.resize(truth[k].astype(np.uint8), None, fx=FINER, fy=FINER, interpolation=cv2.INTER_NEAREST)
                count, labels = cv2.connectedComponents(there, connectivity=8)
                truths[name] += count - 1
                taken = set()
                for score, region in sorted(marks_of(odds[k], JOIN[name]), key=lambda m: -m[0]):
                    best = 0
                    for t in np.unique(labels[region]):
                        if t and t not in taken:
                            other = labels == t
                            if (region & other).sum() > 0.1 * (region | other).sum():
                                best = t
                    if best:
                        taken.add(best)
                    found[name].append((score, bool(best)))
    print("crops", crops)
    for name in say.kinds:
        rows = sorted(found[name], reverse=True)
        if not truths[name] or not rows:
            print(f"{name:15s} there {truths[name]} marks {len(rows)}")
            continue
        scores, right = np.array([s for s, _ in rows]), np.array([r for _, r in rows])
        precision = np.cumsum(right) / np.arange(1, len(right) + 1)
        ap = precision[right].sum() / truths[name]
        middle, scale = curve(scores, right)
        words = " ".join(f"{t:.1f}:{right[scores >= t].sum()}/{(scores >= t).sum()}" for t in (-1.5, -1, -0.5, 0, 0.5, 1, 1.5, 2) if (scores >= t).any())
        print(f"{name:15s} there {truths[name]:4d} average precision {ap:.2f} middle {middle:5.2f} scale {scale:4.2f}   right of those from: {words}")


if __name__ == "__main__":
    main()
