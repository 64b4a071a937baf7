import math

import numpy as np

from light_and_noise import blend, blur, linear, smoothstep
from measures import PX_PER_MM
from places import edge_place, spot
from shapes import blank, cover_of, direction, dot, extent_mm, hull_of, hull_of_points, left_of, rotation, spline, stroke
from sizes import draw_size, severity

LIMITS_MM = 3, 6, 10, 15, 22
LARGEST_MM = 15


def draw(envelope):
    """The print of a paper clip at an edge or of a pin, dark and grainy with an orange halo; half of them still lie there.
    Truth: the hull around the print and what of the metal lies on the paper.
    """
    rng = envelope.rng
    length_mm = 2 * draw_size(rng, LIMITS_MM, LARGEST_MM)
    is_clip = rng.random() < 0.5
    start, _, inward = edge_place(envelope, 0.2, 0.8)
    inward = rotation(rng.normal(0, 0.15)) @ inward
    wire = _clip(start, inward, length_mm) if is_clip else _pin(envelope, start, inward, length_mm)
    print_mm = rng.uniform(0.8, 1.3) if is_clip else rng.uniform(0.6, 1.0)
    printed = _drawn(envelope, wire, print_mm, 0 if is_clip else 1.0) * envelope.mask
    grain = envelope.noise(10, 4, 0.65)
    core = np.clip(blur(printed, 0.35 * PX_PER_MM) * 1.2 + grain * 0.22 * blur(printed, 0.8 * PX_PER_MM) - 0.08, 0, 1)
    halo = blur(printed, 1.1 * PX_PER_MM) * 0.8 + blur(printed, 2.6 * PX_PER_MM) * 0.6
    depth = np.clip(core * 0.85 + halo * 0.45 * (1 + 0.25 * grain), 0, 1.25) * envelope.mask
    strength = rng.uniform(0.75, 1.0)
    polygon = hull_of(depth, 0.28)
    if polygon is None:
        return False
    envelope.stain(depth[..., None] * np.array([0.42, 1.15, 2.3], np.float32) * strength)
    if rng.random() < 0.5:
        metal = blur(_drawn(envelope, wire, 0.9 if is_clip else 0.55, 0 if is_clip else 0.75), 0.7)
        envelope.over.put(blend(linear((92, 84, 78)), linear((112, 58, 26)), 0.6 * smoothstep(0, 1, grain)), metal)
        envelope.over_height += blur(metal, 2) * 0.5
        on_paper = hull_of(metal * (envelope.outline > 0.5), 0.4)
        polygon = polygon if on_paper is None else hull_of_points(np.concatenate([polygon, on_paper]))
    envelope.find("rust", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _clip(start, inward, length_mm):
    """Its wire, from the edge inwards."""
    wide_mm = min(8, max(3, length_mm * 0.24))
    bends = np.array([
        (0.35, -0.5), (0.0, -0.5), (0.0, -0.2), (0.0, 0.2), (0.0, 0.5), (0.85, 0.5), (1, 0.25), (1, -0.1), (0.9, -0.28), (0.15, -0.28),
        (0.0, 0.0), (0.0, 0.1), (0.12, 0.25), (0.7, 0.25)]) * [length_mm, wide_mm]
    bends[2:4, 0] = -1.2   # sticks out of the edge
    bends[10:12, 0] = 0.5
    curve = spline(bends, 8, False)
    return start + (curve[:, :1] * inward + curve[:, 1:] * left_of(inward)) * PX_PER_MM


def _pin(envelope, start, inward, length_mm):
    rng = envelope.rng
    head = spot(envelope, min(2.5, envelope.inside_mm.max() * 0.5)) if rng.random() < 0.5 else start - inward * 1.0 * PX_PER_MM
    angle = rng.uniform(0, 6.3) if rng.random() < 0.5 else math.atan2(inward[1], inward[0])
    way = direction(angle) * length_mm * PX_PER_MM
    return np.array([head, head + way * 0.5 + rng.normal(0, 2, 2), head + way])


def _drawn(envelope, wire, thick_mm, head_mm):
    ink = blank(envelope.grid)
    stroke(ink, wire, 255, thick_mm * PX_PER_MM)
    if head_mm:
        dot(ink, wire[0], int(head_mm * PX_PER_MM))
    return cover_of(ink)
