"""Learned correction: from the landmarks of a look to directions and distances on the court.

The pose model's errors are systematic in pose, view and body. A small neural network, trained
on rendered people (tests/training), reads the landmarks of both models, the floor points of
heels and toes and the camera's view, and gives the directions of hips and shoulders, the line
between the feet and the bend of the knees, each with its error. How it was chosen and what it
gains: docs/accuracy.md.

Everything is expressed in the view's own frame (right of, away from and above the player as the
camera sees them, racket side first, a left-hander mirrored), so turning the court or mirroring
the player turns or mirrors the answer exactly; nothing is assumed about where the player faces.
"""

import functools
import io
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from stance.body import (
    base_on_floor,
    feet_on_floor,
    line_yaw,
    side_indices,
    world_in_court,
)
from stance.camera import Camera, camera_centre, project
from stance.errors import StanceError
from stance.poses import (
    LEFT_ANKLE,
    LEFT_EAR,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    NOSE,
    RIGHT_ANKLE,
    RIGHT_EAR,
    RIGHT_ELBOW,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
    RIGHT_WRIST,
    Look,
    Pose,
    models_folder,
)

FloatArray = npt.NDArray[np.float64]

_PAIRS = (
    (LEFT_HIP, RIGHT_HIP), (LEFT_SHOULDER, RIGHT_SHOULDER), (LEFT_KNEE, RIGHT_KNEE),
    (LEFT_ANKLE, RIGHT_ANKLE), (LEFT_HEEL, RIGHT_HEEL), (LEFT_TOE, RIGHT_TOE),
    (LEFT_ELBOW, RIGHT_ELBOW), (LEFT_WRIST, RIGHT_WRIST), (LEFT_EAR, RIGHT_EAR),
)

# What the network says, in this order; directions as (right, away) in the view's frame, lengths
# in metres, angles in radians. "seen" is what is added to what the heavy model's floor points
# give, the part away from the camera as it shows in the picture (times the sine of the
# elevation).
TARGETS = (
    "hips right", "hips away", "shoulders right", "shoulders away",
    "line seen right", "line seen up", "base seen right", "base seen up",
    "racket knee", "other knee", "hip middle right", "hip middle away",
    "hip width", "leg length",
)

# Whose errors are said: directions and knees in degrees, the rest in centimetres.
ERRORS = (
    "hips", "shoulders", "line right", "line up", "base right", "base up",
    "racket knee", "other knee",
)

CORRECTION_FILE = "correction.npz"
_DEGREES = float(np.degrees(1.0))


@dataclass(frozen=True)
class View:
    """How the camera sees a player.

    Attributes
    ----------
    base : (3,) metres, court frame, where the player stands
    axes : (3, 3) rows right, away, up: unit vectors, court frame; right is mirrored for a
        left-hander, so that the racket side of a player seen from behind is on the right
    elevation : radians above the player's feet at which the camera stands
    distance : metres from the camera to the base
    """

    base: FloatArray
    axes: FloatArray
    elevation: float
    distance: float


def view_of(camera: Camera, pixels: FloatArray, hand: str) -> View:
    """Return how the camera sees the player with these landmarks (33, 2)."""
    base = np.append(base_on_floor(camera, pixels), 0.0)
    line = base - camera_centre(camera)
    floor_distance = np.hypot(line[0], line[1])
    away = np.array([line[0], line[1], 0.0]) / floor_distance
    right = np.array([away[1], -away[0], 0.0]) * (1.0 if hand == "right" else -1.0)
    return View(base, np.stack([right, away, [0.0, 0.0, 1.0]]),
                float(np.arctan2(-line[2], floor_distance)), float(np.linalg.norm(line)))


def view_features(camera: Camera, look: Look, hand: str) -> tuple[View, FloatArray]:
    """Express a look in the view's own frame, as the correction reads it.

    Parameters
    ----------
    camera : Camera
    look : Look
    hand : "right" or "left"

    Returns
    -------
    the view, and (features,) numbers: for each model the landmarks' places in three dimensions,
    across the view and on the floor; visibilities; the geometry of the view
    """
    view = view_of(camera, look.heavy.pixels, hand)
    parts = [_pose_features(camera, view, pose, hand) for pose in (look.full, look.heavy)]
    height = np.ptp(look.heavy.pixels[:, 1])
    geometry = [view.elevation, 1.0 / view.distance, np.log(height), *np.log(look.unsteadiness)]
    return view, np.concatenate([*parts, geometry])


