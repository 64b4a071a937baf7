"""The camera: how it is tilted over the table, the light that falls into it, its lens and its sensor."""

import math

import cv2
import numpy as np

from light_and_noise import blur, noise, srgb
from measures import PHOTO_HEIGHT_PX, PHOTO_PX_PER_MM, PHOTO_WIDTH_PX, PX_PER_MM
from shapes import rotation

MIDDLE_PX = np.array([PHOTO_WIDTH_PX / 2, PHOTO_HEIGHT_PX / 2])


def through(matrix, points):
    q = np.hstack([np.asarray(points, float), np.ones((len(points), 1))]) @ matrix.T
    return q[:, :2] / q[:, 2:]


class Camera:
    """photo_from_table: both in px, the table's at PHOTO_PX_PER_MM; px_per_mm: in the middle of the photograph."""

    def __init__(self, rng):
        tilt_x, tilt_y = rng.normal(0, 9e-6, 2)
        scale = rng.uniform(0.965, 1.04)
        turn = rotation(rng.normal(0, 0.008)) * scale
        to_middle = np.array([[1, 0, -MIDDLE_PX[0]], [0, 1, -MIDDLE_PX[1]], [0, 0, 1]])
        from_middle = np.array([[1, 0, MIDDLE_PX[0]], [0, 1, MIDDLE_PX[1]], [0, 0, 1]])
        moved = np.array([[*turn[0], rng.normal(0, 6)], [*turn[1], rng.normal(0, 6)], [tilt_x, tilt_y, 1]])
        self.photo_from_table = from_middle @ moved @ to_middle
        self.table_from_photo = np.linalg.inv(self.photo_from_table)
        self.px_per_mm = self._px_per_mm()

    def _px_per_mm(self):
        at = through(self.table_from_photo, [MIDDLE_PX])[0]
        one_mm = through(self.photo_from_table, [at, at + [PHOTO_PX_PER_MM, 0], at + [0, PHOTO_PX_PER_MM]])
        return math.sqrt(abs(np.linalg.det(np.array([one_mm[1] - one_mm[0], one_mm[2] - one_mm[0]]))))

    def photo_from_grid(self, middle_px, middle_mm, angle):
        """Of a thing whose middle lies at middle_mm on the table."""
        turn = rotation(angle) * PHOTO_PX_PER_MM / PX_PER_MM
        origin = middle_mm * PHOTO_PX_PER_MM - turn @ middle_px
        return self.photo_from_table @ np.vstack([np.hstack([turn, origin[:, None]]), [0, 0, 1]])


def lay_into(photo, shaded, photo_from_grid):
    """Lays a shaded thing and its shadow into the light of the photograph."""
    height, width = shaded.cover.shape
    corners = through(photo_from_grid, [(0, 0), (width, 0), (width, height), (0, height)])
    x0, y0 = np.maximum(np.floor(corners.min(0)).astype(int), 0)
    x1, y1 = np.minimum(np.ceil(corners.max(0)).astype(int), [PHOTO_WIDTH_PX, PHOTO_HEIGHT_PX])
    window_from_grid = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1.0]]) @ photo_from_grid
    light, cover, shadow = (cv2.warpPerspective(plane, window_from_grid, (int(x1 - x0), int(y1 - y0)), flags=cv2.INTER_LINEAR)
                            for plane in (shaded.light, shaded.cover, shaded.shadow))
    photo[y0:y1, x0:x1] = photo[y0:y1, x0:x1] * (1 - shadow)[..., None] * (1 - cover)[..., None] + light


def _from_middle_px():
    y_px, x_px = np.mgrid[0:PHOTO_HEIGHT_PX, 0:PHOTO_WIDTH_PX].astype(np.float32)
    return x_px - MIDDLE_PX[0], y_px - MIDDLE_PX[1]


def draw_lamp(rng, to_light):
    """Factor [h, w]: brighter towards the lamp, a little uneven."""
    x_px, y_px = _from_middle_px()
    falling = rng.uniform(0.05, 0.2)
    uneven = 0.02 * noise(rng, PHOTO_HEIGHT_PX, PHOTO_WIDTH_PX, 1500, 2)
    return 1 + falling * ((x_px * to_light[0] + y_px * to_light[1]) / PHOTO_WIDTH_PX) + uneven


def expose(rng, light):
    """(uint8 [h, w, 3], sigma of the lens's blur): vignette, white balance, blur, noise of photons and of the sensor."""
    blur_px = rng.uniform(0.45, 0.95)
    x_px, y_px = _from_middle_px()
    away = (x_px ** 2 + y_px ** 2) / MIDDLE_PX[0] ** 2
    light = light * (1 - rng.uniform(0.05, 0.2) * away / 1.44)[..., None]
    balance = np.array(1 + rng.normal(0, 1, 3) * [0.035, 0.012, 0.05], np.float32)
    light = blur(light * balance * rng.uniform(0.88, 1.02), blur_px)
    random = rng.standard_normal(light.shape, dtype=np.float32)
    light = light + random * np.sqrt(np.clip(light, 0, 1) * rng.uniform(2e-5, 1e-4) + rng.uniform(2e-7, 2e-6))
    return np.round(srgb(light) * 255).astype(np.uint8), blur_px
