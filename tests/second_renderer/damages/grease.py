import numpy as np

from light_and_noise import blur, smoothstep
from measures import PX_PER_MM
from places import beyond_blot_mm, room_mm
from shapes import contour_of, extent_mm
from sizes import draw_size, severity

LIMITS_MM = 5, 8, 12, 18, 26


def draw(envelope):
    """A soft, slightly shiny yellow-brown patch around the insect, whose shape shows through it, without a tide line. Truth: the patch."""
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, room_mm(envelope) * 0.8)
    middle = envelope.insect_middle_px + rng.normal(0, 3 * PX_PER_MM, 2)
    beyond_mm = beyond_blot_mm(envelope, middle, radius_mm * 0.95, rng.uniform(0.15, 0.3), 9) + envelope.noise(10, 3) * 0.12
    softness_mm = rng.uniform(0.7, 2.2)
    patch = smoothstep(softness_mm, -softness_mm, beyond_mm) * envelope.mask
    depth = patch * rng.uniform(0.22, 0.5) * (1 + 0.12 * envelope.clump + 0.1 * envelope.noise(70, 3))
    depth = depth + rng.uniform(0, 0.07) * np.exp(-(beyond_mm / 1.1) ** 2) * envelope.mask
    depth = depth + blur(envelope.insect_cover, 3) * patch * rng.uniform(0.12, 0.4)
    polygon = contour_of((beyond_mm < 0) & envelope.face, 3)
    if polygon is None:
        return False
    envelope.stain(depth[..., None] * np.array([0.75, 0.9, 1.45], np.float32))
    envelope.gloss += patch * 0.03
    envelope.find("grease", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True
