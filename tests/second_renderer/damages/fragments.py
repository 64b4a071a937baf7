import numpy as np

from insects import palette
from layer import Layer
from light_and_noise import blend, blur, linear, smoothstep
from measures import PX_PER_MM
from places import edge_place
from shapes import blank, cover_of, direction, distance_mm, extent_mm, filled, hull_of, rotation, spline, stroke
from sizes import draw_size, severity

LIMITS_MM = 3, 6, 10, 15, 24
LARGEST_MM = 13
TRIES = 60


def draw(envelope):
    """Scraps of wings and legs that have fallen out and lie beside an edge on the table. Truth: the hull around them."""
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, LARGEST_MM)
    start, along, inward = edge_place(envelope, 0.1, 0.9)
    middle = start - inward * min(6.5, max(2.5, radius_mm * 0.6)) * PX_PER_MM
    wanted = int(rng.integers(2, 4) + radius_mm * 0.5)
    layer, drawn = Layer(envelope.grid), 0
    free_mm = distance_mm(envelope.outline < 0.5)
    for _ in range(TRIES):
        if drawn >= wanted:
            break
        at = middle + (along * rng.uniform(-1, 1) * radius_mm + inward * rng.uniform(-1, 1) * min(radius_mm, 6)) * PX_PER_MM
        size_mm = rng.uniform(0.7, min(4.2, 1 + radius_mm * 0.35))
        x, y = int(at[0]), int(at[1])
        if envelope.holds((x, y), 8) and size_mm + 0.4 < free_mm[y, x] < 8.5:
            _scrap(envelope, layer, at, size_mm)
            drawn += 1
    layer.cover *= envelope.outline < 0.1
    layer.light *= (envelope.outline < 0.1)[..., None]
    region = layer.cover > 0.4
    if drawn < 2 or (region & envelope.damaged).any():
        return False
    envelope.over.lay(layer.light, layer.cover)
    envelope.over_height += layer.cover * 0.5
    polygon = hull_of(layer.cover, 0.4)
    envelope.find("fragments", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon, region)
    return True


def _scrap(envelope, layer, at, size_mm):
    if envelope.rng.random() < 0.68:
        _wing_scrap(envelope, layer, at, size_mm)
    else:
        _leg_scrap(envelope.rng, layer, at, size_mm)


def _wing_scrap(envelope, layer, at, size_mm):
    rng = envelope.rng
    if envelope.scrap_palette is None:   # all come from one insect
        envelope.scrap_palette = palette(rng)
    ground, dark, _ = (linear(colour) for colour in envelope.scrap_palette)
    corners = rng.integers(5, 9)
    angle = np.sort(rng.uniform(0, 6.28, corners))
    oval = np.stack([np.cos(angle), np.sin(angle) * rng.uniform(0.45, 0.9)], 1)
    outline = oval * rng.uniform(0.6, 1.1, (corners, 1)) * size_mm * PX_PER_MM
    outline = spline(outline @ rotation(rng.uniform(0, 6)).T + at, 5) + rng.normal(0, 0.5, (corners * 5, 2))
    cover = filled(envelope.grid, outline)
    colour = blend(ground, dark, smoothstep(0.2, 0.9, envelope.noise(14, 3)))
    ink = blank(envelope.grid)
    root = at + rng.normal(0, 2 * size_mm * PX_PER_MM, 2)
    for turn in np.linspace(0, 6.28, 40):
        stroke(ink, [root, root + direction(turn) * 60 * size_mm], 255, 1)
    veins = (cover_of(ink) * 0.5)[..., None]
    layer.put((colour * (1 - veins) + dark * veins * 0.7) * (1 + 0.1 * envelope.fibre[..., None]), cover)


def _leg_scrap(rng, layer, at, size_mm):
    angle = rng.uniform(0, 6.3)
    joints = [at]
    for share in (1.0, 0.9, 0.7):
        joints.append(joints[-1] + direction(angle) * share * size_mm * 0.8 * PX_PER_MM)
        angle += rng.normal(0, 0.8)
    ink = blank(layer.cover.shape)
    stroke(ink, joints[:2], 255, 4)
    stroke(ink, joints[1:], 255, 3)
    layer.put(linear((50, 36, 26)), blur(cover_of(ink), 0.6))
