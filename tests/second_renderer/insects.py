"""Insects with folded wings, seen from the side, as they lie in envelopes. Lengths within a template are shares of the wing's length,
within an insect shares of the insect's.
"""

import numpy as np

from layer import Layer
from light_and_noise import blend, blur, linear, noise, smoothstep
from measures import PX_PER_MM
from shapes import blank, cover_of, distance_mm, dot, filled, rotation, spline, stroke, window_of

# Ground, dark of borders and veins, spots.
PALETTES = [
    ((196, 110, 40), (50, 32, 24), (235, 200, 140)), ((232, 222, 190), (70, 64, 58), (180, 60, 40)),
    ((110, 84, 60), (60, 42, 30), (220, 190, 110)), ((70, 100, 150), (28, 30, 40), (210, 220, 230)),
    ((214, 190, 90), (48, 42, 34), (180, 80, 60)), ((120, 120, 110), (70, 66, 60), (200, 190, 170)),
    ((60, 44, 36), (30, 22, 20), (200, 120, 50)), ((150, 130, 96), (90, 70, 50), (50, 40, 36)),
    ((90, 120, 80), (40, 50, 40), (220, 220, 180))]
WINGS = {
    "fore": [(0, 0), (0.25, 0.16), (0.6, 0.33), (0.92, 0.42), (1, 0.36), (0.97, 0.2), (0.86, -0.02), (0.74, -0.14), (0.4, -0.12)],
    "hind": [(0, 0), (0.3, -0.02), (0.62, -0.12), (0.72, -0.3), (0.66, -0.5), (0.5, -0.62), (0.3, -0.58), (0.12, -0.35)],
    "dragonfly": [(0, 0), (0.2, 0.06), (0.6, 0.1), (0.93, 0.09), (1, 0.03), (0.9, -0.05), (0.6, -0.1), (0.25, -0.1), (0.06, -0.05)]}
DRAGONFLY_WINGS = [((-0.25, 0.02), 0.16), ((-0.22, 0.02), -0.02), ((-0.25, -0.02), 0.3), ((-0.2, 0), 0.08)]   # root, angle


def palette(rng):
    return PALETTES[rng.integers(len(PALETTES))]


class Wing:
    """A wing's outline on the grid and the window that holds it."""

    def __init__(self, rng, grid, kind, root_px, length_mm, angle, flip):
        template = np.array(WINGS[kind], float)
        template += rng.normal(0, 0.014, template.shape) * (np.arange(len(template)) > 0)[:, None]
        self.kind, self.root_px, self.length_mm, self.flip = kind, root_px, length_mm, flip
        self.turn = rotation(angle)
        self.rim = spline(template, 10)
        outline = self.placed(self.rim)
        self.x0, self.y0, self.x1, self.y1 = window_of(outline, grid, 3, 3)
        self.window = np.s_[self.y0:self.y1, self.x0:self.x1]
        self.visible = self.x1 - self.x0 >= 4 and self.y1 - self.y0 >= 4
        self.inside = filled(grid, outline)[self.window]
        self.grid = grid

    def placed(self, points):
        return self.root_px + (np.asarray(points) * [1, self.flip] * self.length_mm * PX_PER_MM) @ self.turn.T

    def vein(self, ink, points, strength=255):
        """Into ink of the window's size."""
        stroke(ink, self.placed(points) - [self.x0, self.y0], strength, 1)


def draw_wing(rng, layer, kind, root_px, length_mm, angle, colours, flip=1):
    wing = Wing(rng, layer.cover.shape, kind, root_px, length_mm, angle, flip)
    if not wing.visible:
        return
    # Clear wings have no mottle, but draw it: otherwise the pictures of a seed would change.
    mottle = noise(rng, *wing.inside.shape, 16, 4)
    if kind == "dragonfly":
        _clear_wing(rng, layer, wing)
    else:
        _scaled_wing(rng, layer, wing, mottle, [linear(colour) for colour in colours])


def _clear_wing(rng, layer, wing):
    """A skin that one sees through, a net of veins, the dark mark near the tip."""
    inside = wing.inside
    veins = blank(inside.shape)
    for _ in range(26):
        at = rng.uniform(0.05, 0.98)
        wing.vein(veins, [(at, -0.12), (at + rng.normal(0, 0.02), 0.12)], 200)
    for k in range(7):
        across = -0.08 + 0.026 * k
        wing.vein(veins, spline([(0, 0), (0.3, across), (0.7, across * 1.05), (1, across * 0.6)], 8, False))
    mark = filled(wing.grid, wing.placed([(0.82, 0.07), (0.9, 0.07), (0.9, 0.1), (0.82, 0.1)]))[wing.window] * inside
    light, cover = layer.light[wing.window], layer.cover[wing.window]
    skin = inside[..., None]
    light[:] = light * (1 - 0.35 * skin) + linear((200, 196, 180)) * 0.35 * skin
    cover[:] = np.maximum(cover, inside * 0.45)
    dark = np.maximum(cover_of(veins) * inside * 0.75, mark * 0.9)
    light[:] = blend(light, linear((52, 40, 30)), dark)
    cover[:] = np.maximum(cover, dark)


