"""Where a pose stands on the floor: feet, base, scale."""

import numpy as np

from stance.court.camera import Camera, depth, floor_point
from stance.people.landmarks import LEFT_HEEL, LEFT_TOE, RIGHT_HEEL, RIGHT_TOE, side_indices
from stance.types import FloatArray, Hand

# Heights above the floor, metres, at which the pose model's heel and toe landmarks of a standing
# foot lie; common practice, roughly the middle of a shoe's sole and upper.
HEEL_HEIGHT = 0.03

TOE_HEIGHT = 0.02


def feet_on_floor(camera: Camera, pixels: FloatArray, hand: Hand) -> FloatArray:
    """Heels and toes on the floor.

    Parameters
    ----------
    camera
        that took the picture
    pixels
        (..., 33, 2) pixels
    hand
        "right" or "left"

    Returns
    -------
    (..., 2, 2, 2) metres, court frame: (racket, other) foot, (heel, toe), (x, y); NaN above
    the horizon
    """
    heels_and_toes = np.stack(
        [side_indices(hand, LEFT_HEEL, RIGHT_HEEL), side_indices(hand, LEFT_TOE, RIGHT_TOE)],
        axis=-1,
    )
    heights = np.array([HEEL_HEIGHT, TOE_HEIGHT])
    return floor_point(camera, pixels[..., heels_and_toes, :], heights)[..., :2]


def base_on_floor(camera: Camera, pixels: FloatArray) -> FloatArray:
    """Midpoint of the feet on the floor.

    Parameters
    ----------
    camera
        that took the picture
    pixels
        (..., 33, 2) pixels

    Returns
    -------
    (..., 2) metres, court frame
    """
    return np.asarray(feet_on_floor(camera, pixels, "right").mean(axis=(-3, -2)))


def metres_per_pixel(camera: Camera, pixels: FloatArray) -> FloatArray:
    """Size of a pixel at a player's distance, across the viewing direction.

    Parameters
    ----------
    camera
        that took the picture
    pixels
        (observations, 33, 2) pixels

    Returns
    -------
    (observations,) metres
    """
    base = base_on_floor(camera, pixels)
    points = np.concatenate([base, np.zeros((*base.shape[:-1], 1))], axis=-1)
    return np.asarray(depth(camera, points) / camera.matrix[0, 0])
