"""Geometry of a pose on the court: where feet, knees and hips are, from landmarks and camera.

Feet lie on the calibrated floor, hips and shoulders come from the pose model's world landmarks
turned by the viewing ray and the camera. Names, signs and units: docs/definitions.md. What
the pose model is known to get wrong is not mended here but in `stance.directions`.
"""

import numpy as np
import numpy.typing as npt

from stance.camera import Camera, crop_rotation, depth, floor_point
from stance.poses import (
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_TOE,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_TOE,
)

FloatArray = npt.NDArray[np.float64]

# Heights above the floor, metres, at which the pose model's heel and toe landmarks of a standing
# foot lie; common practice, roughly the middle of a shoe's sole and upper.
HEEL_HEIGHT = 0.03
TOE_HEIGHT = 0.02


def side_indices(hand: str, left: int, right: int) -> tuple[int, int]:
    """Return the landmark numbers of a pair as (racket side, other side)."""
    return (right, left) if hand == "right" else (left, right)


def line_yaw(other: FloatArray, racket: FloatArray, hand: str) -> FloatArray:
    """Angle of the line other side -> racket side, seen from above, against the net line.

    Parameters
    ----------
    other, racket : (..., 2 or 3) metres, court frame
    hand : "right" or "left"

    Returns
    -------
    (...) degrees in (-180, 180]; 0 = square to the net, negative = racket side back
    """
    side = 1.0 if hand == "right" else -1.0
    step = racket - other
    return np.degrees(np.arctan2(step[..., 1], side * step[..., 0]))


def world_in_court(camera: Camera, pixels: FloatArray, world: FloatArray) -> FloatArray:
    """Turn world landmarks into the court's axes.

    The pose model gives landmarks as seen by a camera that looks straight at the person; the
    viewing ray of the middle of the hips and the camera's orientation bring them to the court.

    Parameters
    ----------
    camera : Camera
    pixels : (33, 2) pixels
    world : (33, 3) metres, the landmarker's frame

    Returns
    -------
    (33, 3) metres from the middle of the hips, court axes
    """
    middle = pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
    return np.asarray(world @ crop_rotation(camera, middle).T)


def feet_on_floor(camera: Camera, pixels: FloatArray, hand: str) -> FloatArray:
    """Heels and toes on the floor.

    Parameters
    ----------
    camera : Camera
    pixels : (..., 33, 2) pixels
    hand : "right" or "left"

    Returns
    -------
    (..., 2, 2, 2) metres, court frame: (racket, other) foot, (heel, toe), (x, y); NaN above
    the horizon
    """
    heels_and_toes = np.stack([side_indices(hand, LEFT_HEEL, RIGHT_HEEL),
                               side_indices(hand, LEFT_TOE, RIGHT_TOE)], axis=-1)
    heights = np.array([HEEL_HEIGHT, TOE_HEIGHT])
    return floor_point(camera, pixels[..., heels_and_toes, :], heights)[..., :2]


def base_on_floor(camera: Camera, pixels: FloatArray) -> FloatArray:
    """Midpoint of the feet on the floor.

    Parameters
    ----------
    camera : Camera
    pixels : (..., 33, 2) pixels

    Returns
    -------
    (..., 2) metres, court frame
    """
    return np.asarray(feet_on_floor(camera, pixels, "right").mean(axis=(-3, -2)))


def metres_per_pixel(camera: Camera, pixels: FloatArray) -> FloatArray:
    """Size of a pixel at a player's distance, across the viewing direction.

    Parameters
    ----------
    camera : Camera
    pixels : (looks, 33, 2) pixels

    Returns
    -------
    (looks,) metres
    """
    base = base_on_floor(camera, pixels)
    points = np.concatenate([base, np.zeros((*base.shape[:-1], 1))], axis=-1)
    return np.asarray(depth(camera, points) / camera.matrix[0, 0])
