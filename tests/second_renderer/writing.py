"""The label: two to four lines by hand, typewriter or print, set where the envelope is wide enough."""

import math
from collections import namedtuple

import cv2
import numpy as np
from PIL import Image, ImageDraw

import wording
from damages import faded
from light_and_noise import blur, brightness, linear, noise
from measures import PX_PER_MM
from shapes import distance_mm, filled, rotation

INKS = [("pencil", (88, 88, 90)), ("gall", (56, 40, 28)), ("gall", (40, 32, 30)), ("dye", (36, 50, 112)), ("dye", (86, 40, 116)),
        ("dye", (30, 28, 30))]
RIBBONS = [(34, 34, 40), (52, 36, 90), (30, 30, 34)]
# Share of light that a stroke takes.
ABSORBED = {"pencil": (0.74, 0.86), "gall": (0.75, 0.94), "ribbon": (0.8, 0.95), "printing": (0.8, 0.96), "dye": (0.74, 0.92)}
KIND_OF_LINE = {"hand": "handwritten", "type": "typed", "print": "printed"}
SMALLEST_PX = 2.6 * PX_PER_MM
FINE = 2   # times as fine as the grid, letters are drawn

Style = namedtuple("Style", "by font ink colour")
Letters = namedtuple("Letters", "cover left base")   # FINE; where the text begins


def write(envelope):
    style = _draw_style(envelope.rng, envelope.fonts)
    ink = _set_lines(envelope, style, wording.label(envelope.rng))
    if not envelope.lines:
        envelope.kinds = [kind for kind in envelope.kinds if kind != "faded"]
    _lay_ink(envelope, style, ink)


def _draw_style(rng, fonts):
    by = str(rng.choice(["hand", "type", "print"], p=[0.7, 0.2, 0.1]))
    font = fonts.pick(rng, by)
    if by == "hand":
        return Style(by, font, *INKS[rng.integers(len(INKS))])
    if by == "type":
        return Style(by, font, "ribbon", RIBBONS[rng.integers(len(RIBBONS))])
    return Style(by, font, "printing", (34, 30, 30))


def _set_lines(envelope, style, texts):
    """Cover of the ink; lines that find no room are left out."""
    rng = envelope.rng
    top, bottom = np.flatnonzero(envelope.face.any(1))[[0, -1]]
    row_px = (rng.uniform(4.6, 7.5) if style.by == "hand" else rng.uniform(3.6, 5.2)) * PX_PER_MM
    row_px = min(row_px, (bottom - top) * 0.8 / len(texts))
    y = _first_row(envelope, top, bottom, row_px * len(texts) * 1.05)
    slope = rng.normal(0, 0.012 if style.by == "hand" else 0.01)
    centred = rng.random() < 0.4
    ink = np.zeros(envelope.grid, np.float32)
    for text in texts:
        if len(envelope.inside_mm[int(y + row_px * 0.05):int(y + row_px):4]) == 0:
            break
        line = _set_line(envelope, style, text, y, row_px, slope, centred)
        if line is None:
            y += row_px
            continue
        cover, quad = line
        ink = np.maximum(ink, cover)
        envelope.lines.append((quad, KIND_OF_LINE[style.by], text))
        envelope.written |= filled(envelope.grid, quad) > 0.5
        y += row_px * rng.uniform(0.98, 1.06)
    return np.clip(ink * 1.15, 0, 1)


def _first_row(envelope, top, bottom, lines_px):
    """People write where there is room: low on an envelope that is wide below."""
    width_px = envelope.face.sum(1)
    middle = (top + bottom) // 2
    wide_below = width_px[top:middle].sum() < width_px[middle:bottom].sum() * 0.98
    spare_px = max(0, bottom - top - lines_px - 5 * PX_PER_MM)
    if wide_below:
        return bottom - 2.5 * PX_PER_MM - lines_px - spare_px * envelope.rng.uniform(0, 0.3)
    return top + 2.5 * PX_PER_MM + spare_px * envelope.rng.uniform(0, 0.4)


