"""Photograph and its truth -> upright crops of single envelopes with label maps.

A crop is a dict:
  bgr      uint8 [H, W, 3], at PX_PER_MM, MARGIN_MM of table around the envelope's upright box
  paper    uint8 [H, W], 255 = this envelope as a finder would outline it (now and then a little wrong)
  line     uint8 [H/2, W/2], number of the line here (row of `lines` + 1), 0 = none
  lines    float32 [n, 7]: middle x, y, cos, sin of the reading direction, half length, half height (crop px), class of LINES + 1
  damage   uint32 [H/2, W/2], bit k = mark k of MARKS
"""

import json

import numpy as np
from PIL import Image, ImageDraw

from kinds import BULGING_MM, LINES, MARGIN_MM, MARKS, PX_PER_MM, SIDE_PX


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


def same_place(polygon, others, size):
    """Which of the other polygons shares at least three quarters of its union with this one, or None."""
    scale = 400 / max(size)
    room = (int(size[0] * scale) + 1, int(size[1] * scale) + 1)
    mine = filled(room, polygon, scale)
    best, at = 0.75, None
    for k, other in enumerate(others):
        if np.abs(np.mean(other, 0) - np.mean(polygon, 0)).max() < max(np.ptp(np.asarray(polygon), 0)):
            its = filled(room, other, scale)
            share = (mine & its).sum() / max(1, (mine | its).sum())
            if share > best:
                best, at = share, k
    return at


def crops_of(photo_path, truth_path, rng):
    """Where papillote_found has been over the photograph, most crops have the outline that the program finds."""
    truth = json.loads(truth_path.read_text(encoding="utf8"))["photographs"][0]
    found_path = photo_path.with_suffix(".found.json")
    found = json.loads(found_path.read_text(encoding="utf8"))["envelopes"] if found_path.exists() else []
    photo = Image.open(photo_path).convert("RGB")
    for envelope in truth["envelopes"]:
        if envelope["visible_fraction"] < 0.25 or len(envelope["polygon_px"]) < 3:
            continue
        at = same_place(envelope["polygon_px"], [f["polygon_px"] for f in found], photo.size) if found and rng.random() < 0.8 else None
        crop = crop_of(photo, envelope, rng, found[at] if at is not None else None)
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
    paper = filled((w, h), through(to_crop, found["polygon_px"])) if found else own.copy() if rng.random() < 0.7 or envelope["visible_fraction"] < 0.97 else filled((w, h), through(to_crop, envelope["full_outline_px"]))
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
