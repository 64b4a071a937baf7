import math

import cv2
import numpy as np

from light_and_noise import blur, linear
from measures import PX_PER_MM
from places import edge_place
from shapes import blank, cover_of, extent_mm, hull_of, rotation
from sizes import draw_size, severity

LIMITS_MM = 2.5, 4, 6.5, 10, 15
LARGEST_MM = 13
COLOURS = [(70, 50, 34), (96, 72, 48), (44, 34, 28), (120, 98, 70)]


def draw(envelope):
    """A heap of pellets and dust that insects left, at or near an edge, partly on the table.
    Truth: the hull around pellets and dense dust.
    """
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, LARGEST_MM)
    start, _, inward = edge_place(envelope, 0.12, 0.88)
    middle = start + inward * rng.uniform(-0.55, 0.8) * radius_mm * PX_PER_MM * 0.7
    count = int(25 + radius_mm * radius_mm * rng.uniform(1.2, 3.5))
    rng.random()   # a draw without use: without it the pictures of a seed would change
    colour = COLOURS[rng.integers(4)]
    ink, light, height = blank(envelope.grid), np.zeros(envelope.grid + (3,), np.float32), np.zeros(envelope.grid, np.float32)
    for at in _heap(rng, middle, radius_mm, count):
        if envelope.holds(at, 3):
            _pellet(rng, at, colour, ink, light, height)
    cover = cover_of(ink)
    region = cover > 0.5
    density = blur(cover, 1.0 * PX_PER_MM)
    grain = envelope.noise(2, 2, 0.8) * 0.22 * np.sqrt(np.clip(density, 0, 1))
    size = region.sum()
    if size < 80 or (region & envelope.written).sum() > 0.2 * size or (region & envelope.damaged).sum() > 0.1 * size:
        return False
    dust = np.clip(density * 1.5 + grain - 0.12, 0, 1) * 0.6
    soft = blur(cover, 0.5)
    envelope.over.put(linear(colour) * 1.2, dust)
    envelope.over.put(light, soft)
    envelope.over_height += blur(height, 1.0) * soft
    polygon = hull_of(np.maximum(cover, dust * (dust > 0.25) * 2), 0.5)
    envelope.find("frass", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon, region)
    return True


def _heap(rng, middle, radius_mm, count):
    turn, oval = rotation(rng.uniform(0, 3)), rng.uniform(0.55, 0.9)
    angles, reaches = rng.uniform(0, 6.3, count), np.abs(rng.normal(0, 0.45, count))
    return [middle + (turn @ (np.array([math.cos(angle), math.sin(angle) * oval]) * radius_mm * min(1, reach))) * PX_PER_MM
            for angle, reach in zip(angles, reaches)]


def _pellet(rng, at, colour, ink, light, height):
    long_px = rng.uniform(0.22, 0.62) * PX_PER_MM
    wide_px = long_px * rng.uniform(0.5, 0.9)
    turned_deg = rng.uniform(0, 180)
    own = linear(np.clip(np.array(colour) * rng.uniform(0.6, 1.35) + rng.normal(0, 5, 3), 5, 200))

    def ellipse(plane, scale, more_px, value, kind=cv2.LINE_8):
        axes = tuple(max(1, int(round(axis * scale))) + more_px for axis in (long_px, wide_px))
        cv2.ellipse(plane, (int(at[0]), int(at[1])), axes, turned_deg, 0, 360, value, -1, kind)

    ellipse(ink, 1.0, 0, 255, cv2.LINE_AA)
    ellipse(light, 1.0, 1, tuple(float(v) for v in own))
    ellipse(height, 0.7, 0, float(rng.uniform(0.2, 0.6)))