def _set_line(envelope, style, text, y, row_px, slope, centred):
    """(cover, quad) or None."""
    rng = envelope.rng
    rows = envelope.inside_mm[int(y + row_px * 0.05):int(y + row_px):4] > 2.2
    columns = np.flatnonzero(rows.all(0))
    if len(columns) < 12 * PX_PER_MM:
        return None
    left, right = columns[0] + 2, columns[-1] - 2
    height_px = row_px * (0.95 if style.by == "hand" else 0.8)
    while height_px > SMALLEST_PX and envelope.fonts.at(style.font, height_px).getlength(text) > right - left:
        height_px *= 0.93
    font = envelope.fonts.at(style.font, height_px * FINE)
    text_px = font.getlength(text) / FINE
    if text_px > right - left or height_px <= SMALLEST_PX:
        return None
    x = left + (right - left - text_px) * (0.5 + rng.normal(0, 0.06) if centred else rng.uniform(0.0, 0.25))
    x = min(max(x, left), right - text_px)
    letters = _letters(rng, style, font, text, text_px, height_px)
    turn = rotation(slope + rng.normal(0, 0.006))
    origin = np.array([x, y + row_px * 0.74]) - turn @ np.array([letters.left, letters.base]) * 0.5
    grid_from_letters = np.hstack([turn * 0.5, origin[:, None]])
    cover = cv2.warpAffine(letters.cover, grid_from_letters, envelope.grid[::-1], flags=cv2.INTER_LINEAR)
    ys, xs = np.nonzero(letters.cover > 0.4)
    if len(xs) == 0 or (cover * ~envelope.face).max() > 0.3:
        return None
    x0, y0, x1, y1 = (float(v) for v in (xs.min() - 4, ys.min() - 4, xs.max() + 5, ys.max() + 5))
    return cover, np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) @ grid_from_letters[:, :2].T + grid_from_letters[:, 2]


def _letters(rng, style, font, text, text_px, height_px):
    pad = int(6 * PX_PER_MM)
    left, base = 2 * pad, int(height_px * 2.2) + pad
    size = (int(text_px * FINE + 4 * pad), int(height_px * 4 + 2 * pad))

    def drawn(**more):
        picture = Image.new("L", size, 0)
        ImageDraw.Draw(picture).text((left, base), text, font=font, fill=255, anchor="ls", **more)
        return np.asarray(picture)

    cover = drawn()
    thickness_mm = _stroke_mm(cover)
    wanted_mm = rng.uniform(0.42, 0.6) if style.by == "hand" else 0.36
    if thickness_mm < wanted_mm:
        cover = drawn(stroke_width=max(1, int(math.ceil((wanted_mm - thickness_mm) * PX_PER_MM))))
    cover = cover.astype(np.float32) / 255
    width, height = size
    if style.by == "hand":   # no two letters of a hand are alike
        y_px, x_px = np.mgrid[0:height, 0:width].astype(np.float32)
        cover = cv2.remap(cover, x_px + noise(rng, height, width, 60, 2) * 1.3, y_px + noise(rng, height, width, 140, 2) * 2.2,
                          cv2.INTER_LINEAR)
    if style.by == "type":   # keys hit unevenly
        cover = cover * np.clip(1.05 + 0.16 * noise(rng, height, width, 40, 1), 0.82, 1)
    return Letters(cover, left, base)


def _stroke_mm(cover):
    from_rim_mm = distance_mm(cover > 127)
    inside = from_rim_mm[from_rim_mm > 0]
    return 4 * inside.mean() / FINE if len(inside) else 0.3


def _lay_ink(envelope, style, ink):
    rng = envelope.rng
    fading = "faded" in envelope.kinds
    absorbed = faded.draw_absorbed(rng) if fading else _draw_absorbed(rng, style.ink)
    density = 1 + 0.09 * envelope.noise(30, 3)
    if style.ink == "pencil":
        density = density * (1 + 0.1 * envelope.fibre.clip(-1.5, 1.0))
    elif style.by == "hand":
        ink = np.clip(blur(ink, 0.8), 0, 1)
    hue = _hue(style.colour)
    if fading:
        hue = faded.hue_left(hue, _hue(faded.GALL_LEFT) if style.ink == "gall" else None)
    passing = np.clip((1 - absorbed) * hue, 0.01, 0.97).astype(np.float32)
    # The hue was clipped: bring the stroke back to the darkness that was drawn.
    passing = passing ** (math.log(max(1 - absorbed, 0.03)) / math.log(max(brightness(passing), 0.02)))
    cover = np.clip(ink * density, 0, 1.0)[..., None]
    envelope.albedo = envelope.albedo * (1 - cover + cover * passing)
    envelope.height_mm -= ink * 0.01
    if fading:
        faded.faded(envelope, absorbed)


def _draw_absorbed(rng, ink):
    # Every ink draws, so that what follows does not depend on which it was.
    return {one: rng.uniform(*limits) for one, limits in ABSORBED.items()}[ink]


def _hue(colour):
    light = linear(colour)
    return light / brightness(light)
