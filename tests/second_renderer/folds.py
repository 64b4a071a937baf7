"""The relief of folded paper: waves, the strips folded over, rounded edges, old creases, dents."""

import math

import numpy as np

from light_and_noise import smoothstep
from measures import PX_PER_MM


def waved(envelope, height_mm):
    """The height with the waves of paper that has lain for a century."""
    rng = envelope.rng
    return (height_mm + envelope.noise(260, 3, 0.45) * rng.uniform(0.15, 0.5) + envelope.clump * 0.008 + envelope.fibre * 0.0025
            + np.abs(envelope.noise(90, 3, 0.55)) * rng.uniform(0.02, 0.12))


def fold(envelope):
    _fold_strips(envelope)
    for edge in range(len(envelope.edges)):
        rounding = 0.5 * np.exp(-np.clip(envelope.from_edge_mm(edge), 0, 99) / 0.9)
        envelope.height_mm -= rounding * envelope.rng.uniform(0.2, 0.9)
    for _ in range(envelope.rng.integers(0, 4)):
        _crease(envelope)
    for _ in range(envelope.rng.integers(2, 8)):
        _dent(envelope)


def _fold_strips(envelope):
    """Strips along long edges are two sheets thick; their border shows as a step with a bright rim and a shadow."""
    rng = envelope.rng
    if envelope.form == "triangle":
        edges = envelope.long_edges[1:3]
    else:
        edges = list(rng.permutation(envelope.long_edges)[:rng.integers(1, 3)])
    for edge in edges:
        if rng.random() < 0.25:
            continue
        from_edge_mm = envelope.from_edge_mm(edge) + envelope.noise(300, 2) * 0.12
        width_mm = rng.uniform(8, max(9, envelope.size_mm[1] * 0.5)) if envelope.form == "rectangle" else rng.uniform(6, 13)
        slant = rng.normal(0, 0.03)
        from_middle_mm = envelope.along_edge_mm(edge) - envelope.edge_lengths_mm[edge] / 2
        beyond_mm = from_edge_mm - (width_mm + slant * from_middle_mm)
        strip = smoothstep(0.12, -0.12, beyond_mm)
        envelope.height_mm += strip * rng.uniform(0.1, 0.22)
        envelope.albedo *= (1 - 0.10 * np.exp(-np.clip(beyond_mm, 0, 9) / 0.5) * (beyond_mm > 0))[..., None]
        envelope.albedo *= (1 - 0.02 * strip)[..., None]
        envelope.albedo *= (1 + np.exp(-(beyond_mm + 0.1) ** 2 / 0.02) * 0.05)[..., None]


def _crease(envelope):
    rng = envelope.rng
    angle = rng.uniform(0, 3.14)
    through = envelope.insect_middle_px + rng.normal(0, 10 * PX_PER_MM, 2)
    across_px = (envelope.x_px - through[0]) * math.sin(angle) - (envelope.y_px - through[1]) * math.cos(angle)
    across_mm = across_px / PX_PER_MM + envelope.noise(200, 2) * 0.25
    height_mm = rng.uniform(-0.22, 0.22)
    envelope.height_mm += height_mm * np.exp(-np.abs(across_mm) / rng.uniform(0.5, 1.4))
    envelope.albedo *= (1 + rng.uniform(-0.05, 0.03) * np.exp(-(across_mm / 0.18) ** 2))[..., None]


def _dent(envelope):
    rng = envelope.rng
    x, y = (envelope.corners_px[:, k].min() + rng.uniform(0, envelope.size_mm[k]) * PX_PER_MM for k in (0, 1))
    sigma_px = rng.uniform(0.8, 3) * PX_PER_MM
    depth_mm = rng.uniform(-0.18, 0.18)
    squared_px = (envelope.x_px - x) ** 2 + (envelope.y_px - y) ** 2 * rng.uniform(0.4, 2)
    envelope.height_mm += depth_mm * np.exp(-(squared_px / (2 * sigma_px ** 2)))
