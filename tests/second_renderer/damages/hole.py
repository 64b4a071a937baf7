import math

import cv2
import numpy as np

import lost_paper
from light_and_noise import blur
from measures import PX_PER_MM
from places import is_free
from shapes import distance_mm, filled, rotation
from sizes import draw_size, severity

LIMITS_MM = 0.9, 1.4, 2.3, 4, 8
LARGEST_MM = 6.3
TRIES, CORNERS = 60, 40


def draw(envelope):
    """One to three ragged roundish holes, often near each other, to the table or to the sheet below. Truth: each hole, one finding each."""
    rng = envelope.rng
    wanted, middles = int(rng.integers(1, 4)), []
    for _ in range(TRIES):
        if len(middles) == wanted:
            break
        diameter_mm = min(LARGEST_MM, draw_size(rng, LIMITS_MM))
        middle = _middle(envelope, diameter_mm, middles[-1] if middles else None)
        if middle is None:
            continue
        polygon = _ragged(rng, middle, diameter_mm)
        lost = filled(envelope.grid, polygon)
        region = lost > 0.5
        if not is_free(envelope, region):
            continue
        lost_paper.take(envelope, blur(lost, 0.45), to_table=rng.random() < 0.5)
        rim = np.exp(-(distance_mm(~region) / 0.25) ** 2) * (~region)
        envelope.albedo *= (1 - rng.uniform(0, 0.3) * rim)[..., None]
        envelope.find("hole", severity(LIMITS_MM, diameter_mm), polygon[::2], region, diameter_mm=round(float(diameter_mm), 2))
        middles.append(middle)
    return bool(middles)


def _middle(envelope, diameter_mm, last):
    """Anywhere or near the last hole, or None where there is no room."""
    rng, deep_mm = envelope.rng, diameter_mm / 2 + 1.2
    ys, xs = np.nonzero(envelope.inside_mm > deep_mm)
    if len(xs) == 0:
        return None
    k = rng.integers(len(xs))
    if last is None or rng.random() >= 0.6:
        return np.array([xs[k], ys[k]], float)
    near = last + rng.normal(0, 7 * PX_PER_MM, 2)
    return near if envelope.holds(near) and envelope.inside_mm[int(near[1]), int(near[0])] >= deep_mm else None


def _ragged(rng, middle, diameter_mm):
    """A polygon with the area of a circle of that diameter."""
    angle = np.arange(CORNERS) / CORNERS * 2 * np.pi
    radius = np.ones(CORNERS)
    for waves in (2, 3, 4, 5, 7):
        radius += rng.normal(0, 0.11 / waves ** 0.5) * np.cos(waves * angle + rng.uniform(0, 6.3))
    radius = np.clip(radius + rng.normal(0, 0.03, CORNERS), 0.5, 1.6)
    oval = rng.uniform(0.8, 1.25)
    polygon = np.stack([np.cos(angle) * oval, np.sin(angle) / oval], 1) * radius[:, None]
    polygon *= diameter_mm / 2 / math.sqrt(cv2.contourArea(polygon.astype(np.float32)) / math.pi)
    return middle + (polygon @ rotation(rng.uniform(0, 3)).T) * PX_PER_MM
