"""Faded writing. Not drawn after the others but by writing.py, as paler ink."""

import numpy as np

from shapes import hull_of_points

ABSORBED = 0.2, 0.48
GRAVE_BELOW = 0.41, 0.34, 0.27   # light absorbed
GALL_LEFT = 150, 105, 62         # the brown that iron-gall ink leaves


def draw_absorbed(rng):
    return rng.uniform(*ABSORBED)


def hue_left(hue, gall_hue):
    """Half washed out; iron-gall ink turns brown first."""
    return 0.4 * (hue if gall_hue is None else gall_hue) + 0.6


def faded(envelope, absorbed):
    """Writing with little contrast, all of the label alike. Truth: the hull around its lines."""
    corners = np.concatenate([quad for quad, _, _ in envelope.lines])
    envelope.find("faded", 1 + sum(absorbed < limit for limit in GRAVE_BELOW), hull_of_points(corners))