def _pose_features(camera: Camera, view: View, pose: Pose, hand: str) -> FloatArray:
    """Express one model's pose in the view's frame, racket side first."""
    order = [NOSE, *(i for pair in _PAIRS for i in side_indices(hand, *pair))]
    world = world_in_court(camera, pose.pixels, pose.world)[order] @ view.axes.T
    flat = _across_view(camera, view, pose.pixels[order])
    floor = (feet_on_floor(camera, pose.pixels, hand) - view.base[:2]) @ view.axes[:2, :2].T
    # Depth on the floor errs by one over the sine of the elevation; so it is given as it shows.
    floor = floor * (1.0, np.sin(view.elevation))
    return np.concatenate([world.ravel(), flat.ravel(), np.clip(floor, -2.0, 2.0).ravel(),
                           pose.visibility[order]])


def _across_view(camera: Camera, view: View, pixels: FloatArray) -> FloatArray:
    """Where pixels lie right of and above the base, if they are as far away as the base.

    Parameters
    ----------
    camera : Camera
    view : View
    pixels : (..., 2) pixels

    Returns
    -------
    (..., 2) metres: right, up
    """
    up = np.array([0.0, 0.0, 1.0])
    origin = project(camera, view.base)
    # Central differences of a metre are exact to a percent at the distances people film from.
    columns = [project(camera, view.base + 0.5 * axis) - project(camera, view.base - 0.5 * axis)
               for axis in (view.axes[0], up)]
    axes = np.stack(columns, axis=-1)
    return np.asarray(np.linalg.solve(axes, (pixels - origin)[..., None])[..., 0], float)


@dataclass(frozen=True)
class Estimate:
    """What the correction makes of one look; pairs are (racket, other) side.

    Attributes
    ----------
    hip_yaw, hip_yaw_se, shoulder_yaw, shoulder_yaw_se : degrees
    feet : (2, 2, 2) metres, court frame: foot, (heel, toe), (x, y)
    line_covariance : (2, 2) square metres, of the line other foot -> racket foot
    base_covariance : (2, 2) square metres, of the midpoint of the feet
    knee_flexion, knee_flexion_se : (2,) degrees
    hips : (2, 2) metres, court frame: side, (x, y)
    hip_width, leg_length : metres
    """

    hip_yaw: float
    hip_yaw_se: float
    shoulder_yaw: float
    shoulder_yaw_se: float
    feet: FloatArray
    line_covariance: FloatArray
    base_covariance: FloatArray
    knee_flexion: FloatArray
    knee_flexion_se: FloatArray
    hips: FloatArray
    hip_width: float
    leg_length: float


@dataclass(frozen=True)
class Network:
    """A small neural network: standardised input, hidden layers that pass what is positive.

    Attributes
    ----------
    x_mean, x_scale : (features,)
    weights, biases : of each layer, (inputs, outputs) and (outputs,)
    y_mean, y_scale : (outputs,)
    """

    x_mean: npt.NDArray[np.float32]
    x_scale: npt.NDArray[np.float32]
    weights: tuple[npt.NDArray[np.float32], ...]
    biases: tuple[npt.NDArray[np.float32], ...]
    y_mean: npt.NDArray[np.float32]
    y_scale: npt.NDArray[np.float32]


# A feature further from the training data's mean than this many of its standard deviations
# tells no more than that it is far.
_LARGEST_FEATURE = 6.0


def run_network(network: Network, features: FloatArray) -> FloatArray:
    """Run a network.

    Parameters
    ----------
    network : Network
    features : (..., features)

    Returns
    -------
    (..., outputs)
    """
    layer = np.clip((features - network.x_mean) / network.x_scale,
                    -_LARGEST_FEATURE, _LARGEST_FEATURE)
    for weights, biases in zip(network.weights[:-1], network.biases[:-1], strict=True):
        layer = np.maximum(layer @ weights + biases, 0.0)
    found = layer @ network.weights[-1] + network.biases[-1]
    return np.asarray(found * network.y_scale + network.y_mean, float)


def errors_of(said: FloatArray, true: FloatArray) -> FloatArray:
    """Errors in the order of `ERRORS`: directions in degrees, knees in degrees, lengths in cm.

    Parameters
    ----------
    said, true : (..., targets)
    """
    def turned(first: int) -> FloatArray:
        angles = [np.arctan2(t[..., first + 1], t[..., first]) for t in (said, true)]
        return np.degrees((angles[0] - angles[1] + np.pi) % (2 * np.pi) - np.pi)

    rest = (said - true)[..., 4:10] * np.array([100.0] * 4 + [_DEGREES] * 2)
    return np.concatenate([turned(0)[..., None], turned(2)[..., None], rest], axis=-1)


@dataclass(frozen=True)
class Correction:
    """The correction as fitted.

    Attributes
    ----------
    networks : the mean of what they say is the answer
    errors : says the log of the standard error of each of `ERRORS`
    factors : (errors,) by which standard errors are multiplied, so that 95 % intervals held 95 %
        of the truths on the tune split
    """

    networks: tuple[Network, ...]
    errors: Network
    factors: FloatArray


