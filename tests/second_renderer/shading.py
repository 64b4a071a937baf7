"""Light from one side on an envelope's relief, and the shadows that it throws."""

from collections import namedtuple

import cv2
import numpy as np

from light_and_noise import blur
from measures import PX_PER_MM
from shapes import shift, unit

SOBEL = PX_PER_MM / 8   # makes a slope per mm of what cv2.Sobel sums up

# light: already times cover [h, w, 3]; shadow: share of the light that the table around loses.
Shaded = namedtuple("Shaded", "light cover shadow")


def shade(envelope, to_light, light_height):
    """to_light: direction towards the lamp on the envelope's grid, of length 1; light_height: how high it stands per 1 aside."""
    paper = _paper_light(envelope, to_light, light_height)
    under = envelope.under.cover
    paper_cover = np.clip(envelope.alpha * envelope.opacity, 0, 1)
    light = _under_light(envelope) * (1 - paper_cover[..., None]) + paper * paper_cover[..., None]
    cover = under * (1 - paper_cover) + paper_cover
    over = np.clip(envelope.over.cover, 0, 1)
    if over.max() > 0.05:
        light = _with_over(envelope, light, over, to_light, light_height)
        cover = cover * (1 - over) + over
    return Shaded(light, np.clip(cover, 0, 1), _shadow(envelope, -unit(to_light)))


def _slopes(height, scale):
    return cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=scale), cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=scale)


def _paper_light(envelope, to_light, light_height):
    slope_x, slope_y = _slopes(blur(envelope.height_mm, 0.6), SOBEL)
    slope_x, slope_y = slope_x + envelope.slope_x, slope_y + envelope.slope_y
    normal = 1 / np.sqrt(1 + slope_x * slope_x + slope_y * slope_y)
    lit = (-slope_x * to_light[0] - slope_y * to_light[1] + light_height) * normal / light_height
    shine = envelope.gloss * np.clip(lit, 0, 1.5) ** 4
    light = envelope.albedo * np.clip(0.42 + 0.58 * lit, 0.25, 1.6)[..., None] + shine[..., None]
    cut_edge = np.clip(blur(envelope.mask, 1.2) - blur(envelope.mask, 3.0), -0.5, 0.5)
    light *= (1 - 0.12 * np.clip(-cut_edge, 0, 1) * 2)[..., None]
    return light


def _under_light(envelope):
    """Of what sticks out from under the paper, in its shade where it leaves it."""
    cover = envelope.under.cover
    light = envelope.under.light * 0.9 * np.where(cover > 0.02, 1.0, 0.0)[..., None]
    light = light * (1 - 0.45 * np.clip(blur(envelope.alpha, 5) * 1.2, 0, 1))[..., None]
    return light * (cover / np.maximum(cover, 0.02))[..., None]


def _with_over(envelope, light, over, to_light, light_height):
    """What lies on the paper, with its own relief and its shadow on the paper."""
    away = -unit(to_light) * 3.0
    size = envelope.grid[::-1]
    shadow = blur(cv2.warpAffine(np.minimum(1, envelope.over_height * 3), shift(*away), size), 1.6)
    light *= (1 - 0.5 * np.clip(shadow, 0, 1))[..., None]
    slope_x, slope_y = _slopes(blur(envelope.over_height, 0.8), SOBEL * 0.35)
    lit = -slope_x * to_light[0] - slope_y * to_light[1] + light_height
    lit = np.clip(lit / np.sqrt(1 + slope_x * slope_x + slope_y * slope_y) / light_height, 0.25, 1.8)
    return light * (1 - over[..., None]) + envelope.over.light * (0.4 + 0.6 * lit)[..., None]


def _shadow(envelope, away):
    """On the table: soft and wide under the bulge, wider under what is lifted, short under what lies beside the paper."""
    def thrown(cover, distance_mm, sigma_mm):
        moved = cv2.warpAffine(cover, shift(away[0] * distance_mm * PX_PER_MM, away[1] * distance_mm * PX_PER_MM), envelope.grid[::-1])
        return blur(moved, sigma_mm * PX_PER_MM)

    paper = np.maximum(envelope.alpha, 0)
    bulge_mm = envelope.bulge_mm
    shadow = np.zeros(envelope.grid, np.float32)
    for distance_mm, sigma_mm, strength in ((0.5, 0.35, 0.32), (1.3 + bulge_mm * 0.25, 1.2, 0.28), (3 + bulge_mm * 0.6, 3.2, 0.16)):
        shadow += strength * thrown(paper, distance_mm, sigma_mm)
    highest_mm = envelope.lift_mm.max()
    if highest_mm > 0.3:
        lifted = blur((envelope.lift_mm * envelope.alpha > 0.4).astype(np.float32), 2)
        distance_mm = min(6, highest_mm * 0.6)
        shadow = np.maximum(shadow, 0.5 * thrown(lifted, distance_mm, distance_mm * 0.35))
    on_paper = envelope.over.cover * np.minimum(1, envelope.over_height * 4)
    things = np.maximum(envelope.under.cover, np.minimum(1, on_paper))
    if things.max() > 0.1:
        shadow = 1 - (1 - shadow) * (1 - 0.45 * thrown(things, 0.45, 0.25))
    return np.clip(shadow, 0, 0.85)
