"""Court files as a coach would mark them."""

from itertools import combinations
from typing import Any

import numpy as np

from stance.court.dimensions import court_points
from tests.rendering.arrays import FloatArray
from tests.rendering.cameras import ViewCamera
from tests.rendering.clips import Clip

COURT_SCHEMA = "stance-court/1"
SMALLEST_TRIANGLE_M2 = 0.5


def marked_court(clip: Clip, noise_px: float, seed: int, most: int = 16) -> dict[str, Any]:
    """A court file as a coach would mark it: visible floor points, with marking noise.

    Parameters
    ----------
    clip : Clip
        The clip whose camera is used.
    noise_px : float
        Standard deviation of the marks, pixels.
    seed : int
        Of the marking noise.
    most : int
        How many points at most, spread over the picture.
    """
    return mark_seen(clip.camera, noise_px, seed, most)


def mark_seen(camera: ViewCamera, noise_px: float, seed: int, most: int) -> dict[str, Any]:
    """The same for a camera without a clip."""
    rng = np.random.default_rng(seed)
    places = [p for name, p in court_points().items() if name.endswith(("corner", "centre"))]
    floor = np.array([[x, y, 0.0] for x, y in places])
    shown = camera.project(floor)
    size = np.array(camera.size)
    inside = (shown[:, :2] > 6).all(axis=1) & (shown[:, :2] < size - 6).all(axis=1)
    visible = np.flatnonzero(inside & (shown[:, 2] > 0.5))
    chosen = _spread(shown[visible, :2], most)
    points = []
    for index in visible[chosen]:
        pixel = shown[index, :2] + rng.normal(0, noise_px, 2)
        points.append(
            {
                "court": [round(float(v), 3) for v in floor[index, :2]],
                "pixel": [round(float(v), 1) for v in pixel],
            }
        )
    return {
        "schema": COURT_SCHEMA,
        "image_size": list(camera.size),
        "points": four_apart_first(points),
    }


def four_apart_first(points: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The points of a court file, first four of which no three lie near one line (if there are)."""
    for four in combinations(range(len(points)), 4):
        corners = np.array([points[k]["court"] for k in four])
        sides = [corners[list(three)] for three in combinations(range(4), 3)]
        areas = [abs(np.linalg.det(np.stack([b - a, c - a]))) / 2 for a, b, c in sides]
        if min(areas) > SMALLEST_TRIANGLE_M2:
            return [points[k] for k in four] + [
                point for k, point in enumerate(points) if k not in four
            ]
    return points


def _spread(pixels: FloatArray, most: int) -> list[int]:
    """Indices of up to `most` pixels (n, 2), each as far as can be from those before it."""
    chosen = [int(np.argmax(pixels[:, 1]))]
    while len(chosen) < min(most, len(pixels)):
        apart = np.linalg.norm(pixels[:, None] - pixels[chosen][None], axis=-1).min(axis=1)
        chosen.append(int(np.argmax(apart)))
    return chosen
