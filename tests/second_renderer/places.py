"""Where on an envelope a damage may sit."""

import numpy as np

from measures import PX_PER_MM
from shapes import rotation

REACH_PX = 24   # the drawn edge is looked for so far on both sides of the straight one


def room_mm(envelope):
    """The largest radius that still looks like one damage of many."""
    return envelope.size_mm.max() * 0.42


def edge_place(envelope, low=0.15, high=0.85):
    """(point on the drawn edge, direction along it, direction into the paper), between two shares of a long edge."""
    for _ in range(12):
        place, found = _edge_place_once(envelope, low, high)
        if found:
            break
    return place


def _edge_place_once(envelope, low, high):
    rng = envelope.rng
    lengths_mm = envelope.edge_lengths_mm[envelope.long_edges]
    edge = rng.choice(envelope.long_edges, p=lengths_mm / lengths_mm.sum())
    start, end = envelope.edges[edge]
    _, along, inward = envelope.edge_frame(edge)
    point = start + (end - start) * rng.uniform(low, high)
    for step in range(-REACH_PX, REACH_PX + 1):
        x, y = point + inward * step
        if envelope.outline[int(y), int(x)] > 0.5:
            return (np.array([x, y]), along, inward), step > -REACH_PX
    return (point, along, inward), False


def spot(envelope, deeper_than_mm):
    """A point of the face so far from its edge, else the insect's middle."""
    ys, xs = np.nonzero(envelope.inside_mm > deeper_than_mm)
    if len(xs) == 0:
        return envelope.insect_middle_px.copy()
    k = envelope.rng.integers(len(xs))
    return np.array([xs[k], ys[k]], float)


def is_free(envelope, region):
    """Whether it holds no writing and hardly any other damage."""
    size = region.sum()
    return size > 0 and not (region & envelope.written).any() and (region & envelope.damaged).sum() <= 0.05 * size


def beyond_blot_mm(envelope, middle, radius_mm, rough, cell_mm):
    """Distance [h, w] from the rim of a blot with a ragged, oval outline; negative inside."""
    rng = envelope.rng
    ragged = envelope.noise(cell_mm * PX_PER_MM, 4, 0.5)
    oval = rng.uniform(0.75, 1.3)
    turn = rotation(rng.uniform(0, 3))
    dx_mm, dy_mm = (envelope.x_px - middle[0]) / PX_PER_MM, (envelope.y_px - middle[1]) / PX_PER_MM
    x = (dx_mm * turn[0, 0] + dy_mm * turn[0, 1]) * oval
    y = (dx_mm * turn[1, 0] + dy_mm * turn[1, 1]) / oval
    return (np.hypot(x, y) - radius_mm) + ragged * rough * radius_mm * 0.55
