import math

import numpy as np

from light_and_noise import blur, smoothstep
from measures import PX_PER_MM
from places import beyond_blot_mm, edge_place, room_mm, spot
from shapes import contour_of, extent_mm, largest_part, widened
from sizes import draw_size, severity

LIMITS_MM = 8, 12, 18, 27, 40


def draw(envelope):
    """A pale brown pool from an edge or on the face, cockled, with a dark tide line at its rim and now and then an older one inside.
    Truth: the pool's largest part.
    """
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, room_mm(envelope))
    middle = edge_place(envelope)[0] if rng.random() < 0.6 else spot(envelope, 4)
    beyond_mm = beyond_blot_mm(envelope, middle, radius_mm * 0.9, rng.uniform(0.25, 0.45), rng.uniform(8, 16))
    beyond_mm = beyond_mm + envelope.noise(14, 3) * 0.22
    wet = smoothstep(0.15, -0.15, beyond_mm)
    strength = rng.uniform(0.45, 1.0)
    colour = np.array([rng.uniform(0.3, 0.5), 0.62, 1.0], np.float32)
    line = _tide_line(envelope, beyond_mm)
    depth = wet * rng.uniform(0.05, 0.22) * (1 + 0.3 * envelope.noise(90, 3)) + line * strength
    if rng.random() < 0.5:
        depth += _older_line(envelope, beyond_mm, radius_mm) * strength * 0.45
    region = largest_part((beyond_mm < 0.15) & envelope.face)
    if region is None or region.sum() < 0.35 * (math.pi * (8 * PX_PER_MM) ** 2):
        return False
    kept = blur(widened(region, 9).astype(np.float32), 1.5) * envelope.mask
    envelope.stain((np.clip(depth, 0, 3) * kept)[..., None] * colour)
    envelope.height_mm += wet * envelope.noise(50, 2) * 0.12
    polygon = contour_of(region, 3)
    envelope.find("water_stain", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _tide_line(envelope, beyond_mm):
    """Sharp towards the dry paper, fading towards the pool."""
    inner = np.exp(beyond_mm / envelope.rng.uniform(0.35, 0.7)) * 0.75 + np.exp(beyond_mm / 2.8) * 0.3
    line = np.where(beyond_mm < 0, inner, np.exp(-(beyond_mm / 0.16) ** 2))
    return line * np.clip(1 + 0.35 * envelope.noise(60, 3), 0.25, 1.8)


def _older_line(envelope, beyond_mm, radius_mm):
    beyond_mm = beyond_mm + radius_mm * envelope.rng.uniform(0.15, 0.35) + envelope.noise(70, 2) * 0.8
    return np.where(beyond_mm < 0, np.exp(beyond_mm / 0.6), np.exp(-(beyond_mm / 0.2) ** 2))
