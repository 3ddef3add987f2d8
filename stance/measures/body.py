"""Geometry of a pose on the court: where feet, knees and hips are, from landmarks and camera.

Feet lie on the calibrated floor, hips and shoulders come from the pose model's world landmarks
turned by the viewing ray and the camera. Names, signs and units: docs/definitions.md. What
the pose model is known to get wrong is not corrected here but in `stance.measures.orientation`.
"""

import numpy as np

from stance.court.camera import Camera, crop_rotation
from stance.people.landmarks import LEFT_HIP, RIGHT_HIP
from stance.types import FloatArray, Hand


def line_yaw(other: FloatArray, racket: FloatArray, hand: Hand) -> FloatArray:
    """Angle of the line other side -> racket side, seen from above, against the net line.

    Parameters
    ----------
    other, racket
        (..., 2 or 3) metres, court frame
    hand
        "right" or "left"

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
    camera
        of the picture, in the frame of a half
    pixels
        (33, 2) pixels
    world
        (33, 3) metres, the landmarker's frame

    Returns
    -------
    (33, 3) metres from the middle of the hips, court axes
    """
    middle = pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
    return np.asarray(world @ crop_rotation(camera, middle).T)
