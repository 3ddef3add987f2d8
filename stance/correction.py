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
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stance.body import base_on_floor, feet_on_floor, side_indices, world_in_court
from stance.camera import Camera, camera_centre, project
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
    return np.linalg.solve(np.stack(columns, axis=-1), (pixels - origin)[..., None])[..., 0]


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


def estimate(camera, look, hand):
    from stance.body import knee_flexion, line_yaw
    w = world_in_court(camera, look.full.pixels, look.full.world)
    h = w[list(side_indices(hand, LEFT_HIP, RIGHT_HIP))]; s = w[list(side_indices(hand, LEFT_SHOULDER, RIGHT_SHOULDER))]
    feet = feet_on_floor(camera, look.heavy.pixels, hand)
    base = base_on_floor(camera, look.heavy.pixels)
    return Estimate(float(line_yaw(h[1], h[0], hand)), 9.0, float(line_yaw(s[1], s[0], hand)), 9.0, feet,
        np.eye(2)*.03**2, np.eye(2)*.04**2, knee_flexion(look.heavy.world, hand), np.full(2, 8.0), base + h[:, :2], .3, .8)
