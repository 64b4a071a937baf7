"""Paper that is gone: what tears, holes and missing corners share."""

import numpy as np

from light_and_noise import blend, blur
from shapes import distance_mm


def take(envelope, lost, to_table):
    """Takes the paper where lost [h, w] is 1: all of it, so that the table shows, or only the upper sheet."""
    rng, fibre, clump = envelope.rng, envelope.fibre, envelope.clump
    region = lost > 0.5
    envelope.gone = envelope.gone | region
    away_mm = distance_mm(~region)
    torn_mm = (0.28 + 0.22 * np.clip(clump + fibre * 0.6, -1, 2)).clip(0.05, 1)
    torn = np.exp(-(away_mm / torn_mm) ** 2) * (~region)
    core = np.clip(envelope.paper_colour * 1.18 + 0.05, 0, 0.9)   # the pale inside of a sheet at its torn rim
    envelope.albedo = blend(envelope.albedo, core * (1 + 0.06 * fibre[..., None]), torn * 0.65)
    curled_mm = np.exp(-away_mm / 1.6) * rng.uniform(0.1, 0.45) * (~region)
    envelope.height_mm += curled_mm * np.clip(envelope.noise(60, 2), -0.3, 1.5)
    if to_table:
        envelope.alpha = envelope.alpha * (1 - lost)
    else:
        _show_lower_sheet(envelope, lost, distance_mm(region))


def _show_lower_sheet(envelope, lost, from_rim_mm):
    """It lies deeper and in the shade of the rim."""
    lower = (envelope.paper_colour * envelope.rng.uniform(0.34, 0.6)) * (1 - 0.55 * np.exp(-from_rim_mm / 0.5))[..., None]
    lower = lower * (1 + 0.05 * envelope.clump[..., None])
    envelope.albedo = blend(envelope.albedo, lower, lost)
    soft = blur(lost, 0.8)
    envelope.height_mm = envelope.height_mm * (1 - soft) + blur(envelope.height_mm, 12) * soft - 0.3 * blur(lost, 1.0)
