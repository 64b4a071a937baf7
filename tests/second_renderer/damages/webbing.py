import math

import cv2
import numpy as np

from light_and_noise import blur, linear
from measures import PX_PER_MM
from places import edge_place, room_mm, spot
from shapes import blank, cover_of, direction, extent_mm, hull_of, left_of, length, rotation, spline, stroke, window_of
from sizes import draw_size, severity

LIMITS_MM = 5, 8, 13, 19, 28
LARGEST_MM = 24
HUBS, SEGMENTS = 5, 8


def draw(envelope):
    """A felt of fine pale threads across an edge or the face, with one to three cast skins of larvae. Truth: the hull around all of it."""
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, min(room_mm(envelope), LARGEST_MM))
    middle = edge_place(envelope)[0] if rng.random() < 0.6 else spot(envelope, 2)
    threads = np.clip(_threads(rng, envelope.grid, middle, radius_mm), 0, 1.3)
    haze = blur(threads, 0.9 * PX_PER_MM)
    cover = np.clip(threads * 0.72 + haze * 0.7 * (1 + 0.3 * envelope.fibre + 0.4 * envelope.clump), 0, 0.85)
    region = threads > 0.2
    hides = ((cover > 0.45) & envelope.written).sum() > 0.3 * envelope.written.sum()
    if (region & envelope.face).sum() < 0.3 * region.sum() or hides:
        return False
    colour = linear(np.array((212, 207, 194)) * rng.uniform(0.82, 1.04))
    envelope.over.put(colour * (1 + 0.03 * envelope.fibre[..., None]), cover)
    envelope.over_height += threads * 0.25
    drawn = threads
    for _ in range(rng.integers(1, 4)):
        drawn = np.maximum(drawn, _cast_skin(envelope, middle, radius_mm))
    polygon = hull_of(drawn, 0.3)
    envelope.find("webbing", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _threads(rng, grid, middle, radius_mm):
    """Sum of their covers: slack threads between anywhere and a few hubs."""
    count = int(30 + radius_mm * rng.uniform(5, 13))
    turn, oval = rotation(rng.uniform(0, 3)), rng.uniform(0.55, 0.95)

    def anywhere():
        angle = rng.uniform(0, 6.3)
        ring = np.array([math.cos(angle), math.sin(angle) * oval])
        return middle + turn @ (ring * radius_mm * math.sqrt(rng.uniform(0.02, 1))) * PX_PER_MM

    def within(point):
        return middle + (point - middle) * min(1, radius_mm * PX_PER_MM / max(1, length(point - middle)))

    threads = np.zeros(grid, np.float32)
    hubs = [anywhere() for _ in range(HUBS)]
    for _ in range(count):
        start = anywhere() if rng.random() < 0.5 else hubs[rng.integers(HUBS)] + rng.normal(0, PX_PER_MM, 2)
        end = anywhere()
        slack = (start + end) / 2 + rng.normal(0, 0.24, 2) * length(end - start)
        curve = spline([start, within(slack), end], 10, False)
        x0, y0, x1, y1 = window_of(curve, grid, 3, 4)
        if x1 - x0 < 3 or y1 - y0 < 3:
            continue
        ink = blank((y1 - y0, x1 - x0))
        stroke(ink, curve - [x0, y0], 255, 1 if rng.random() < 0.9 else 2)
        threads[y0:y1, x0:x1] += cover_of(ink) * rng.uniform(0.1, 0.55)
    return threads


def _cast_skin(envelope, middle, radius_mm):
    """A row of brown rings with bristles, laid on the paper. Its cover, nothing where it would leave the grid."""
    rng = envelope.rng
    at = middle + rng.normal(0, radius_mm * 0.35, 2) * PX_PER_MM
    angle, long_mm = rng.uniform(0, 6.3), rng.uniform(2.5, 6)
    way = direction(angle)
    rings, bristles = blank(envelope.grid), blank(envelope.grid)
    for k in range(SEGMENTS):
        bend_px = math.sin(k * 0.5) * 0.2 * long_mm * PX_PER_MM * 0.3
        ring = at + way * (k - SEGMENTS / 2) * long_mm / SEGMENTS * PX_PER_MM + left_of(way) * bend_px
        radius = long_mm * 0.15 * (1 - 0.5 * abs(k / SEGMENTS - 0.4))
        axes = (max(2, int(long_mm / SEGMENTS * PX_PER_MM * 0.55)), max(2, int(radius * PX_PER_MM)))
        cv2.ellipse(rings, (int(ring[0]), int(ring[1])), axes, math.degrees(angle), 0, 360, 255 if k % 2 else 190, -1, cv2.LINE_AA)
        for side in (1, -1):
            bristle = rotation(side * rng.uniform(0.8, 1.6)) @ way * radius * 2 * PX_PER_MM
            stroke(bristles, [ring, ring + bristle], 130, 1)
    if not envelope.holds(at, 4):
        return np.zeros(envelope.grid, np.float32)
    rings, bristles = cover_of(rings), cover_of(bristles)
    envelope.over.put(linear((110, 76, 42)), bristles)
    envelope.over.put(linear((176, 128, 70)) * (0.55 + 0.45 * rings[..., None]), np.clip(blur(rings, 0.6) * 1.1, 0, 0.9))
    envelope.over_height += blur(rings, 2) * 0.5
    return np.maximum(rings, bristles)
