"""Photograph and its truth -> upright crops of single envelopes with label maps.

A crop is a dict:
  bgr      uint8 [H, W, 3], at PX_PER_MM, MARGIN_MM of table around the envelope's upright box
  paper    uint8 [H, W], 255 = this envelope as a finder would outline it (now and then a little wrong)
  line     uint8 [H/2, W/2], number of the line here (row of `lines` + 1), 0 = none
  lines    float32 [n, 7]: middle x, y, cos, sin of the reading direction, half length, half height (crop px), class of LINES + 1
  damage   uint32 [H/2, W/2], bit k = mark k of MARKS
"""

import json

import cv2
import numpy as np
from PIL import Image, ImageDraw

from kinds import BULGING_MM, LINES, MARGIN_MM, MARKS, PX_PER_MM, SIDE_PX

CELLS = 400   # of the longer side of what two polygons share


def homography(source, target):
    """The 3 x 3 matrix that takes four source points to four target points."""
    rows, right = [], []
    for (x, y), (u, v) in zip(source, target):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return np.append(np.linalg.solve(np.array(rows, float), np.array(right, float)), 1).reshape(3, 3)


def through(matrix, points):
    p = np.concatenate([np.asarray(points, float), np.ones((len(points), 1))], 1) @ matrix.T
    return p[:, :2] / p[:, 2:]


def filled(size, polygon, scale=1.0):
    """bool [h, w] of the polygon's inside."""
    picture = Image.new("1", size)
    points = [(float(x * scale), float(y * scale)) for x, y in polygon]
    if len(points) >= 3:
        ImageDraw.Draw(picture).polygon(points, fill=1, outline=1)
    return np.array(picture)


def line_row(quad, kind):
    """Row of `lines` for a quad whose first side runs along the top in reading direction."""
    quad = np.asarray(quad, float)
    along = (quad[1] - quad[0]) + (quad[2] - quad[3])
    down = (quad[3] - quad[0]) + (quad[2] - quad[1])
    unit = along / max(1e-6, np.hypot(*along))
    middle = quad.mean(0)
    return [*middle, *unit, np.hypot(*along) / 4, np.hypot(*down) / 4, kind]


def area(p):
    return abs(np.dot(p[:, 0], np.roll(p[:, 1], -1)) - np.dot(p[:, 1], np.roll(p[:, 0], -1))) / 2


def shared(a, b):
    """Of the union of two polygons, float [n, 2]."""
    if min(len(a), len(b)) < 3:
        return 0.0
    low, high = np.maximum(a.min(0), b.min(0)), np.minimum(a.max(0), b.max(0))
    if (low >= high).any():
        return 0.0
    scale = CELLS / (high - low).max()
    w, h = np.ceil((high - low) * scale).astype(int)
    masks = [cv2.fillPoly(np.zeros((h, w), np.uint8), [np.rint(((p - low) * scale - 0.5) * 64).astype(np.int32)], 255, cv2.LINE_8, 6) for p in (a, b)]
    common = cv2.countNonZero(masks[0] & masks[1]) / scale ** 2
    return common / max(1e-6, area(a) + area(b) - common)


def same_place(envelope, found):
    """Of what was found that which shares at least three quarters of its union with this envelope, or None."""
    outline = lambda one: np.array(one["polygon_px"], float).reshape(-1, 2)
    share, at = max(((shared(outline(envelope), outline(f)), k) for k, f in enumerate(found)), default=(0, 0))
    return found[at] if share > 0.75 else None


def crops_of(photo_path, truth_path, rng):
    """Where papillote_found has been over the photograph, most crops have the outline that the program finds."""
    truth = json.loads(truth_path.read_text(encoding="utf8"))["photographs"][0]
    found_path = photo_path.with_suffix(".found.json")
    found = json.loads(found_path.read_text(encoding="utf8"))["envelopes"] if found_path.exists() else []
    photo = Image.open(photo_path).convert("RGB")
    for envelope in truth["envelopes"]:
        if envelope["visible_fraction"] < 0.25 or len(envelope["polygon_px"]) < 3:
            continue
        crop = crop_of(photo, envelope, rng, same_place(envelope, found) if rng.random() < 0.8 else None)
        if crop:
            yield crop


