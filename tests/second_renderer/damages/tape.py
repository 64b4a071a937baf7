import numpy as np

from light_and_noise import blur, smoothstep
from measures import PX_PER_MM
from places import room_mm, spot
from shapes import contour_of, extent_mm, rotation
from sizes import draw_size, severity

LIMITS_MM = 5, 10, 16, 24, 40
PITCH_MM = 1.6   # of the teeth that a dispenser leaves


def draw(envelope):
    """A straight strip of old adhesive tape, yellow-brown, darker at its sides, with glossy patches and a wrinkle; its ends are toothed or
    torn. Truth: the strip on the paper.
    """
    rng = envelope.rng
    width_mm = rng.uniform(9, 18)
    half_mm = draw_size(rng, LIMITS_MM, room_mm(envelope) * 0.95)
    middle = spot(envelope, min(3, envelope.inside_mm.max() * 0.4))
    turn = rotation(rng.choice([0, 1.5708, rng.uniform(0, 3.14)]) + rng.normal(0, 0.06))
    along_mm, across_mm = envelope.towards_mm(middle, turn[:, 0]), envelope.towards_mm(middle, turn[:, 1])
    toothed = rng.random() < 0.6
    end_mm = 0.7 * np.abs(((across_mm / PITCH_MM) % 1) - 0.5) * 2 if toothed else envelope.noise(8, 3) * 0.4
    side_mm = np.abs(across_mm) - width_mm / 2 + envelope.noise(120, 2) * 0.08
    beyond_mm = np.maximum(np.abs(along_mm) + end_mm - half_mm, side_mm)
    region = (beyond_mm < 0) & envelope.face
    whole_px = 2 * half_mm * width_mm * PX_PER_MM ** 2
    if region.sum() < 0.3 * whole_px or (region & envelope.written).sum() > 0.5 * envelope.written.sum():
        return False
    strip = smoothstep(0.08, -0.08, beyond_mm) * envelope.mask
    uneven = envelope.noise(60, 4)
    strength = rng.uniform(0.2, 0.55)
    _yellow(envelope, strip, beyond_mm, uneven, strength)
    envelope.height_mm = envelope.height_mm * (1 - strip * 0.25) + blur(envelope.height_mm, 6) * strip * 0.25 + strip * 0.12
    envelope.gloss += strip * (0.012 + 0.05 * smoothstep(0.9, 2.2, envelope.noise(90, 2, 0.5, 3)))
    from_wrinkle_mm = along_mm - rng.uniform(-half_mm, half_mm) * 0.6 + uneven * 0.3
    envelope.height_mm += strip * np.exp(-(from_wrinkle_mm / 0.3) ** 2) * 0.15
    polygon = contour_of(region, 2.5)
    envelope.find("tape", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _yellow(envelope, strip, beyond_mm, uneven, strength):
    """Adhesive has crept out at the sides."""
    side = np.exp(-(beyond_mm / 0.35) ** 2) * envelope.mask * strength * 0.7 * (beyond_mm < 0.3)
    crept = np.exp(-np.clip(beyond_mm, 0, 9) / 1.0) * (beyond_mm > 0) * envelope.mask * strength * 0.25
    depth = strip * strength * (1 + 0.25 * uneven) + side + crept
    envelope.stain(np.clip(depth, 0, 3)[..., None] * np.array([0.3, 0.75, 1.9], np.float32))
