"""Points, strokes and regions on a grid of PX_PER_MM. A cover is float32 0..1 [h, w], ink is uint8 that strokes are drawn into."""

import math

import cv2
import numpy as np

from measures import PX_PER_MM

SHIFT_BITS = 4   # cv2 draws at a sixteenth of a pixel


def _fixed(points):
    return np.round(np.asarray(points) * (1 << SHIFT_BITS)).astype(np.int32)


def blank(grid):
    return np.zeros(grid, np.uint8)


def cover_of(ink):
    return ink.astype(np.float32) / 255


def filled(grid, points):
    """Cover of a polygon's inside."""
    ink = blank(grid)
    cv2.fillPoly(ink, [_fixed(points)], 255, cv2.LINE_AA, SHIFT_BITS)
    return cover_of(ink)


def stroke(ink, points, strength, width_px):
    cv2.polylines(ink, [_fixed(points)], False, strength, max(1, int(round(width_px))), cv2.LINE_AA, SHIFT_BITS)


def dot(ink, middle, radius_px):
    cv2.circle(ink, tuple(int(v) for v in middle), radius_px, 255, -1)


def spline(points, steps=12, closed=True):
    """A Catmull-Rom curve through the points."""
    points = np.asarray(points, float)
    count = len(points)

    def at(k):
        return points[k % count] if closed else points[min(max(k, 0), count - 1)]

    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    pieces = []
    for k in range(count if closed else count - 1):
        p0, p1, p2, p3 = at(k - 1), at(k), at(k + 1), at(k + 2)
        pieces.append(0.5 * (2 * p1 + (p2 - p0) * t + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t * t
                             + (3 * p1 - p0 - 3 * p2 + p3) * t ** 3))
    return np.concatenate(pieces)


def rotation(angle):
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def direction(angle):
    return np.array([math.cos(angle), math.sin(angle)])


def length(vector):
    return np.hypot(*vector)


def unit(vector):
    return vector / np.hypot(*vector)


def left_of(vector):
    return np.array([-vector[1], vector[0]])


def shift(dx_px, dy_px):
    """The matrix that moves a picture, for cv2.warpAffine."""
    return np.array([[1, 0, dx_px], [0, 1, dy_px]], np.float32)


def distance_mm(region):
    """Of every pixel inside the region to its border."""
    return cv2.distanceTransform(region.astype(np.uint8), cv2.DIST_L2, 3) / PX_PER_MM


def widened(region, size_px):
    return cv2.dilate(region.astype(np.uint8), np.ones((size_px, size_px))).astype(bool)


def largest_part(region):
    """The largest connected part, or None."""
    count, labels, numbers, _ = cv2.connectedComponentsWithStats(region.astype(np.uint8))
    return labels == 1 + np.argmax(numbers[1:, cv2.CC_STAT_AREA]) if count > 1 else None


def window_of(points, grid, before_px, after_px):
    """x0, y0, x1, y1 of a box around the points, within the grid."""
    x0, y0 = np.maximum(np.floor(points.min(0)).astype(int) - before_px, 0)
    x1, y1 = np.ceil(points.max(0)).astype(int) + after_px
    return x0, y0, min(x1, grid[1]), min(y1, grid[0])


def hull_of(cover, threshold):
    """Convex hull of what lies above the threshold, or None."""
    ys, xs = np.nonzero(cover > threshold)
    if len(xs) < 8:
        return None
    return cv2.convexHull(np.stack([xs, ys], 1).astype(np.int32))[:, 0].astype(float)


def hull_of_points(points):
    return cv2.convexHull(points.astype(np.float32))[:, 0].astype(float)


def contour_of(cover, tolerance_px):
    """Outline of the largest part above a half, or None."""
    contours, _ = cv2.findContours((cover > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    polygon = cv2.approxPolyDP(max(contours, key=cv2.contourArea), tolerance_px, True)[:, 0].astype(float)
    return polygon if len(polygon) >= 3 else None


def extent_mm(polygon):
    """The longest distance between two of its corners."""
    apart = polygon[:, None] - polygon[None]
    return math.sqrt((apart ** 2).sum(-1).max()) / PX_PER_MM


def circle(middle, radius, corners=20):
    turn = np.arange(corners) * 2 * np.pi / corners
    return middle + radius * np.stack([np.cos(turn), np.sin(turn)], 1)