def save_correction(path: Path, correction: Correction) -> None:
    """Write a correction to a .npz file, the same numbers to the same bytes."""
    arrays: dict[str, npt.NDArray[Any]] = {"factors": correction.factors}
    for number, network in enumerate((*correction.networks, correction.errors)):
        arrays |= {f"{number} {name}": getattr(network, name)
                   for name in ("x_mean", "x_scale", "y_mean", "y_scale")}
        for layer, (weights, biases) in enumerate(
                zip(network.weights, network.biases, strict=True)):
            arrays |= {f"{number} weights {layer}": weights, f"{number} biases {layer}": biases}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, array in arrays.items():
            data = io.BytesIO()
            np.lib.format.write_array(data, array, allow_pickle=False)
            archive.writestr(zipfile.ZipInfo(f"{name}.npy"), data.getvalue(),
                             zipfile.ZIP_DEFLATED)


@functools.cache
def load_correction() -> Correction:
    """Return the correction in `models/`.

    Raises
    ------
    StanceError
        If its file is missing or damaged.
    """
    try:
        with np.load(models_folder() / CORRECTION_FILE, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
    except (OSError, ValueError, zipfile.BadZipFile) as error:
        raise StanceError(f"The file {CORRECTION_FILE} is missing from the installation or "
                          "damaged; install the tool anew.") from error
    networks: list[Network] = []
    while f"{len(networks)} x_mean" in arrays:
        number = len(networks)
        layers = sum(name.startswith(f"{number} weights ") for name in arrays)
        networks.append(Network(
            arrays[f"{number} x_mean"], arrays[f"{number} x_scale"],
            tuple(arrays[f"{number} weights {layer}"] for layer in range(layers)),
            tuple(arrays[f"{number} biases {layer}"] for layer in range(layers)),
            arrays[f"{number} y_mean"], arrays[f"{number} y_scale"]))
    return Correction(tuple(networks[:-1]), networks[-1], arrays["factors"].astype(float))


def run_correction(correction: Correction, features: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Run a correction.

    Parameters
    ----------
    correction : Correction
    features : (..., features)

    Returns
    -------
    (..., targets) what it says, in the order of `TARGETS`, and (..., errors) standard errors in
    the order of `ERRORS`
    """
    said = np.mean([run_network(n, features) for n in correction.networks], axis=0)
    return said, np.exp(run_network(correction.errors, features)) * correction.factors


def estimate(camera: Camera, look: Look, hand: str) -> Estimate | None:
    """Estimate directions and distances of one look.

    Parameters
    ----------
    camera : Camera
        In the frame of the half on which the player stands.
    look : Look
    hand : "right" or "left", the racket hand

    Returns
    -------
    Estimate, or None where the feet are not seen on the floor (above the horizon)
    """
    view, features = view_features(camera, look, hand)
    if not np.isfinite(features).all():
        return None
    said, errors = run_correction(load_correction(), features)
    flat = view.axes[:2, :2]
    shows = np.array([1.0, np.sin(view.elevation)])
    hips, shoulders = said[0:2] @ flat, said[2:4] @ flat
    feet = feet_on_floor(camera, look.heavy.pixels, hand)
    line_change, base_change = ((part / shows) @ flat for part in (said[4:6], said[6:8]))
    # The racket foot moves by half the change of the line, the other foot back by as much.
    halves = np.array([0.5, -0.5])[:, None] * line_change
    feet = feet + (base_change + halves)[:, None, :]
    middle = feet.mean(axis=(0, 1)) - base_change + said[10:12] @ flat
    hip_line = hips / np.linalg.norm(hips) * said[12] / 2.0
    return Estimate(
        hip_yaw=float(line_yaw(np.zeros(2), hips, hand)), hip_yaw_se=float(errors[0]),
        shoulder_yaw=float(line_yaw(np.zeros(2), shoulders, hand)),
        shoulder_yaw_se=float(errors[1]),
        feet=feet,
        line_covariance=_floor_covariance(errors[2:4] / 100.0 / shows, flat),
        base_covariance=_floor_covariance(errors[4:6] / 100.0 / shows, flat),
        knee_flexion=np.degrees(said[8:10]), knee_flexion_se=errors[6:8],
        hips=np.stack([middle + hip_line, middle - hip_line]),
        hip_width=float(said[12]), leg_length=float(said[13]))


def _floor_covariance(errors: FloatArray, flat: FloatArray) -> FloatArray:
    """(2, 2) covariance on the court from standard errors (right, away) of the view."""
    return np.asarray(flat.T @ np.diag(errors**2) @ flat)
