"""The outline of a folded envelope: its form in millimetres, then the uneven edge of real paper."""

import numpy as np

from light_and_noise import blur
from measures import PX_PER_MM
from shapes import filled

FORMS, FORM_SHARES = ["triangle", "rectangle", "trapezoid"], [0.5, 0.32, 0.18]


def draw_corners_mm(rng, form):
    """Corners in order around the form; the smallest x and y are 0."""
    draw = {"triangle": _triangle, "rectangle": _rectangle, "trapezoid": _trapezoid}[form]
    corners = np.array(draw(rng, rng.uniform(48, 104)), float)
    return corners - corners.min(0)


def _triangle(rng, long):
    """With the blunted corners that two folded strips leave: tip up, tip down, or folded over the short sides."""
    variant = rng.integers(0, 4)
    high = long * rng.uniform(0.46, 0.54)
    blunt = rng.uniform(2.5, 6)
    tip = rng.uniform(0.46, 0.54)
    if variant <= 1:
        return [(0, high), (blunt * 0.8, high - blunt), (long * tip - 1, 0), (long * tip + 1.2, 0.3),
                (long - blunt * 0.7, high - blunt), (long, high - 0.4), (long - 1, high)]
    if variant == 2:
        return [(0, 0), (long, 0), (long - blunt * 0.6, blunt), (long * tip + 1.5, high), (long * tip - 1, high), (blunt * 0.7, blunt)]
    long = min(long, 88)
    high = long * rng.uniform(0.72, 0.98) * 0.9
    corners = [(0, 0), (blunt, 0.6), (long - 0.5, high - blunt), (long, high), (0, high)]
    return [(long - x, y) for x, y in corners][::-1] if rng.random() < 0.5 else corners


def _rectangle(rng, long):
    high = long * rng.uniform(0.42, 0.75)
    return [(0, rng.uniform(-0.8, 0.8)), (long, 0), (long + rng.uniform(-0.8, 0.8), high),
            (rng.uniform(-0.6, 0.6), high + rng.uniform(-0.8, 0.8))]


def _trapezoid(rng, long):
    high = long * rng.uniform(0.4, 0.6)
    left, right = rng.uniform(6, 20, 2) * long / 100 + 2
    corners = [(left, 0), (long - right, rng.uniform(-0.5, 0.5)), (long, high), (0, high + rng.uniform(-0.5, 0.5))]
    return [(x, high - y) for x, y in corners][::-1] if rng.random() < 0.4 else corners


def draw_paper(rng, grid, corners_px):
    """Cover of the paper, its edges a little bowed and rough."""
    pieces = []
    for start, end in zip(corners_px, np.roll(corners_px, -1, 0)):
        long_px = np.hypot(*(end - start))
        steps = max(2, int(long_px / 6))
        t = np.linspace(0, 1, steps, endpoint=False)[:, None]
        normal = np.array([end[1] - start[1], start[0] - end[0]]) / max(long_px, 1e-6)
        wander = np.convolve(np.pad(rng.normal(0, 1, steps), 4, "edge"), np.ones(9) / 9, "valid")[:steps] * 0.5
        rough_px = wander + rng.normal(0, 0.12, steps)
        bow_px = np.sin(np.pi * t[:, 0]) * rng.normal(0, 0.25) * PX_PER_MM * min(1, long_px / 400)
        calm_at_corners = np.minimum(1, np.minimum(t[:, 0], 1 - t[:, 0]) * 6)
        pieces.append(start + (end - start) * t + normal * (rough_px * calm_at_corners + bow_px)[:, None])
    return blur(filled(grid, np.concatenate(pieces)), 0.6)
