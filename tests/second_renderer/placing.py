"""Where things lie on the table, none on another and all within the photograph. Works on cells of a millimetre."""

import cv2
import numpy as np

from camera import through
from measures import PHOTO_HEIGHT_PX, PHOTO_PX_PER_MM, PHOTO_WIDTH_PX, PX_PER_MM
from shapes import rotation

TABLE_MM = (267, 400)   # high, wide: what the camera sees of it
EDGE_MM = 6             # kept free at the border of the photograph
PAD_MM = 7
TRIES = 40


class FreeTable:
    def __init__(self, table_from_photo):
        corners = [(0, 0), (PHOTO_WIDTH_PX, 0), (PHOTO_WIDTH_PX, PHOTO_HEIGHT_PX), (0, PHOTO_HEIGHT_PX)]
        seen_mm = through(table_from_photo, corners) / PHOTO_PX_PER_MM
        seen = np.zeros(TABLE_MM, np.uint8)
        cv2.fillPoly(seen, [np.round(seen_mm).astype(np.int32)], 1)
        seen = cv2.erode(np.pad(seen, 1), np.ones((3, 3)), iterations=EDGE_MM)[1:-1, 1:-1]
        self.taken = (1 - seen).astype(np.uint8)

    def place(self, rng, thing, middle_px, angle):
        """Where on the table, in mm, the middle of a thing [h, w] of an envelope's grid comes to lie; None where there is no room.
        The closest of some places, so that the table fills up.
        """
        cells, low_mm = _cells_of(thing, middle_px, angle)
        if cells.shape[0] >= TABLE_MM[0] or cells.shape[1] >= TABLE_MM[1]:
            return None
        overlap = cv2.matchTemplate(self.taken.astype(np.float32), cells.astype(np.float32), cv2.TM_CCORR)
        ys, xs = np.nonzero(overlap < 0.5)
        if len(xs) == 0:
            return None
        height, width = cells.shape
        tries = rng.integers(len(xs), size=TRIES)
        free_mm = cv2.distanceTransform(1 - self.taken, cv2.DIST_L2, 3)
        chosen = tries[int(np.argmin(free_mm[ys[tries] + height // 2, xs[tries] + width // 2]))]
        x, y = xs[chosen], ys[chosen]
        self.taken[y:y + height, x:x + width] |= cv2.erode(cells, _disc(3))
        return np.array([x, y]) - low_mm


def _cells_of(thing, middle_px, angle):
    """(cells that the thing covers, with a margin around it; where their corner lies from the thing's middle)"""
    points_px = np.argwhere(thing[::4, ::4])[:, ::-1] * 4
    points_mm = (points_px - middle_px) @ (rotation(angle) / PX_PER_MM).T
    low_mm = points_mm.min(0) - PAD_MM
    width, height = np.ceil(points_mm.max(0) - low_mm + PAD_MM).astype(int)
    cells = np.zeros((height, width), np.uint8)
    xs, ys = np.round(points_mm - low_mm).astype(int).T
    cells[ys, xs] = 1
    return cv2.dilate(cells, _disc(11)), low_mm


def _disc(size):
    return cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
