"""The reference, made from the four videos."""

from collections.abc import Sequence

import numpy as np
from scipy.signal import savgol_filter

from stance.court.camera import Camera
from stance.people.landmarker import Landmarker
from stance.people.landmarks import (
    LEFT_HIP,
    RIGHT_HIP,
    Box,
)
from stance.types import FloatArray
from stance.video.reader import read_frames_at
from tests.evaluation.real_recording import markers
from tests.evaluation.real_recording.bones import with_equal_bones
from tests.evaluation.real_recording.observing import mean_pose, observe_person
from tests.evaluation.real_recording.recording import CAMERAS, read_cameras, video
from tests.evaluation.real_recording.reference import (
    JOINTS,
    LANDMARK_OF_JOINT,
    Reference,
    joint_directions,
)
from tests.evaluation.real_recording.triangulation import triangulate, unswap

FRAMES = range(0, 100, 2)
# Where the person is in frame 0 of each camera; later boxes follow the person.
FIRST_BOXES = (Box(50, 150, 1150), Box(170, 180, 1150), Box(210, 280, 1150), Box(0, 330, 1200))


def build_reference() -> Reference:
    """Triangulate the person from all four cameras with the heavy model."""
    cameras = read_cameras()
    frames = list(FRAMES)
    with Landmarker("heavy") as landmarker:
        middles = _first_middles(landmarker, cameras, frames)
        poses = observe_person(landmarker, frames, middles)
    found = [[mean_pose(pair) for pair in of_camera] for of_camera in poses]
    pixels = np.full((CAMERAS, len(frames), len(JOINTS), 2), 0.0)
    weights = np.zeros(pixels.shape[:3])
    for view, frame in np.ndindex(CAMERAS, len(frames)):
        pose = found[view][frame]
        if pose is not None:
            pixels[view, frame] = pose.pixels[LANDMARK_OF_JOINT]
            weights[view, frame] = np.clip(pose.visibility[LANDMARK_OF_JOINT], 0.05, 1.0)
    swapped = unswap(cameras, pixels, weights)
    flat_pixels, flat_weights = pixels.reshape(CAMERAS, -1, 2), weights.reshape(CAMERAS, -1)
    shifts = _shifts(cameras, flat_pixels, flat_weights)
    flat_pixels = flat_pixels - shifts[:, None]

    def smooth_places(views: Sequence[int]) -> tuple[FloatArray, FloatArray]:
        chosen = list(views)
        places, missed, _ = triangulate(
            [cameras[view] for view in chosen], flat_pixels[chosen], flat_weights[chosen]
        )
        steady = savgol_filter(places.reshape(len(frames), -1), 5, 2, axis=0)
        return steady.reshape(len(frames), len(JOINTS), 3), missed

    positions, missed = smooth_places(range(CAMERAS))
    error = np.sqrt(np.mean(np.sum(missed**2, axis=-1), axis=0)).reshape(len(frames), -1)
    without = tuple(
        joint_directions(smooth_places([v for v in range(CAMERAS) if v != view])[0])
        for view in range(CAMERAS)
    )
    shifted = flat_pixels.reshape(pixels.shape)
    equal_bones = joint_directions(with_equal_bones(cameras, shifted, weights, positions))
    return Reference(
        np.array(frames),
        positions,
        error,
        shifts,
        swapped,
        without,
        equal_bones,
        *_markers(cameras, frames, shifts),
    )


def _markers(
    cameras: Sequence[Camera],
    frames: Sequence[int],
    shifts: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Triangulate the markers on the pelvis: (frames, 2, 3) metres, (frames, 2) pixels off."""
    views = list(markers.VIEWS)
    pixels = (
        np.array(
            [markers.marker_places(view, read_frames_at(video(view), frames)) for view in views]
        )
        - shifts[views][:, None, None]
    )
    flat = pixels.reshape(len(views), -1, 2)
    places, missed, _ = triangulate(
        [cameras[view] for view in views], flat, np.ones(flat.shape[:2])
    )
    error = np.linalg.norm(missed, axis=-1).max(axis=0)
    return places.reshape(len(frames), 2, 3), error.reshape(len(frames), 2)


def _first_middles(
    landmarker: Landmarker, cameras: Sequence[Camera], frames: Sequence[int]
) -> FloatArray:
    """Follow the person from `FIRST_BOXES` and triangulate the middle of the hips (frames, 3)."""
    hips = np.zeros((CAMERAS, len(frames), 2))
    for view, box in enumerate(FIRST_BOXES):
        for row, frame in enumerate(read_frames_at(video(view), frames)):
            pose = landmarker.detect(frame.image, box)
            if pose is None:
                raise RuntimeError(f"Camera {view + 1} lost the person in frame {frame.index}.")
            hips[view, row] = pose.pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
            low, high = pose.pixels.min(axis=0), pose.pixels.max(axis=0)
            side = 1.3 * float(np.max(high - low))
            x, y = (low + high - side) / 2
            box = Box(float(x), float(y), side)
    return triangulate(cameras, hips, np.ones(hips.shape[:2]))[0]


def _shifts(cameras: Sequence[Camera], pixels: FloatArray, weights: FloatArray) -> FloatArray:
    """Return how far each video's picture lies off its published calibration, (views, 2) pixels.

    The two demos' videos of one and the same camera differ by such shifts and by their width, so
    the calibration was made with other pictures. Without this, all joints of a camera miss in the
    same direction, by up to 20 pixels.
    """
    shifts = np.zeros((len(cameras), 2))
    for _ in range(8):
        missed = triangulate(cameras, pixels - shifts[:, None], weights)[1]
        shifts += 0.7 * np.median(missed, axis=1)
    return shifts
