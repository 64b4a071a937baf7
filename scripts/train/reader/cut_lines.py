"""Cut lines out of the generator's photographs for the reader, as the program's own finders cut them: with stains, holes, folds and wings
under the ink.

  cut_lines.py --photos FOLDER --out FOLDER [--workers 4] [--size 500]

FOLDER is filled by crops/draw_crops.py --finder ... --photos-to: one folder a photograph with NAME.jpg, NAME.expected.json and
NAME.found.json. What has been read is deleted. Writes chunks as draw_lines.py does, until told to stop.
"""

import argparse
import json
import pathlib
import shutil
import time
import zlib

import cv2
import numpy as np

from alphabet import fold
from draw_lines import HEIGHT, MOST_CHARACTERS, MOST_WIDE, in_processes, save

LEAST_SHARED = 0.55   # of the union of a found line and a true one


def hull(points):
    return cv2.convexHull(np.asarray(points, np.float32).reshape(-1, 1, 2))


def shared(a, b):
    common, _ = cv2.intersectConvexConvex(a, b)
    return common / max(1e-6, cv2.contourArea(a) + cv2.contourArea(b) - common)


def strip_of(photo, quad, polygon):
    """As stages/reading/strip.cpp cuts it."""
    quad = np.asarray(quad, np.float32)
    side = lambda i, j: float(np.hypot(*(quad[i] - quad[j])))
    high = max(1.0, side(0, 3), side(1, 2))
    wide = max(side(0, 1), side(3, 2))
    shrink = max(1.0, high / HEIGHT)
    w, h = max(1, round(wide / high * HEIGHT * shrink)), round(HEIGHT * shrink)
    if not 8 <= w / shrink <= MOST_WIDE:
        return None
    to_strip = cv2.getPerspectiveTransform(quad, np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float32))
    native = cv2.warpPerspective(photo, to_strip, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    grey = cv2.cvtColor(cv2.resize(native, (max(1, round(w / shrink)), HEIGHT), interpolation=cv2.INTER_AREA), cv2.COLOR_BGR2GRAY)
    inside = np.zeros(grey.shape, np.uint8)
    outline = cv2.perspectiveTransform(np.asarray(polygon, np.float32).reshape(-1, 1, 2), to_strip) / shrink
    cv2.fillPoly(inside, [np.round(outline).astype(np.int32)], 255)
    margin = HEIGHT // 12
    inside = cv2.dilate(inside, np.ones((2 * margin + 1, 4 * margin + 1), np.uint8))
    grey[inside == 0] = np.quantile(grey, 0.75)
    return grey


def lines_of(folder):
    for path in folder.glob("*.jpg"):
        photo = cv2.imread(str(path))
        truth = json.loads(path.with_suffix(".expected.json").read_text(encoding="utf8"))["photographs"][0]
        found = json.loads(path.with_suffix(".found.json").read_text(encoding="utf8"))["envelopes"]
        written = [(hull(l["polygon_px"]), l) for e in truth["envelopes"] for l in e["lines"] if l["kind"] != "newsprint" and len(l["polygon_px"]) == 4]
        for line in (l for e in found for l in e["lines"]):
            its = hull(line["polygon_px"])
            share, at = max(((shared(its, o), k) for k, (o, _) in enumerate(written)), default=(0, 0))
            if share < LEAST_SHARED:
                continue
            true = written[at][1]
            text = fold(true["text"])
            if not text or len(text) > MOST_CHARACTERS:
                continue
            quad, way = np.asarray(line["quad_px"], float), np.asarray(true["polygon_px"], float)
            if np.dot(quad[1] - quad[0], way[1] - way[0]) < 0:   # the reader finds out which way is up
                quad = np.roll(quad, 2, 0)
            strip = strip_of(photo, quad, line["polygon_px"])
            if strip is not None:
                yield strip, text


def work(job):
    number, say = job
    cv2.setNumThreads(1)
    waiting, chunk = [], 0
    while True:
        folders = [f for f in sorted(say.photos.iterdir()) if f.is_dir() and zlib.crc32(f.name.encode()) % say.workers == number]
        for folder in folders:
            try:
                waiting += lines_of(folder)
            except Exception as error:   # one bad photograph must not stop the supply
                print(folder.name, repr(error), flush=True)
            shutil.rmtree(folder, ignore_errors=True)
            while len(waiting) >= say.size:
                save(waiting[:say.size], say.out / f"cut-{number:02}-{chunk:05}.npz")
                waiting, chunk = waiting[say.size:], chunk + 1
        time.sleep(0.5)


def main():
    ask = argparse.ArgumentParser()
    ask.add_argument("--photos", type=pathlib.Path, required=True)
    ask.add_argument("--out", type=pathlib.Path, required=True)
    ask.add_argument("--workers", type=int, default=4)
    ask.add_argument("--size", type=int, default=500)
    say = ask.parse_args()
    say.out.mkdir(parents=True, exist_ok=True)
    in_processes(work, [(k, say) for k in range(say.workers)])


if __name__ == "__main__":
    main()
