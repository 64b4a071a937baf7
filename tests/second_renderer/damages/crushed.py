import cv2
import numpy as np

from light_and_noise import blur, smoothstep
from measures import PX_PER_MM
from places import beyond_blot_mm, room_mm, spot
from shapes import blank, contour_of, cover_of, extent_mm, stroke
from sizes import draw_size, severity

LIMITS_MM = 10, 14, 20, 28, 38
STEEPEST = 0.6


def draw(envelope):
    """A part crumpled into flat facets of two sizes, with sharp ridges that are darker or paler. Truth: the crumpled part."""
    rng = envelope.rng
    radius_mm = draw_size(rng, LIMITS_MM, room_mm(envelope))
    middle = spot(envelope, 6)
    beyond_mm = beyond_blot_mm(envelope, middle, radius_mm * 0.95, 0.2, 12)
    region = (beyond_mm < -0.3) & envelope.face
    crumpled = smoothstep(1.5, -2.5, beyond_mm) * envelope.mask
    slope_x, slope_y, ridges = _facets(rng, envelope.grid, middle, radius_mm)
    jitter_x, jitter_y = envelope.noise(25, 3) * 2.2, envelope.noise(25, 3) * 2.2

    def uneven(field):
        return cv2.remap(field, envelope.x_px + jitter_x, envelope.y_px + jitter_y, cv2.INTER_LINEAR)

    strength, wear = rng.uniform(0.8, 1.25), rng.uniform(-0.15, 0.22)
    if region.sum() < 60 * PX_PER_MM ** 2:
        return False
    envelope.slope_x += blur(uneven(slope_x), 1.6) * crumpled * strength
    envelope.slope_y += blur(uneven(slope_y), 1.6) * crumpled * strength
    worn = blur(uneven(cover_of(ridges)), 0.8) * crumpled
    envelope.albedo *= (1 + wear * worn)[..., None]
    polygon = contour_of(region, 4)
    envelope.find("crushed", severity(LIMITS_MM, extent_mm(polygon) / 2), polygon)
    return True


def _facets(rng, grid, middle, radius_mm):
    """(slope x, slope y, ink of the ridges) of two triangulations, a coarse and a fine one."""
    slope_x, slope_y = np.zeros(grid, np.float32), np.zeros(grid, np.float32)
    ridges = blank(grid)
    coarse_mm, fine_mm = rng.uniform(4.5, 7), rng.uniform(1.8, 2.8)
    for spacing_mm, steepness in ((coarse_mm, 0.30), (fine_mm, 0.22)):
        count = int((2 * radius_mm + 8) ** 2 / spacing_mm ** 2 * 1.3)
        points = middle + rng.uniform(-radius_mm - 4, radius_mm + 4, (count, 2)) * PX_PER_MM
        heights_mm = rng.normal(0, spacing_mm * steepness * 0.55, count)
        for corners, corner_heights_mm in _triangles(points, heights_mm):
            sides = np.array([corners[1] - corners[0], corners[2] - corners[0]]) / PX_PER_MM
            if abs(np.linalg.det(sides)) < 0.3:
                continue
            rise_mm = [corner_heights_mm[1] - corner_heights_mm[0], corner_heights_mm[2] - corner_heights_mm[0]]
            slope = np.clip(np.linalg.solve(sides, rise_mm), -STEEPEST, STEEPEST)
            if not _add_facet(slope_x, slope_y, np.round(corners).astype(np.int32), slope):
                continue
            for k in range(3):
                if rng.random() < 0.22:
                    stroke(ridges, [corners[k], corners[(k + 1) % 3]], int(rng.uniform(80, 255)), 1)
    return slope_x, slope_y, ridges


def _triangles(points, heights_mm):
    """(corners [3, 2], their heights) of the Delaunay triangulation."""
    plane = cv2.Subdiv2D((-5000, -5000, 12000, 12000))
    height_at = {}
    for point, height_mm in zip(points, heights_mm):
        plane.insert((float(point[0]), float(point[1])))
        height_at[_key(point.astype(np.float32))] = height_mm
    for triangle in plane.getTriangleList():
        corners = triangle.reshape(3, 2).astype(float)
        found = [height_at.get(_key(corner)) for corner in corners]
        if None not in found:   # not one with the outer corners of the plane
            yield corners, found


def _key(point):
    return round(float(point[0]), 2), round(float(point[1]), 2)


def _add_facet(slope_x, slope_y, corners, slope):
    """Whether any of it may lie on the grid."""
    x0, y0 = np.maximum(corners.min(0), 0)
    x1, y1 = corners.max(0) + 1
    if x1 <= x0 or y1 <= y0:
        return False
    facet = np.zeros((y1 - y0, x1 - x0), np.uint8)
    cv2.fillConvexPoly(facet, corners - [x0, y0], 1)
    height, width = slope_x.shape
    facet = facet.astype(np.float32)[:max(0, height - y0), :max(0, width - x0)]
    slope_x[y0:y1, x0:x1] += facet * slope[0]
    slope_y[y0:y1, x0:x1] += facet * slope[1]
    return True
