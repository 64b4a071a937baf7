"""Pack lines of real writing into one file for embellish.py.

  prepare.py --lines FOLDER --manifest manifest.csv --out lines.npz [--megabytes 6] [--seed 1]

FOLDER holds NAME.jpg; the manifest says the data set and the kind (hand, typed) of each and which belong to the training split.
Every data set gets the same share of the room, so that many hands are seen.
"""

import argparse
import collections
import csv
import io
import pathlib
import random

import numpy as np
from PIL import Image


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--lines", required=True, type=pathlib.Path)
    ask.add_argument("--manifest", required=True)
    ask.add_argument("--out", required=True)
    ask.add_argument("--megabytes", type=float, default=6)
    ask.add_argument("--seed", type=int, default=1)
    say = ask.parse_args()
    rng = random.Random(say.seed)
    sets = collections.defaultdict(list)
    for row in csv.DictReader(open(say.manifest, encoding="utf8")):
        if row["split"] == "train" and 150 < int(row["width"]) < 1500:
            sets[row["dataset"]].append(row)
    for rows in sets.values():
        rng.shuffle(rows)
    blobs, typed, room = [], [], say.megabytes * 1e6
    while room > 0 and any(sets.values()):
        for rows in sets.values():
            if not rows:
                continue
            row = rows.pop()
            path = say.lines / f"{row['name']}.jpg"
            if not path.exists():
                continue
            picture = Image.open(path).convert("L")
            picture = picture.resize((max(1, picture.width * 3 // 4), picture.height * 3 // 4), Image.Resampling.BOX)
            blob = io.BytesIO()
            picture.save(blob, "WEBP", quality=45, method=5)
            blobs.append(np.frombuffer(blob.getvalue(), np.uint8))
            typed.append(row["kind"] == "typed")
            room -= len(blobs[-1])
    np.savez(say.out, bytes=np.concatenate(blobs), sizes=np.array([len(b) for b in blobs], np.int64), typed=np.array(typed))
    print(len(blobs), "lines", sum(typed), "typed")


if __name__ == "__main__":
    main()
