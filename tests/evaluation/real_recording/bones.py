"""Lengths of bones, and the triangulation in which they stay the same."""

from collections.abc import Sequence

import numpy as np
from scipy.optimize import least_squares

from stance.court.camera import Camera, project
from stance.types import FloatArray
from tests.evaluation.real_recording.reference import JOINT_NAMES, JOINTS
from tests.evaluation.real_recording.triangulation import OUTLYING_PIXELS

BONES = (
    ("left_hip", "right_hip"),
    ("left_shoulder", "right_shoulder"),
    ("left_hip", "left_knee"),
    ("right_hip", "right_knee"),
    ("left_knee", "left_ankle"),
    ("right_knee", "right_ankle"),
)
LEFT_AND_RIGHT_BONES = ((2, 3), (4, 5))
# How exactly bones keep their length in the second triangulation, metres.
BONE_SPREAD = 0.003


def bone_lengths(positions: FloatArray) -> FloatArray:
    """Return the lengths (frames, bones), metres, of joints (frames, joints, 3)."""
    ends = np.array([[JOINT_NAMES.index(name) for name in bone] for bone in BONES]).T
    return np.asarray(np.linalg.norm(positions[:, ends[0]] - positions[:, ends[1]], axis=-1))


def with_equal_bones(
    cameras: Sequence[Camera], pixels: FloatArray, weights: FloatArray, positions: FloatArray
) -> FloatArray:
    """Triangulate again, with bones of constant length and legs of equal length.

    This shows how far systematic errors of the landmarks, which all four cameras share, may
    have moved the reference.

    Parameters
    ----------
    pixels : (views, frames, joints, 2)
    weights : (views, frames, joints)
    positions : (frames, joints, 3) metres, the free triangulation

    Returns
    -------
    (frames, joints, 3) metres
    """
    lengths = np.median(bone_lengths(positions), axis=0)
    for pair in LEFT_AND_RIGHT_BONES:
        lengths[list(pair)] = lengths[list(pair)].mean()

    def residuals(places: FloatArray, frame: int) -> FloatArray:
        joints = places.reshape(len(JOINTS), 3)
        missed = pixels[:, frame] - np.array([project(camera, joints) for camera in cameras])
        squares = weights[:, frame] * np.sum(missed**2, axis=-1) / OUTLYING_PIXELS**2
        stretched = (bone_lengths(joints[None])[0] - lengths) / BONE_SPREAD
        return np.concatenate([np.sqrt(np.log1p(squares)).ravel(), stretched])

    return np.array(
        [
            least_squares(residuals, place.ravel(), args=(frame,)).x.reshape(len(JOINTS), 3)
            for frame, place in enumerate(positions)
        ]
    )
