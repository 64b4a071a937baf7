"""Photographs of the project's own generator, scaled down: NAME.webp with NAME.json ({"envelopes": [{"p": visible, "f": full, "v": share}]}).

scale_down writes them from the generator's output:  photos.py GENERATED_DIR OUT_DIR
"""

import json
import pathlib
import sys

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from scene import HEIGHT, LEFT_OUT, MOST, WIDTH, centroid


def read(path):
    """As scene.render gives it."""
    with Image.open(path) as file:
        image = file.convert("RGB")
    told = json.loads(path.with_suffix(".json").read_text(encoding="utf8"))["envelopes"][:MOST]
    upright = image.height > image.width
    w, h = image.size
    turn = (lambda p: [(y, w - x) for x, y in p]) if upright else (lambda p: [(x, y) for x, y in p])
    if upright:
        image = image.rotate(90, expand=True)
        w, h = h, w
    ids, covered = Image.new("L", (WIDTH, HEIGHT), LEFT_OUT), np.zeros((HEIGHT, WIDTH), np.uint8)
    draw = ImageDraw.Draw(ids)
    draw.rectangle([0, 0, w - 1, h - 1], fill=0)
    centres = np.zeros((256, 2), np.float32)
    for i, e in enumerate(told):  # in the order in which they lie, so pieces that "p" leaves out are there too
        draw.polygon(turn(e["f"]), fill=i + 1 if e["v"] > 0.04 else LEFT_OUT)
    draw.rectangle([0, h, WIDTH, HEIGHT], fill=LEFT_OUT)
    ids = np.array(ids)
    for i, e in enumerate(told):
        centres[i + 1] = centroid(np.asarray(turn(e["f"])))
        if e["v"] < 0.995:
            full = Image.new("1", (WIDTH, HEIGHT))
            ImageDraw.Draw(full).polygon(turn(e["f"]), fill=1)
            hidden = np.asarray(full) & (ids != i + 1) & (ids != LEFT_OUT)
            near = np.asarray(Image.fromarray(hidden.astype(np.uint8) * 255).filter(ImageFilter.MaxFilter(9))) > 0
            covered |= (near & (ids == i + 1)).astype(np.uint8)
    picture = np.asarray(image)[:HEIGHT, :WIDTH]
    picture = np.pad(picture, ((0, HEIGHT - picture.shape[0]), (0, WIDTH - picture.shape[1]), (0, 0)), mode="edge")
    return picture, ids[1::2, 1::2].copy(), covered[1::2, 1::2].copy(), centres


def scale_down(source, target):
    target.mkdir(parents=True, exist_ok=True)
    for path in sorted(source.glob("*.jpg")):
        told = json.loads(path.with_suffix(".expected.json").read_text(encoding="utf8"))["photographs"][0]
        image = Image.open(path).convert("RGB")
        s = WIDTH / max(image.size)
        image.resize([round(v * s) for v in image.size], Image.BOX if s < 0.4 else Image.LANCZOS).save(target / f"{path.stem}.webp", quality=74)
        small = lambda p: [[round(x * s, 2), round(y * s, 2)] for x, y in p]
        rows = [{"p": small(e["polygon_px"]), "f": small(e["full_outline_px"]), "v": e["visible_fraction"]} for e in told["envelopes"]]
        (target / f"{path.stem}.json").write_text(json.dumps({"envelopes": rows}, separators=(",", ":")), encoding="utf8")


if __name__ == "__main__":
    scale_down(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
