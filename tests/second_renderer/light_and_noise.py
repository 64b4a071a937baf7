"""Linear light, and the soft and random fields that everything is made of. Light is 0..1 of linear red, green, blue."""

import math

import cv2
import numpy as np


def linear(srgb_255):
    """float32 light of sRGB values 0..255."""
    share = np.asarray(srgb_255, np.float32) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4).astype(np.float32)


def srgb(light):
    """sRGB 0..1 of light."""
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * np.power(light, 1 / 2.4) - 0.055)


def brightness(light):
    return light.dot([0.2126, 0.7152, 0.0722])


def blend(under, over, share):
    """`over` laid on `under` where share [h, w] is 1."""
    share = share[..., None]
    return under * (1 - share) + over * share


def smoothstep(start, end, values):
    """0 before `start`, 1 beyond `end`, smooth between; falls where end < start."""
    t = np.clip((values - start) / (end - start), 0, 1)
    return t * t * (3 - 2 * t)


def blur(field, sigma_px):
    if sigma_px < 0.25:
        return field
    if sigma_px <= 9:
        return cv2.GaussianBlur(field, (0, 0), sigma_px)
    # A wide blur looks the same from a coarser grid and takes a fraction of the time.
    factor = int(sigma_px / 4)
    height, width = field.shape[:2]
    coarse = cv2.resize(field, (max(2, width // factor), max(2, height // factor)), interpolation=cv2.INTER_AREA)
    return cv2.resize(cv2.GaussianBlur(coarse, (0, 0), sigma_px / factor), (width, height), interpolation=cv2.INTER_LINEAR)


def noise(rng, height, width, cell_px, octaves=4, persistence=0.5, stretch=1.0):
    """Smooth noise of mean 0 and deviation about 1: octaves whose cells halve, each `persistence` as strong as the one before.
    Cells are `stretch` times as wide as high.
    """
    if octaves > 1 and min(cell_px, cell_px * stretch) >= 28 and min(height, width) > 300:
        return _noise_from_coarse_grid(rng, height, width, cell_px, octaves, persistence, stretch)
    total = np.zeros((height, width), np.float32)
    strength, power = 1, 0
    for _ in range(octaves):
        total += _octave(rng, height, width, max(cell_px, 1), max(cell_px * stretch, 1)) * strength
        power += strength * strength
        strength *= persistence
        cell_px /= 2
    return total / math.sqrt(power)


def _noise_from_coarse_grid(rng, height, width, cell_px, octaves, persistence, stretch):
    """noise() with its large octaves on a grid of a quarter: nobody sees the difference, and it takes a fraction of the time."""
    coarse_octaves, fine_cell_px = 0, cell_px
    while coarse_octaves < octaves and min(fine_cell_px, fine_cell_px * stretch) >= 14:
        coarse_octaves += 1
        fine_cell_px /= 2
    coarse_power = sum(persistence ** (2 * k) for k in range(coarse_octaves))
    fine_power = sum(persistence ** (2 * k) for k in range(coarse_octaves, octaves))
    coarse = noise(rng, height // 4 + 2, width // 4 + 2, cell_px / 4, coarse_octaves, persistence, stretch)
    total = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR) * math.sqrt(coarse_power)
    if coarse_octaves < octaves:
        fine = noise(rng, height, width, fine_cell_px, octaves - coarse_octaves, persistence, stretch)
        total = total + fine * math.sqrt(fine_power)
    return (total / math.sqrt(coarse_power + fine_power)).astype(np.float32)


def _octave(rng, height, width, cell_height_px, cell_width_px):
    if cell_height_px <= 1 and cell_width_px <= 1:
        return rng.standard_normal((height, width), dtype=np.float32)
    cells = rng.standard_normal((int(height / cell_height_px) + 4, int(width / cell_width_px) + 4), dtype=np.float32)
    down, right = rng.uniform(0, 1, 2)
    cell_from_px = np.array([[1 / cell_width_px, 0, right + 1], [0, 1 / cell_height_px, down + 1]], np.float32)
    return cv2.warpAffine(cells, cell_from_px, (width, height), flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
                          borderMode=cv2.BORDER_REFLECT)
