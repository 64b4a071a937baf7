#!/usr/bin/env python3
"""Fits, or measures, how likely two envelopes of a likeness are one.

Draw sheets and photograph them again, work on both, and compare every pair:

    papillote_samples --seed 300 --count 12 --kind sheet --again 0.7 --out pictures
    papillote process pictures --collection tins
    papillote again --collection tins --least 0 --every --json > pairs.json     # to fit
    papillote again --collection tins --least 0 --json > proposals.json         # to measure
    fit.py pairs.json pictures
    fit.py --measure proposals.json pictures

Several files and folders in turn are taken together. Seeds 100 to 6999 are for fitting, 7000 and above for measuring.
"""
import argparse
import json
import pathlib

import cv2
import numpy as np

MEASURES = ("text", "marks", "size", "paper")
SERIES = 0.05  # of the pairs that are two envelopes are given a text that agrees, as envelopes of one series have
MOST = {"size": 0.2, "paper": 30.0}  # beyond, more says no more
NEUTRAL = {"text": 0.5, "marks": 0.2, "size": 0.015, "paper": 7.0}  # about as frequent of one as of two: what is not to be had says nothing


def truth_of(folder):
    sheets = {}
    for file in sorted(pathlib.Path(folder).glob("*.expected.json")):
        photo = json.loads(file.read_text())["photographs"][0]
        sheets[photo["file"]] = photo
    return sheets


def overlap(a, b):
    a, b = (np.array(p, np.float32).reshape(-1, 2) for p in (a, b))
    low = np.minimum(a.min(0), b.min(0))
    scale = 200 / max(float((np.maximum(a.max(0), b.max(0)) - low).max()), 1.0)
    masks = []
    for p in (a, b):
        mask = np.zeros((204, 204), np.uint8)
        cv2.fillPoly(mask, [np.round((p - low) * scale + 2).astype(np.int32)], 1)
        masks.append(mask > 0)
    return (masks[0] & masks[1]).sum() / max((masks[0] | masks[1]).sum(), 1)


class Truth:
    def __init__(self, folder):
        self.sheets = truth_of(folder)
        self.known = {}

    def id_of(self, side):
        """The drawn envelope that was found there; none where it is none."""
        key = (side["photo"], str(side["polygon_px"]))
        if key not in self.known:
            best = max(((overlap(e["polygon_px"], side["polygon_px"]), e["truth_id"])
                        for e in self.sheets[side["photo"]]["envelopes"] if len(e["polygon_px"]) > 2), default=(0, None))
            self.known[key] = best[1] if best[0] > 0.5 else None
        return self.known[key]

    def came_back(self):
        """Envelopes that two photographs show, at least 60 % of each."""
        seen = {}
        for photo, sheet in self.sheets.items():
            for e in sheet["envelopes"]:
                if e["visible_fraction"] >= 0.6:
                    seen.setdefault(e["truth_id"], set()).add(photo)
        return {i for i, photos in seen.items() if len(photos) > 1}, len(seen)


def fit(rows, right):
    """Logistic regression with a little ridge, about the neutral values."""
    columns = []
    for m in MEASURES:
        values = [NEUTRAL[m] if r["likeness"][m] is None else min(r["likeness"][m], MOST.get(m, 9)) for r in rows]
        columns.append(np.array(values) - NEUTRAL[m])
    x = np.column_stack(columns + [np.ones(len(rows))])
    y = np.array(right, float)
    scale = np.maximum(np.abs(x).max(0), 1e-9)
    x = x / scale
    w = np.zeros(x.shape[1])
    for _ in range(60):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -40, 40)))
        h = (x * (p * (1 - p))[:, None]).T @ x + 0.05 * np.eye(len(w))
        w += np.linalg.solve(h, x.T @ (y - p) - 0.05 * w)
    for name, weight in zip((*MEASURES, "bias"), w / scale):
        print(f"{name:6} {weight:8.3f}")
    return 1 / (1 + np.exp(-np.clip(x @ w, -40, 40)))


def calibration(claimed, right, edges=(0, 0.1, 0.5, 0.8, 0.95, 1.01)):
    claimed, right = np.array(claimed), np.array(right)
    for low, high in zip(edges, edges[1:]):
        here = (claimed >= low) & (claimed < high)
        if here.any():
            print(f"  {low:.2f} to {min(high, 1):.2f}: claimed {claimed[here].mean():.3f}, right {right[here].mean():.3f} of {here.sum()}")


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="+", help="what 'again --json' wrote and the folder of its pictures, in turn")
    parser.add_argument("--measure", action="store_true", help="count proposals that are right and wrong instead of fitting")
    asked = parser.parse_args()
    rows, right, came, envelopes, found = [], [], 0, 0, set()
    for answers, folder in zip(asked.files[::2], asked.files[1::2]):
        truth = Truth(folder)
        back, all_envelopes = truth.came_back()
        came += len(back)
        envelopes += all_envelopes
        for row in json.loads(pathlib.Path(answers).read_text()):
            one, other = truth.id_of(row["newer"]), truth.id_of(row["earlier"])
            rows.append(row)
            right.append(one is not None and one == other)
            if right[-1] and row["confidence"] >= 0.5:
                found.add((folder, one))
    claimed = [r["confidence"] for r in rows]
    if not asked.measure:
        print(f"{len(rows)} pairs, {sum(right)} of one envelope")
        chance = np.random.default_rng(1)
        agreeing = [r["likeness"]["text"] for r, same in zip(rows, right) if same and r["likeness"]["text"] is not None]
        for row, same in zip(rows, right):
            if not same and row["likeness"]["text"] is not None and chance.random() < SERIES:
                row["likeness"]["text"] = chance.choice(agreeing)
        alone = fit(rows, right)
        print("by itself:")
        calibration(alone, right)
        return
    wrong = sum(1 for c, r in zip(claimed, right) if c >= 0.5 and not r)
    print(f"{envelopes} envelopes drawn, {came} of them photographed again")
    print(f"proposed rightly (at least 0.5): {len(found)} of {came} = {100 * len(found) / max(came, 1):.1f} %")
    print(f"proposed wrongly: {wrong}")
    calibration(claimed, right)


if __name__ == "__main__":
    main()
