import numpy as np

import lost_paper
from light_and_noise import smoothstep
from measures import PX_PER_MM
from places import is_free
from shapes import contour_of, distance_mm, largest_part, left_of, rotation, unit
from sizes import draw_size, severity

LIMITS_MM = 4, 7, 10, 15, 22
LARGEST_MM = 20


def draw(envelope):
    """A corner torn off along an uneven, slightly bent line; the table shows, and the outline ends at the tear.
    Truth: the paper that was there.
    """
    rng = envelope.rng
    depth_mm = draw_size(rng, LIMITS_MM, LARGEST_MM)
    corner = envelope.corners_px[rng.integers(len(envelope.corners_px))]
    inward = rotation(rng.normal(0, 0.25)) @ unit(envelope.corners_px.mean(0) - corner)
    ragged_mm = envelope.noise(6 * PX_PER_MM, 4, 0.55) * 0.9 + envelope.noise(6, 2) * 0.1
    inward_mm = envelope.towards_mm(corner, inward) + ragged_mm * min(1, depth_mm / 8)
    across_mm = envelope.towards_mm(corner, left_of(inward))
    bent_mm = 0.012 * rng.choice([-1, 1]) * across_mm * across_mm
    lost = smoothstep(0.08, -0.08, inward_mm - depth_mm - bent_mm)
    region = (lost > 0.5) & envelope.face
    size = region.sum()
    if size < 6 * PX_PER_MM ** 2 or size > 0.3 * envelope.face.sum() or not is_free(envelope, region):
        return False
    piece = largest_part(region)
    if piece is None or piece.sum() < 0.9 * size:
        return False
    lost_paper.take(envelope, lost * envelope.mask, to_table=True)
    envelope.alpha = envelope.alpha * (1 - lost)
    envelope.outline = envelope.outline * (1 - lost)
    envelope.mask = envelope.mask * (1 - lost)
    envelope.face = envelope.face & ~region
    envelope.inside_mm = distance_mm(envelope.face)
    ys, xs = np.nonzero(piece)
    reach_mm = np.ptp(((xs - corner[0]) * inward[0] + (ys - corner[1]) * inward[1]) / PX_PER_MM)
    envelope.find("missing_corner", severity(LIMITS_MM, reach_mm), contour_of(piece, 1.5), region)
    return True
