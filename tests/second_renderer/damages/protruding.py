import math

import cv2
import numpy as np

from insects import draw_wing, palette
from layer import Layer
from light_and_noise import blur, linear
from measures import PX_PER_MM
from places import edge_place
from shapes import blank, contour_of, cover_of, distance_mm, dot, hull_of, left_of, rotation, spline, stroke, unit, widened
from sizes import draw_size, severity

LIMITS_MM = 2.2, 4, 7, 12, 18
LARGEST_MM = 15


def draw(envelope):
    """The tip of a wing, antennae or legs that stick out from under an edge. Truth: what lies outside the paper."""
    rng = envelope.rng
    length_mm = draw_size(rng, LIMITS_MM, LARGEST_MM)
    start, _, inward = edge_place(envelope, 0.15, 0.85)
    outward = rotation(rng.normal(0, 0.3)) @ -inward
    layer = Layer(envelope.grid)
    colours = palette(rng)
    part = rng.random()
    if part < 0.5:
        _wing_tip(envelope, layer, start, outward, length_mm, colours)
    else:
        _thin_parts(rng, layer, start, outward, length_mm, antennae=part < 0.75)
    region = (layer.cover > 0.3) & (envelope.outline < 0.5)
    near = _near(widened(region, 7), start)
    region &= near
    if region.sum() < 40 or (region & envelope.damaged).any():
        return False
    hull = hull_of(region, 0.5)
    reach_mm = distance_mm(envelope.outline < 0.5)[region].max()
    if hull is None or reach_mm < 2 or reach_mm > 16:
        return False
    _lay_under(envelope, layer, near)
    polygon = contour_of(region, 1.2) if part < 0.5 else hull
    envelope.find("protruding", severity(LIMITS_MM, reach_mm), polygon, region)
    return True


def _wing_tip(envelope, layer, start, outward, length_mm, colours):
    rng = envelope.rng
    is_dragonfly = envelope.insect_kind == "dragonfly" or rng.random() < 0.1
    wing_mm = max(length_mm * 1.5, 20)
    angle = math.atan2(outward[1], outward[0])
    flip = rng.choice([1, -1])
    tip = np.array([1.0, 0.03 * flip if is_dragonfly else 0.36 * flip])
    root = start + outward * length_mm * PX_PER_MM - rotation(angle) @ (tip * wing_mm * PX_PER_MM)
    draw_wing(rng, layer, "dragonfly" if is_dragonfly else "fore", root, wing_mm, angle, colours, flip)


def _thin_parts(rng, layer, start, outward, length_mm, antennae):
    """Two antennae, or two or three legs."""
    ink = blank(layer.cover.shape)
    for k in range(2 if antennae else rng.integers(2, 4)):
        own_mm = length_mm * (rng.uniform(0.85, 1) if k else 1)
        aside_mm = (k - 0.5) * rng.uniform(0.4, 1.6)
        (_antenna if antennae else _leg)(rng, ink, start, outward, own_mm, aside_mm)
    layer.put(linear((44, 32, 24)) * rng.uniform(0.7, 1.6), blur(cover_of(ink), 0.6))


def _placed(start, outward, out_mm, aside_mm):
    return start + outward * out_mm * PX_PER_MM + left_of(outward) * aside_mm * PX_PER_MM


def _antenna(rng, ink, start, outward, long_mm, aside_mm):
    curve = spline([
        _placed(start, outward, -2, aside_mm),
        _placed(start, outward, long_mm * 0.5, aside_mm * 2.2 + rng.normal(0, 0.5)),
        _placed(start, outward, long_mm, aside_mm * rng.uniform(2, 4.5))], 10, False)
    stroke(ink, curve, 255, 2.6)
    for point in curve[-4:]:   # the club
        dot(ink, point, int(rng.uniform(3.4, 5)))


def _leg(rng, ink, start, outward, long_mm, aside_mm):
    hip = _placed(start, outward, -2, aside_mm)
    knee = _placed(start, outward, long_mm * rng.uniform(0.4, 0.65), aside_mm * 4 + rng.normal(0, 0.22 * long_mm))
    foot = _placed(start, outward, long_mm, aside_mm * 4 + rng.normal(0, 0.35 * long_mm))
    stroke(ink, [hip, knee], 255, rng.choice([3, 4, 4, 5]))
    stroke(ink, [knee, foot], 255, 3)
    for point in np.linspace(knee, foot, 7)[1:]:   # spines
        stroke(ink, [point, point + rotation(rng.choice([0.9, -0.9])) @ unit(foot - knee) * 0.7 * PX_PER_MM], 200, 1)


def _near(region, start):
    """Only the parts that begin near the place: the root of a wing may stick out elsewhere."""
    count, labels = cv2.connectedComponents(region.astype(np.uint8))
    near = np.zeros(region.shape, bool)
    for label in range(1, count):
        part = labels == label
        ys, xs = np.nonzero(part)
        if np.hypot(xs - start[0], ys - start[1]).min() < 4 * PX_PER_MM:
            near |= part
    return near


def _lay_under(envelope, layer, near):
    cover = layer.cover * ((envelope.outline > 0.5) | widened(near, 13))
    share = (cover / np.maximum(layer.cover, 0.01))[..., None]
    envelope.under.lay(layer.light * share, cover)
