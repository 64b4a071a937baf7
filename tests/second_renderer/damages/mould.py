import math

import numpy as np

from light_and_noise import blur, linear, smoothstep
from measures import PX_PER_MM
from places import room_mm, spot
from shapes import extent_mm, hull_of, rotation
from sizes import draw_size, severity

LIMITS_MM = 4, 7, 11, 17, 26
COLOURS = [((46, 50, 40), 1), ((70, 86, 62), 1), ((34, 34, 36), 1), ((92, 104, 84), 0.8)]   # and how much haze


def draw(envelope):
    """Round colonies of fine dark specks in a pale haze, denser in their middle or in a ring. Truth: the hull around what is dense."""
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, room_mm(envelope) * 0.8)
    middle = spot(envelope, 3)
    colonies = int(4 + radius_mm * rng.uniform(0.7, 1.6))
    fine, coarse = envelope.noise(5, 3, 0.7), envelope.noise(22, 3)
    density = np.zeros(envelope.grid, np.float32)
    for k in range(colonies):
        density = np.maximum(density, _colony(envelope, middle, radius_mm, coarse, small=k > colonies / 2))
    density *= envelope.mask
    dense = density > 0.4
    if (density > 0.3).sum() < 200 or (dense & envelope.written).sum() > 0.4 * dense.sum():
        return False
    specks = smoothstep(0.25, 1.0, density * 1.5 + fine * 0.42 - 0.15 * coarse - 0.25) * (density > 0.06)
    colour, haze_strength = COLOURS[rng.integers(len(COLOURS))]
    strength = rng.uniform(0.6, 0.88)
    polygon = hull_of(np.maximum(blur(specks, 1.5) * 1.2, density * (density > 0.55)), 0.5)
    if polygon is None or extent_mm(polygon) / 2 < 3:
        return False
    haze = (density * 0.35 * haze_strength)[..., None]
    envelope.albedo = envelope.albedo * (1 - haze * 0.6) + linear((120, 118, 96)) * haze * 0.45
    share = (specks * strength)[..., None]
    envelope.albedo = envelope.albedo * (1 - share) + linear(colour) * share * (1 + 0.2 * fine[..., None]).clip(0.4, 1.6)
    envelope.height_mm += specks * 0.05
    envelope.find("mould", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _colony(envelope, middle, radius_mm, coarse, small):
    rng = envelope.rng
    at = middle + rotation(rng.uniform(0, 6.3)) @ np.array([radius_mm * math.sqrt(rng.uniform(0, 1)) * 0.92, 0]) * PX_PER_MM
    own_mm = rng.uniform(0.5, 1.1 + radius_mm * 0.16) * (0.6 if small else 1)
    away_mm = np.hypot(envelope.x_px - at[0], envelope.y_px - at[1]) / PX_PER_MM + coarse * own_mm * 0.18
    core = np.exp(-(away_mm / own_mm) ** 2) * rng.uniform(0.6, 1)
    return core + 0.45 * np.exp(-((away_mm - own_mm * 0.9) / (own_mm * 0.2)) ** 2) * (rng.random() < 0.4)
