"""The paper: colour, fibres, age, ruled lines or newsprint; the insect inside and how it shows; then the relief of it all."""

import math

import numpy as np

import newsprint
from folds import fold, waved
from insects import draw_insect
from light_and_noise import blend, blur, linear, smoothstep
from measures import PX_PER_MM
from shapes import direction, left_of, stroke

PAPERS = {
    "white": [(236, 234, 226), (228, 227, 222)],
    "cream": [(233, 223, 196), (226, 214, 186)],
    "yellowed": [(216, 194, 146), (205, 180, 128), (222, 203, 160)],
    "kraft": [(176, 138, 96), (158, 122, 84), (168, 128, 82)],
    "lined": [(231, 229, 218), (226, 220, 200)],
    "newsprint": [(216, 206, 180), (206, 190, 154), (222, 214, 194)],
    "glassine": [(214, 212, 198), (206, 200, 178)]}
PAPER_SHARES = [0.17, 0.17, 0.17, 0.12, 0.12, 0.13, 0.12]
FIBRE_STRENGTH = {"kraft": 0.055, "newsprint": 0.035, "glassine": 0.015, "other": 0.02}
SHOWS_THROUGH = {"white": 0.05, "cream": 0.04, "lined": 0.06, "other": 0.02}   # how dark the insect makes the paper
BULGE_EDGE = 1 / 3   # of the bulge's height, where the truth ends it


def make_paper(envelope):
    _lay_ground(envelope)
    if envelope.paper == "lined":
        _rule(envelope)
    if envelope.paper == "newsprint":
        newsprint.print_on(envelope)
    _put_insect_in(envelope)
    bulge_mm = _bulge(envelope)
    _show_insect(envelope)
    envelope.height_mm = waved(envelope, bulge_mm)
    fold(envelope)


def _lay_ground(envelope):
    rng, paper = envelope.rng, envelope.paper
    colours = PAPERS[paper]
    envelope.paper_colour = linear(np.array(colours[rng.integers(len(colours))]) + rng.normal(0, 5, 3) * [0.6, 0.7, 1])
    envelope.fibre, envelope.clump, envelope.age = envelope.noise(3, 2, 0.7), envelope.noise(14, 3, 0.6), envelope.noise(220, 3, 0.55)
    strength = FIBRE_STRENGTH.get(paper, FIBRE_STRENGTH["other"])
    brightness = 1 + strength * envelope.fibre + strength * 0.8 * envelope.clump + 0.025 * envelope.age
    brightness *= _single_fibres(envelope)
    envelope.albedo = np.ones(envelope.grid + (3,), np.float32) * envelope.paper_colour * brightness[..., None]
    tone = rng.uniform(0.1, 0.5) * (1.3 if paper in ("yellowed", "newsprint", "cream") else 0.7)
    edge_browning = np.exp(-(envelope.inside_mm + envelope.age * 0.9 + envelope.clump * 0.25) / rng.uniform(2.5, 8)) * tone
    envelope.albedo *= np.exp(-edge_browning[..., None] * np.array([0.25, 0.5, 1.0], np.float32))
    if paper == "kraft":
        pitch_px = PX_PER_MM * rng.uniform(0.9, 1.6)
        envelope.albedo *= (1 + 0.025 * np.sin((envelope.x_px + envelope.clump * 2) * 2 * np.pi / pitch_px))[..., None]


def _single_fibres(envelope):
    """Factor of brightness [h, w]."""
    rng = envelope.rng
    height, width = envelope.grid
    ink = np.full(envelope.grid, 128, np.uint8)
    for _ in range(int(height * width / (2600 if envelope.paper in ("kraft", "newsprint") else 9000))):
        start = rng.uniform(0, 1, 2) * [width, height]
        angle, long_px = rng.uniform(0, 6.28), rng.uniform(5, 22)
        way = direction(angle) * long_px
        bend = left_of(way) * rng.uniform(-0.3, 0.3)
        strength = int(128 + rng.choice([-1, 1]) * rng.uniform(10, 45))
        stroke(ink, [start, start + way * 0.5 + bend * 0.4, start + way], strength, 1)
    return 1 + (ink.astype(np.float32) - 128) / 128 * (0.35 if envelope.paper == "kraft" else 0.22)


