"""Viewing rays through a picture's pixels, and what share of a pixel something covers."""

import numba
import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.raster import Window


def pixel_rays(camera: ViewCamera, window: Window) -> FloatArray:
    """Viewing rays (h, w, 3) through the pixels' centres, court frame, not of unit length."""
    middle = camera.matrix[:2, 2] - (window.left, window.top)
    shape = (window.height, window.width)
    if camera.wide is not None:
        rows, columns = np.indices(shape) + 0.5
        shown = (np.stack([columns, rows], axis=-1) - middle) / camera.focal
        plane = camera.wide.straighten(shown)
        return np.concatenate([plane, np.ones((*shape, 1))], axis=-1) @ camera.rotation
    return _rays(shape, middle, camera.focal, camera.distortion, camera.rotation)


@numba.njit(cache=True, fastmath=True)
def overlap(low, high, middle, width):
    """Share of the interval of a width around a middle that lies between low and high."""
    start, end = max(low, middle - width / 2), min(high, middle + width / 2)
    return max(end - start, 0.0) / width


@numba.njit(cache=True, fastmath=True)
def _rays(shape, middle, focal, distortion, rotation):
    """Rays (h, w, 3); `middle` (2,) is the principal point from the window's corner."""
    rays = np.empty((shape[0], shape[1], 3))
    for row in range(shape[0]):
        for column in range(shape[1]):
            shown_x = (column + 0.5 - middle[0]) / focal
            shown_y = (row + 0.5 - middle[1]) / focal
            x, y = shown_x, shown_y
            for _ in range(4 if distortion != 0.0 else 0):
                scale = 1.0 + distortion * min(x * x + y * y, 1.0)
                x, y = shown_x / scale, shown_y / scale
            for k in range(3):
                rays[row, column, k] = x * rotation[0, k] + y * rotation[1, k] + rotation[2, k]
    return rays