def crop_of(photo, envelope, rng, found=None):
    """found: the envelope as the program found it; without it the truth is taken, a little wrong."""
    quad = np.array(envelope["crop_px"], float)
    wide_mm, high_mm = envelope["size_mm"]
    if min(wide_mm, high_mm) < 8:
        return None
    if found:
        px_per_mm = float(np.hypot(*(quad[1] - quad[0]))) / wide_mm
        quad = np.array(found["crop_px"], float)
        wide_mm, high_mm = (float(np.hypot(*(quad[k] - quad[0]))) / px_per_mm for k in (1, 3))
    else:   # the finder's box is never quite right
        quad = quad + rng.normal(0, 0.006 * max(np.ptp(quad[:, 0]), np.ptp(quad[:, 1])), quad.shape)
    scale = PX_PER_MM
    longest = max(wide_mm, high_mm) + 2 * MARGIN_MM
    if longest * scale > SIDE_PX:
        scale = SIDE_PX / longest
    w, h = int((wide_mm + 2 * MARGIN_MM) * scale) // 2 * 2, int((high_mm + 2 * MARGIN_MM) * scale) // 2 * 2
    m = MARGIN_MM * scale
    box = [(m, m), (w - m, m), (w - m, h - m), (m, h - m)]
    # Twice as fine and then averaged, so that thin strokes do not break.
    to_photo = homography([(2 * x, 2 * y) for x, y in box], quad)
    bgr = photo.transform((2 * w, 2 * h), Image.Transform.PERSPECTIVE, tuple((to_photo / to_photo[2, 2]).ravel()[:8]),
                          Image.Resampling.BILINEAR).resize((w, h), Image.Resampling.BOX)
    to_crop = homography(quad, box)
    own = filled((w, h), through(to_crop, envelope["polygon_px"]))
    if found:
        paper = filled((w, h), through(to_crop, found["polygon_px"]))
    elif rng.random() < 0.7 or envelope["visible_fraction"] < 0.97:
        paper = own.copy()
    else:
        paper = filled((w, h), through(to_crop, envelope["full_outline_px"]))
    half = (w // 2, h // 2)
    visible = own[::2, ::2][:half[1], :half[0]]

    line, rows = np.zeros(half[::-1], np.uint8), []
    for truth in sorted(envelope["lines"], key=lambda l: l["kind"] != "newsprint"):
        if truth["kind"] not in LINES or len(truth["polygon_px"]) != 4 or len(rows) > 250:
            continue
        polygon = through(to_crop, truth["polygon_px"])
        rows.append(line_row(polygon, LINES.index(truth["kind"]) + 1))
        line[filled(half, polygon, 0.5) & visible] = len(rows)

    damage = np.zeros(half[::-1], np.uint32)
    for finding in envelope["findings"]:
        if len(finding["polygon_px"]) < 3:
            continue
        polygon = through(to_crop, finding["polygon_px"])
        damage[filled(half, polygon, 0.5)] |= 1 << MARKS.index(finding["kind"])
        chance = rng.random()
        if found:
            continue
        if finding["kind"] in ("open_flap", "protruding", "missing_corner") and chance < 0.15:
            paper |= filled((w, h), polygon)
        if finding["kind"] in ("open_flap", "tear") and chance > 0.85:
            paper &= ~filled((w, h), polygon)
    if envelope["paper"] == "glassine":
        damage[visible] |= 1 << MARKS.index("glassine")
    if envelope["bulge_mm"] >= BULGING_MM:
        damage[filled(half, through(to_crop, envelope["bulge_px"]), 0.5) & visible] |= 1 << MARKS.index("bulging")
    return {"bgr": np.array(bgr)[:, :, ::-1], "paper": paper.astype(np.uint8) * 255, "line": line,
            "lines": np.array(rows, np.float32).reshape(-1, 7), "damage": damage, "px_per_mm": scale}
