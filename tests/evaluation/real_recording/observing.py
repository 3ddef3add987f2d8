"""The pose model's observations of the recorded person."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import cv2
import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, depth, project
from stance.people.landmarker import Landmarker
from stance.people.landmarks import (
    Box,
    Pose,
)
from stance.types import FloatArray
from stance.video.reader import read_frames_at
from tests.evaluation.real_recording.recording import read_cameras, video

PERSON_HEIGHT = 1.8


def person_box(camera: Camera, middle: FloatArray) -> Box:
    """Return the square, 1.5 times as high as the person, around a place (3,) of the person."""
    side = 1.5 * PERSON_HEIGHT * camera.matrix[0, 0] / float(depth(camera, middle))
    x, y = project(camera, middle) - side / 2
    return Box(float(x), float(y), side)


def observe_both_ways(
    landmarker: Landmarker, image: npt.NDArray[np.uint8], box: Box
) -> list[Pose | None]:
    """Return the poses of a crop and of its mirror image, both for the unmirrored person."""
    return [landmarker.detect(image, box, mirror=mirror) for mirror in (False, True)]


def observe_person(
    landmarker: Landmarker, frames: Sequence[int], middles: FloatArray
) -> list[list[list[Pose | None]]]:
    """Look at the person in all cameras.

    Parameters
    ----------
    frames : frame numbers
    middles : (frames, 3) metres, middle of the hips

    Returns
    -------
    For each camera and frame, the two poses that `observe_both_ways` gives.
    """
    return [
        [
            observe_both_ways(landmarker, frame.image, person_box(camera, middle))
            for frame, middle in zip(read_frames_at(video(index), frames), middles, strict=True)
        ]
        for index, camera in enumerate(read_cameras())
    ]


def turned_aside(
    camera: Camera, image: npt.NDArray[np.uint8], degrees: float
) -> tuple[Camera, npt.NDArray[np.uint8]]:
    """Return the camera and the picture as if the phone had been turned about its upright axis.

    A camera that turns on the spot sees the same rays in other places, so the turned picture
    is exact. It is made wide enough to keep the middle of the old one.
    """
    width, height = camera.image_size
    wide = 2 * width
    matrix = camera.matrix.copy()
    matrix[0, 2] = wide / 2
    turn = Rotation.from_rotvec([0.0, degrees, 0.0], degrees=True).as_matrix()
    turned = replace(
        camera,
        matrix=matrix,
        rotation=turn @ camera.rotation,
        translation=turn @ camera.translation,
        image_size=(wide, height),
    )
    # OpenCV's pixel centres are at whole numbers, ours at .5.
    half = np.array([[1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, 0.0, 1.0]])
    pixels = np.linalg.inv(half) @ matrix @ turn @ np.linalg.inv(camera.matrix) @ half
    return turned, np.asarray(cv2.warpPerspective(image, pixels, (wide, height)), np.uint8)


def mean_pose(observed: Iterable[Pose | None]) -> Pose | None:
    """Return the mean of those observations that found somebody."""
    found = [pose for pose in observed if pose is not None]
    if not found:
        return None
    return Pose(
        np.mean([pose.pixels for pose in found], axis=0),
        np.mean([pose.visibility for pose in found], axis=0),
        np.mean([pose.world for pose in found], axis=0),
    )
