"""The pose model's own 3D landmarks in the court's axes: what the naive estimate goes by."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, viewing_ray
from stance.people.landmarks import LEFT_HIP, RIGHT_HIP
from stance.types import FloatArray


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


def crop_rotation(camera: Camera, pixel: ArrayLike) -> FloatArray:
    """Turn from a camera that looks straight at a pixel to the court's axes.

    A pose model sees a person as if the crop's middle were the picture's middle, so its 3D
    landmarks are relative to a virtual camera that looks along this pixel's ray. The virtual
    camera is the real one turned by the smallest rotation that does it.

    Parameters
    ----------
    pixel
        (2,) the middle of the crop.

    Returns
    -------
    (3, 3) rotation: virtual camera axes (x right, y down, z away) to court axes.
    """
    ray = camera.rotation @ viewing_ray(camera, pixel)
    sine = np.hypot(ray[0], ray[1])
    axis = np.array([-ray[1], ray[0], 0.0]) / max(sine, 1e-300)
    turn = Rotation.from_rotvec(axis * np.arctan2(sine, ray[2])).as_matrix()
    return camera.rotation.T @ turn
