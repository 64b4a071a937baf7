import math

import numpy as np

import lost_paper
from light_and_noise import blur, smoothstep
from measures import PX_PER_MM
from places import edge_place, is_free
from shapes import contour_of, direction, distance_mm, extent_mm, filled, length
from sizes import draw_size, severity

LIMITS_MM = 4, 7, 12, 20, 32
STEP_MM = 0.6


def draw(envelope):
    """A wedge that wanders from an edge into the paper, one lip a little raised; it shows the table or only the sheet below.
    Truth: the wedge within the paper.
    """
    rng = envelope.rng
    length_mm = draw_size(rng, LIMITS_MM, min(30, envelope.inside_mm.max() * 1.6))
    start, _, inward = edge_place(envelope)
    path = _path(rng, start, inward, length_mm)
    along = np.gradient(path, axis=0)
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    across = np.stack([-along[:, 1], along[:, 0]], 1)
    lost = filled(envelope.grid, _wedge(rng, path, across, length_mm))
    region = (lost > 0.5) & envelope.face
    # One that leaves the paper again would be a cut-off piece.
    end = path[-1]
    opens_once = envelope.holds(end) and envelope.inside_mm[int(end[1]), int(end[0])] >= 1.5
    if not is_free(envelope, region) or envelope.inside_mm[region].max() < 1.2 or not opens_once:
        return False
    polygon = contour_of(region, 1.0)
    if polygon is None:
        return False
    lost = np.where(envelope.face, blur(lost, 0.5), lost) * (envelope.outline > 0.02)
    lost_paper.take(envelope, lost, to_table=rng.random() < 0.6)
    _raise_lip(envelope, region, start, across[1], end, length_mm)
    envelope.find("tear", severity(LIMITS_MM, extent_mm(polygon)), polygon, region)
    return True


def _path(rng, start, inward, length_mm):
    angle = math.atan2(inward[1], inward[0]) + rng.normal(0, 0.4)
    points = [start - inward * 1.5 * PX_PER_MM, start]
    drift = rng.normal(0, 0.02)
    for _ in range(int(length_mm / STEP_MM)):
        angle += rng.normal(drift, 0.16)
        points.append(points[-1] + direction(angle) * STEP_MM * PX_PER_MM)
    return np.array(points)


def _wedge(rng, path, across, length_mm):
    steps = len(path)
    done = np.clip((np.arange(steps) - 1) / (steps - 2), 0, 1)
    open_mm = np.clip(length_mm * rng.uniform(0.09, 0.26), 0.8, 5.5)
    width_px = (open_mm * (1 - done) ** rng.uniform(0.6, 1.1) + 0.18) * PX_PER_MM * (done < 1)
    share = rng.uniform(0.25, 0.75)

    def rough_px():
        return rng.normal(0, 0.09 * PX_PER_MM, steps) * (done < 0.97)

    one = path + across * (width_px * share + rough_px())[:, None]
    other = path - across * (width_px * (1 - share) + rough_px())[:, None]
    return np.concatenate([one, other[::-1]])


def _raise_lip(envelope, region, start, across, end, length_mm):
    rng = envelope.rng
    side_px = (envelope.x_px - start[0]) * across[0] + (envelope.y_px - start[1]) * across[1]
    away_mm = distance_mm(~region)
    lip = smoothstep(0, 1.2 * PX_PER_MM, side_px * rng.choice([-1, 1]))
    way = end - start
    along_px = ((envelope.x_px - start[0]) * way[0] + (envelope.y_px - start[1]) * way[1]) / max(1, length(way))
    lip = lip * smoothstep(length_mm, length_mm * 0.55, along_px / PX_PER_MM)
    envelope.height_mm += np.exp(-away_mm / 2.4) * lip * rng.uniform(0.3, 1.1) * min(1, length_mm / 12)
    envelope.lift_mm += np.exp(-away_mm / 2.0) * lip * 0.5
