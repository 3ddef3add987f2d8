"""Shadows of figures on the floor."""

import numba
import numpy as np
from scipy.ndimage import gaussian_filter

from tests.rendering.arrays import FloatArray
from tests.rendering.shading import Lighting


def floor_shadow(
    place: FloatArray, figures: list[FloatArray], lighting: Lighting, softness: float
) -> FloatArray:
    """Light left on the floor, (h, w) in 0..1, under and beside figures.

    Parameters
    ----------
    place : (h, w, 2) array
        Where each pixel shows the floor (NaN elsewhere).
    figures : list of (n, 3) arrays
        Vertices of the figures, court frame, metres.
    lighting : Lighting
        Whose lamps cast the shadows.
    softness : float
        Radius of the shadows' soft edge, metres.
    """
    light = np.ones(place.shape[:2], dtype=np.float32)
    for vertices in figures:
        light *= _shadow_of_figure(place, vertices, lighting, softness)
    return light


def _shadow_of_figure(
    place: FloatArray, vertices: FloatArray, lighting: Lighting, softness: float
) -> FloatArray:
    step, count = 0.025, 160
    origin = vertices[:, :2].mean(axis=0) - 0.5 * step * count
    ambient = float(lighting.ambient.mean())
    lamps = lighting.strengths.mean(axis=1)
    total = ambient + float((lamps * lighting.directions[:, 2]).sum())
    dark = np.zeros((count, count))
    contact = np.exp(-vertices[:, 2] / 0.12)
    splats = [(vertices[:, :2], contact, 0.35, 0.035), (vertices[:, :2], 1.0, 0.3, 0.3)]
    for direction, strength in zip(lighting.directions, lamps, strict=True):
        cast = vertices[:, :2] - vertices[:, 2:] * direction[:2] / direction[2]
        splats.append((cast, 1.0, float(strength * direction[2]) / total, softness))
    for points, weight, depth, blur in splats:
        cell = ((points - origin) / step).astype(int)
        keep = ((cell >= 0) & (cell < count)).all(axis=1)
        flat = cell[keep, 0] * count + cell[keep, 1]
        weights = np.broadcast_to(weight, len(points))[keep]
        hits = np.bincount(flat, weights, minlength=count * count).reshape(count, count)
        solid = np.minimum(gaussian_filter(np.minimum(hits, 3.0) / 2.0, 1.2), 1.0)
        dark += depth * gaussian_filter(solid, blur / step)
    return _sample_light(place, origin, step, np.minimum(dark, 0.85))


@numba.njit(cache=True, fastmath=False)
def _sample_light(place, origin, step, dark):
    """One minus the darkness at each floor place, bilinear between grid cells."""
    height, width = place.shape[0], place.shape[1]
    light = np.ones((height, width), dtype=np.float32)
    for row in range(height):
        for column in range(width):
            x = (place[row, column, 0] - origin[0]) / step - 0.5
            y = (place[row, column, 1] - origin[1]) / step - 0.5
            if not (0 <= x < dark.shape[0] - 1 and 0 <= y < dark.shape[1] - 1):
                continue
            i, j = int(x), int(y)
            u, v = x - i, y - j
            low = dark[i, j] * (1 - v) + dark[i, j + 1] * v
            high = dark[i + 1, j] * (1 - v) + dark[i + 1, j + 1] * v
            light[row, column] = 1.0 - (low * (1 - u) + high * u)
    return light