def _scaled_wing(rng, layer, wing, mottle, colours):
    """Coloured scales with a dark border, spots and veins."""
    ground, dark, spot = colours
    height, width = wing.inside.shape
    colour = np.ones((height, width, 3), np.float32) * ground
    colour = blend(colour, dark, 0.5 * smoothstep(0, 1.4, mottle))
    border_mm = rng.uniform(0.6, 3.2) * wing.length_mm / 30
    from_rim_mm = distance_mm(wing.inside > 0.5) + mottle * 0.25
    border = (1 - smoothstep(border_mm * 0.7, border_mm * 1.2, from_rim_mm)) * rng.uniform(0.5, 0.95)
    colour = blend(colour, dark, border)
    colour = _with_spots(rng, wing, mottle, colour, spot, dark)
    veins = blank((height, width))
    for k in range(9):
        end = wing.rim[int((0.12 + 0.09 * k) * len(wing.rim)) % len(wing.rim)]
        wing.vein(veins, spline([(0, 0), end * 0.55 + [0, rng.normal(0, 0.01)], end], 6, False))
    colour = blend(colour, dark * 0.8, cover_of(veins) * 0.5)
    colour *= (1 + 0.12 * noise(rng, height, width, 2, 2))[..., None] * (1 + 0.08 * mottle)[..., None]
    layer.light[wing.window] = blend(layer.light[wing.window], np.clip(colour, 0, 1), wing.inside)
    layer.cover[wing.window] = np.maximum(layer.cover[wing.window], wing.inside)


def _with_spots(rng, wing, mottle, colour, spot, dark):
    y_px, x_px = np.mgrid[wing.y0:wing.y1, wing.x0:wing.x1].astype(np.float32)
    for _ in range(rng.integers(2, 7)):
        along = rng.uniform(0.25, 0.9)
        across = rng.uniform(-0.1, 0.3) if wing.kind == "fore" else rng.uniform(-0.45, -0.05)
        middle = wing.placed([(along, across)])[0]
        radius_px = rng.uniform(0.02, 0.06) * wing.length_mm * PX_PER_MM
        from_middle_px = np.hypot(x_px - middle[0], (y_px - middle[1]) * rng.uniform(0.7, 1.3)) + mottle * radius_px * 0.2
        disc = (1 - smoothstep(radius_px * 0.8, radius_px * 1.1, from_middle_px)) * 0.9
        colour = blend(colour, spot if rng.random() < 0.6 else dark, disc)
        if rng.random() < 0.35:   # an eye spot
            colour = blend(colour, dark, (1 - smoothstep(radius_px * 0.35, radius_px * 0.55, from_middle_px)) * 0.9)
    return colour


def draw_insect(rng, grid, middle_px, length_mm, angle):
    """(Layer, 'dragonfly', 'moth' or 'butterfly')"""
    layer = Layer(grid)
    colours = palette(rng)
    which = rng.random()
    flip = 1 if rng.random() < 0.5 else -1
    turn = rotation(angle)

    def placed(points):
        return middle_px + (np.asarray(points, float) * [1, flip] * length_mm * PX_PER_MM) @ turn.T

    body = linear(colours[1]) * rng.uniform(0.7, 1.1)
    if which < 0.22:
        for root, lifted in DRAGONFLY_WINGS:
            draw_wing(rng, layer, "dragonfly", placed(root), length_mm * 0.72, angle + flip * lifted, colours, flip)
        _dragonfly_body(rng, layer, placed, length_mm * PX_PER_MM, body)
        return layer, "dragonfly"
    kind = "moth" if which < 0.45 else "butterfly"
    draw_wing(rng, layer, "hind", placed((-0.35, 0.0)), length_mm * 0.72, angle + flip * -0.1, colours, flip)
    draw_wing(rng, layer, "fore", placed((-0.38, 0.03)), length_mm * 0.85, angle + flip * 0.12, colours, flip)
    _butterfly_body(layer, placed, length_mm * PX_PER_MM * (0.13 if kind == "moth" else 0.075), body)
    return layer, kind


def _dragonfly_body(rng, layer, placed, length_px, colour):
    ink = blank(layer.cover.shape)
    stroke(ink, placed([(-0.45, 0), (-0.2, 0)]), 255, length_px * 0.1)
    stroke(ink, placed([(-0.25, 0), (0.55, -0.04)]), 255, length_px * 0.045)
    body = blur(cover_of(ink), 1.2)
    layer.put(linear((70, 80, 50)) if rng.random() < 0.5 else colour, body)
    rings = blank(layer.cover.shape)
    for k in range(8):
        stroke(rings, placed([(-0.1 + k * 0.08, -0.03), (-0.1 + k * 0.08, 0.03)]), 255, 1)
    layer.put(linear((30, 24, 20)), cover_of(rings) * body)


def _butterfly_body(layer, placed, thickness_px, colour):
    ink = blank(layer.cover.shape)
    stroke(ink, placed([(-0.46, 0.03), (-0.3, 0), (-0.22, -0.02)]), 255, thickness_px)
    stroke(ink, placed([(-0.25, -0.02), (0.05, -0.2)]), 255, thickness_px * 0.7)
    layer.put(colour, blur(cover_of(ink), 1.5) * 0.95)
    antennae = blank(layer.cover.shape)
    for spread in (0.5, 0.8):
        curve = spline([(-0.48, 0.04), (-0.42, 0.04 + 0.2 * spread), (-0.25, 0.12 + 0.3 * spread)], 8, False)
        stroke(antennae, placed(curve), 255, 2)
        dot(antennae, placed(curve[-1]), 3)
    layer.put(colour * 0.7, cover_of(antennae))
