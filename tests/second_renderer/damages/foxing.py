import math

import numpy as np

from light_and_noise import smoothstep
from measures import PX_PER_MM
from places import room_mm, spot
from shapes import extent_mm, hull_of, rotation
from sizes import draw_size, severity

LIMITS_MM = 9, 14, 22, 32, 42
FEWEST = 6


def draw(envelope):
    """A scatter of small rust-brown spots with soft halos, denser towards the middle. Truth: the hull around the spots."""
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, room_mm(envelope))
    middle = spot(envelope, 5)
    wanted = int(14 + radius_mm * rng.uniform(0.8, 2.2))
    depth = np.zeros(envelope.grid, np.float32)
    ragged = envelope.noise(9, 3)
    drawn = 0
    for _ in range(wanted * 2):
        at = middle + rotation(rng.uniform(0, 6.3)) @ np.array([radius_mm * rng.uniform(0, 1) ** 0.65, 0]) * PX_PER_MM
        if not envelope.holds(at) or envelope.inside_mm[int(at[1]), int(at[0])] < 0.4:
            continue
        _add_spot(envelope, depth, ragged, at)
        drawn += 1
        if drawn >= wanted:
            break
    depth = np.clip(depth, 0, 1.6) * envelope.mask
    strength = rng.uniform(0.75, 1.05)
    polygon = hull_of(depth, 0.42)
    if polygon is None or drawn < FEWEST:
        return False
    envelope.stain(depth[..., None] * np.array([0.32, 0.85, 1.7], np.float32) * strength)
    envelope.find("foxing", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _add_spot(envelope, depth, ragged, at):
    rng = envelope.rng
    radius_mm = min(2.6, 0.28 * math.exp(rng.normal(0.35, 0.6)))
    reach_px = int((radius_mm * 3 + 1.5) * PX_PER_MM)
    x, y = int(at[0]), int(at[1])
    window = np.s_[max(0, y - reach_px):y + reach_px, max(0, x - reach_px):x + reach_px]
    dy_px = (envelope.y_px[window] - at[1]) * rng.uniform(0.8, 1.25)
    away_mm = np.hypot(envelope.x_px[window] - at[0], dy_px) / PX_PER_MM + ragged[window] * radius_mm * 0.22
    core = 0.75 * smoothstep(radius_mm * 1.1, radius_mm * 0.55, away_mm)
    depth[window] += rng.uniform(0.35, 1.1) * (core + 0.45 * np.exp(-(away_mm / (radius_mm * 1.9)) ** 2))
