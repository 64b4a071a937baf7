"""Tables: a plain grey or white one, black cloth, green felt, wood; and a ruler that lies on them."""

import cv2
import numpy as np
from PIL import Image, ImageDraw

from light_and_noise import blur, linear, noise, smoothstep
from measures import PHOTO_HEIGHT_PX, PHOTO_WIDTH_PX, PX_PER_MM
from shapes import shift

KINDS = ["grey", "dark", "wood", "green", "white"]
WOODS = [(150, 108, 70), (120, 82, 52), (176, 140, 98)]
# Wood, steel and cardboard: colour, strength and stretch of its grain.
RULERS = [((206, 170, 110), 0.07, 26), ((196, 198, 200), 0.05, 26), ((240, 238, 226), 0.012, 1)]
RULER_MM, RULER_MARKS_MM, RULER_START_MM = 160, 150, 5
FINE = 2   # times as fine as the grid, the ruler's marks are drawn


def draw_table(rng):
    """(kind, light [h, w, 3] of the whole photograph)"""
    kind = str(rng.choice(KINDS))
    grain, cloudy = _noise(rng, 2, 2, 0.7), _noise(rng, 700, 3)
    light = {"grey": _grey, "white": _white, "green": _green, "dark": _dark, "wood": _wood}[kind](rng, grain, cloudy)
    for _ in range(rng.integers(10, 60)):
        _add_dust(rng, light)
    return kind, light.astype(np.float32)


def _noise(rng, *settings):
    return noise(rng, PHOTO_HEIGHT_PX, PHOTO_WIDTH_PX, *settings)


def _grey(rng, grain, cloudy):
    colour = linear(np.array((148, 148, 146)) + rng.normal(0, 12))
    return colour * (1 + 0.03 * grain + 0.03 * cloudy + 0.02 * _noise(rng, 12, 2))[..., None]


def _white(rng, grain, cloudy):
    return linear(np.array((226, 226, 222)) + rng.normal(0, 5)) * (1 + 0.012 * grain + 0.02 * cloudy)[..., None]


def _green(rng, grain, cloudy):
    return linear((54, 84, 62)) * np.clip(1 + 0.17 * grain + 0.13 * _noise(rng, 9, 3) + 0.07 * cloudy, 0.3, 2)[..., None]


def _dark(rng, grain, cloudy):
    """Woven cloth."""
    y_px, x_px = np.mgrid[0:PHOTO_HEIGHT_PX, 0:PHOTO_WIDTH_PX].astype(np.float32)
    uneven = _noise(rng, 40, 3) * 1.6
    thread_px = rng.uniform(5.5, 8)
    weave = np.sin((x_px + uneven) * 2 * np.pi / thread_px) * np.sin((y_px - uneven) * 2 * np.pi / thread_px)
    bright = 1 + 0.28 * weave + 0.16 * grain + 0.15 * cloudy + 0.1 * _noise(rng, 3, 2, 0.5, 30)
    return linear((46, 44, 48)) * np.clip(bright, 0.2, 2)[..., None]


def _wood(rng, _, cloudy):
    streaks = _noise(rng, 26, 4, 0.65, 30)
    y_px = np.arange(PHOTO_HEIGHT_PX, dtype=np.float32)[:, None]
    rings = np.sin((y_px + _noise(rng, 260, 3, 0.5, 5) * 110) * 2 * np.pi / rng.uniform(60, 130))
    fine = _noise(rng, 2, 2, 0.7, 24)
    fine = fine - smoothstep(1.5, 2.4, _noise(rng, 1.6, 1, 0.5, 22)) * 2.5   # pores
    bright = 1 + 0.12 * streaks + 0.11 * rings + 0.06 * fine + 0.05 * cloudy
    # Dark wood is redder than bright wood.
    return linear(WOODS[rng.integers(3)]) * np.clip(bright, 0.35, 1.7)[..., None] ** np.array([0.8, 1, 1.25], np.float32)


def _add_dust(rng, light):
    x, y = (int(v) for v in rng.uniform(0, 1, 2) * [PHOTO_WIDTH_PX, PHOTO_HEIGHT_PX])
    radius_px = int(rng.uniform(1, 2.5))
    cv2.circle(light, (x, y), radius_px, tuple(float(v) for v in light[y - 1, x - 1] * rng.choice([0.7, 1.35])), -1)


def draw_ruler(rng, fonts):
    """(light [h, w, 3], cover) on a grid like an envelope's."""
    kind = rng.integers(len(RULERS))
    colour, strength, stretch = RULERS[kind]
    width_px, height_px, pad_px = int(RULER_MM * PX_PER_MM), int(rng.uniform(18, 30) * PX_PER_MM), int(8 * PX_PER_MM)
    grid = (height_px + 2 * pad_px, width_px + 2 * pad_px)
    inner = np.s_[pad_px:pad_px + height_px, pad_px:pad_px + width_px]
    light = np.ones(grid + (3,), np.float32) * linear(colour)
    grain = noise(rng, *grid, 10, 3, 0.6, stretch)
    light *= (1 + strength * grain + 0.02 * noise(rng, *grid, 2, 2))[..., None]
    marks = np.zeros(grid, np.float32)
    marks[inner] = _marks(fonts, fonts.ruler_serif if kind == 0 else fonts.ruler_plain, width_px, height_px)
    light = light * (1 - 0.92 * marks[..., None]) + linear((28, 26, 26)) * 0.92 * marks[..., None]
    cover = np.zeros(grid, np.float32)
    cover[inner] = 1
    cover = blur(cover, 0.6)
    light *= (1 - 0.25 * (1 - blur(cover, 6)) * cover)[..., None]
    return light, cover


def ruler_shadow(cover, to_light):
    away = -to_light * 1.2 * PX_PER_MM
    return 0.45 * blur(cv2.warpAffine(cover, shift(*away), cover.shape[::-1]), 0.9 * PX_PER_MM)


def _marks(fonts, path, width_px, height_px):
    """Cover of the ink: millimetres, numbers at centimetres."""
    px_per_mm = PX_PER_MM * FINE
    picture = Image.new("L", (width_px * FINE, height_px * FINE), 0)
    pen = ImageDraw.Draw(picture)
    font = fonts.at(path, px_per_mm * 3.4)
    for mark in range(RULER_MARKS_MM + 1):
        x = (RULER_START_MM + mark) * px_per_mm
        long_px = (6.2 if mark % 10 == 0 else 4.6 if mark % 5 == 0 else 3) * px_per_mm
        pen.line([x, 0, x, long_px], fill=255, width=int(px_per_mm * 0.2) + 1)
        if mark % 10 == 0:
            pen.text((x, long_px + 0.6 * px_per_mm), str(mark // 10), font=font, fill=255, anchor="mt")
    return cv2.resize(np.asarray(picture).astype(np.float32) / 255, (width_px, height_px), interpolation=cv2.INTER_AREA)