def _rule(envelope):
    """Ruled lines of an exercise book, now and then its margin line."""
    rng = envelope.rng
    pitch_px = rng.uniform(6, 9) * PX_PER_MM
    angle = rng.choice([0, 0, 0, math.pi / 2, math.pi / 4])
    across_px = envelope.y_px * math.cos(angle) - envelope.x_px * math.sin(angle) + envelope.age * 1.5
    from_line_px = (across_px % pitch_px) - pitch_px / 2
    lines = np.exp(-(from_line_px / 1.5) ** 2) * (0.75 + 0.2 * envelope.fibre.clip(-1, 1))
    colour = linear((116, 140, 176)) if rng.random() < 0.7 else linear((150, 150, 156))
    envelope.albedo = blend(envelope.albedo, colour, lines * 0.55)
    if rng.random() < 0.5:
        at_px = envelope.grid[1] * rng.uniform(0.3, 0.7)
        from_line_px = envelope.x_px * math.cos(angle) + envelope.y_px * math.sin(angle) - at_px
        envelope.albedo = blend(envelope.albedo, linear((190, 90, 90)), np.exp(-(from_line_px / 1.8) ** 2) * 0.5)


def _put_insect_in(envelope):
    rng = envelope.rng
    ys, xs = np.nonzero(envelope.face)
    long_mm = min(envelope.inside_mm.max() * 2.1, envelope.size_mm.max() * 0.62)
    envelope.insect_middle_px = np.array([xs.mean(), ys.mean()]) + rng.normal(0, 1.5, 2) * PX_PER_MM
    angle = rng.normal(0, 0.25) + (rng.choice([0, 0.6, -0.6]) if envelope.form == "triangle" else 0)
    envelope.insect, envelope.insect_kind = draw_insect(rng, envelope.grid, envelope.insect_middle_px, long_mm, angle)
    envelope.insect_cover = envelope.insect.cover * smoothstep(0.5, 2.5, envelope.inside_mm)


def _bulge(envelope):
    """Height [h, w] of the paper over the insect, and the circle that the truth takes for it."""
    rng, cover = envelope.rng, envelope.insect_cover
    envelope.bulge_mm = float(np.round(rng.uniform(0.5, 3.2) if rng.random() < 0.8 else rng.uniform(3.2, 5), 2))
    dome = blur(cover, 1.9 * PX_PER_MM) + 1.2 * blur(cover, 5 * PX_PER_MM)
    dome = dome / max(dome.max(), 1e-3) * envelope.bulge_mm
    ys, xs = np.nonzero(dome > envelope.bulge_mm * BULGE_EDGE)
    envelope.bulge_middle_px = np.array([xs.mean(), ys.mean()])
    envelope.bulge_radius_px = math.sqrt(len(xs) / math.pi)
    fine = blur(cover, 0.8 * PX_PER_MM) * rng.uniform(0.05, 0.25) * np.clip(1 + 0.5 * envelope.noise(60, 2), 0, 2)
    return dome + fine


def _show_insect(envelope):
    """Glassine lets it be seen, other papers let it darken them a little."""
    rng, cover = envelope.rng, envelope.insect_cover
    if envelope.paper != "glassine":
        strength = SHOWS_THROUGH.get(envelope.paper, SHOWS_THROUGH["other"]) * rng.uniform(0.3, 1.6)
        envelope.albedo *= 1 - (blur(cover, 5) * strength)[..., None]
        envelope.opacity = np.ones(envelope.grid, np.float32)
        return
    soft_cover = blur(cover, 1.6)[..., None]
    seen = soft_cover * rng.uniform(0.66, 0.88)
    insect_light = blur(envelope.insect.light * cover[..., None], 1.6) / np.maximum(soft_cover, 0.05)
    envelope.albedo = envelope.albedo * (1 - seen) + (insect_light * 0.98 + envelope.albedo * 0.07) * seen
    envelope.opacity = 1 - (1 - seen[..., 0]) * rng.uniform(0.12, 0.38)

