import numpy as np

from light_and_noise import blend, blur, smoothstep
from measures import PX_PER_MM
from shapes import contour_of, filled
from sizes import draw_size, severity

LIMITS_MM = 5, 9, 13, 18, 25
LARGEST_MM = 22


def draw(envelope):
    """A folded strip along a long edge that has opened outwards: the cleaner inside of the paper, tilted, with a crease and a shadow.
    Truth: the flap beyond the folded envelope; the outline includes it.
    """
    rng = envelope.rng
    depth_mm = draw_size(rng, LIMITS_MM, LARGEST_MM)
    edge = int(rng.choice(envelope.long_edges[:3]))
    depth_mm = min(depth_mm, envelope.edge_lengths_mm[edge] * 0.6)
    outward = -envelope.edge_frame(edge)[2]
    flap = blur(filled(envelope.grid, _corners(envelope, edge, outward, depth_mm)), 0.6)
    new = flap * (1 - envelope.mask)
    region = new > 0.5
    if region.sum() < 30 * PX_PER_MM ** 2 or (region & envelope.damaged).any():
        return False
    envelope.mask = np.maximum(envelope.mask, flap)
    envelope.outline = np.maximum(envelope.outline, flap)
    envelope.alpha = np.maximum(envelope.alpha, flap)
    outside_mm = -envelope.from_edge_mm(edge)
    opened = smoothstep(-0.1, 0.25, outside_mm) * flap
    _colour(envelope, opened, outside_mm, depth_mm)
    _tilt(envelope, flap, opened, outside_mm, outward)
    if envelope.paper == "glassine":
        envelope.opacity = np.where(region, 0.72, envelope.opacity)
    envelope.find("open_flap", severity(LIMITS_MM, depth_mm), contour_of(new, 1.5), region)
    return True


def _corners(envelope, edge, outward, depth_mm):
    rng = envelope.rng
    start, along, _ = envelope.edge_frame(edge)
    long_mm = envelope.edge_lengths_mm[edge]
    first, last = rng.uniform(0.0, 0.06), rng.uniform(0.94, 1.0)
    narrower_mm = rng.uniform(0.08, 0.6) * depth_mm, rng.uniform(0.08, 0.6) * depth_mm
    last_depth_mm = depth_mm * rng.uniform(0.82, 1)
    hinge = start + along * first * long_mm * PX_PER_MM, start + along * last * long_mm * PX_PER_MM
    rim = (start + along * (first * long_mm + narrower_mm[0]) * PX_PER_MM + outward * depth_mm * PX_PER_MM,
           start + along * (last * long_mm - narrower_mm[1]) * PX_PER_MM + outward * last_depth_mm * PX_PER_MM)
    middle = (rim[0] + rim[1]) / 2 + outward * rng.normal(0, 0.4) * PX_PER_MM
    under = outward * 1.5 * PX_PER_MM
    return [hinge[0] - under, hinge[0], rim[0], middle, rim[1], hinge[1], hinge[1] - under]


def _colour(envelope, opened, outside_mm, depth_mm):
    if envelope.paper in ("newsprint", "lined"):
        inner = envelope.albedo * 1.02
    else:
        inner = np.clip(envelope.paper_colour * 1.05 + 0.01, 0, 0.95) * (1 + 0.02 * envelope.fibre + 0.02 * envelope.clump)[..., None]
    browned = np.exp(-np.clip(depth_mm - outside_mm, 0, 9) / 1.5) * 0.12
    inner = inner * np.exp(-browned[..., None] * np.array([0.3, 0.6, 1], np.float32))
    envelope.albedo = blend(envelope.albedo, inner, opened * (1 - envelope.face))


def _tilt(envelope, flap, opened, outside_mm, outward):
    rng = envelope.rng
    slope = rng.uniform(0.18, 0.5)
    envelope.slope_x += opened * outward[0] * slope
    envelope.slope_y += opened * outward[1] * slope
    envelope.height_mm += blur(envelope.noise(160, 2) * 0.35, 3) * opened
    envelope.albedo *= (1 - 0.28 * np.exp(-(outside_mm / 0.35) ** 2) * (flap > 0.3))[..., None]
    envelope.albedo *= (1 - 0.14 * np.exp(-np.clip(-outside_mm, 0, 9) / 1.2) * (outside_mm < 0))[..., None]
    envelope.lift_mm += opened * np.clip(outside_mm, 0, 30) * slope * 1.3
