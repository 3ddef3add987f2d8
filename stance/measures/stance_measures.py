"""Measures of a ready position: angles and distances with their standard errors.

Each observation of a frame gives measures of that frame; a ready position's measures are robust
averages over its observations. Names, signs and units: docs/definitions.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stance.court.camera import Camera, floor_parameter_jacobian, project
from stance.measures.orientation import Observation, estimate, line_yaw
from stance.statistics.angles import unwrap_degrees, wrap_degrees
from stance.types import FloatArray, Hand

_MEDIAN_EFFICIENCY = float(np.sqrt(np.pi / 2.0))
"""A median of normal values is noisier than their mean by this factor of the standard error."""

_DEGREES = float(np.degrees(1.0))
"""Degrees in a radian."""


@dataclass(frozen=True)
class Measures:
    """Measures of one frame, or robust averages over several; pairs are (racket, other) side.

    Attributes
    ----------
    hip_yaw, shoulder_yaw, lead_angle
        (2,) degrees: value and standard error
    foot_stagger, stance_width
        (2,) metres: value and standard error
    knee_flexion
        (2, 2) degrees: each leg's value and standard error
    base
        (2, 2) metres, court frame: x and y, each value and standard error
    feet
        (2, 2, 2) metres, court frame: foot, (heel, toe), (x, y)
    hips
        (2, 2) metres, court frame: side, (x, y)
    hip_width, leg_length
        metres
    """

    hip_yaw: FloatArray
    shoulder_yaw: FloatArray
    lead_angle: FloatArray
    foot_stagger: FloatArray
    stance_width: FloatArray
    knee_flexion: FloatArray
    base: FloatArray
    feet: FloatArray
    hips: FloatArray
    hip_width: float
    leg_length: float


def measure(camera: Camera, observation: Observation, hand: Hand) -> Measures | None:
    """Measure one frame.

    Parameters
    ----------
    camera
        in the frame of the half on which the player stands
    observation
        a network's close observation of the player
    hand
        "right" or "left", the racket hand

    Returns
    -------
    Measures, or None where the feet are not seen on the floor; each standard error contains the
    pose model's error for the view and the calibration's own
    """
    found = estimate(camera, observation, hand)
    if found is None:
        return None
    middles = found.feet.mean(axis=1)
    line = middles[0] - middles[1]
    width = float(np.linalg.norm(line))
    along = line / width
    across = np.array([-along[1], along[0]])
    line_by_camera, base_by_camera = _calibration_covariances(camera, middles)
    line_covariance = found.line_covariance + line_by_camera
    base_covariance = found.base_covariance + base_by_camera
    turn = calibration_turn_variance(camera)
    return Measures(
        hip_yaw=_with_error(found.hip_yaw, found.hip_yaw_se**2 + turn),
        shoulder_yaw=_with_error(found.shoulder_yaw, found.shoulder_yaw_se**2 + turn),
        lead_angle=_with_error(
            line_yaw(middles[1], middles[0], hand),
            across @ line_covariance @ across / width**2 * _DEGREES**2,
        ),
        foot_stagger=_with_error(line[1], line_covariance[1, 1]),
        stance_width=_with_error(width, along @ line_covariance @ along),
        knee_flexion=np.stack([found.knee_flexion, found.knee_flexion_se], axis=-1),
        base=np.stack([middles.mean(axis=0), np.sqrt(np.diag(base_covariance))], axis=-1),
        feet=found.feet,
        hips=found.hips,
        hip_width=found.hip_width,
        leg_length=found.leg_length,
    )


def calibration_turn_variance(camera: Camera) -> float:
    """Variance in square degrees that the calibration adds to a direction seen by the camera.

    It is one and the same error in all directions: the camera's rotation errs by a small rotation
    vector in its own axes, whose part along the court's vertical turns all that is seen from above.
    """
    if camera.covariance is None:
        return 0.0
    vertical = camera.rotation[:, 2]
    return float(vertical @ camera.covariance[1:4, 1:4] @ vertical) * _DEGREES**2


def _with_error(value: Any, variance: Any) -> FloatArray:
    """(2,) a value and its standard error."""
    return np.array([value, np.sqrt(variance)], float)


def _calibration_covariances(camera: Camera, middles: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Covariances (2, 2) that the calibration adds to the line of the feet and to the base.

    Parameters
    ----------
    camera
        with the covariance of its parameters
    middles
        (2, 2) metres: middles of the racket and the other foot on the floor
    """
    if camera.covariance is None:
        return np.zeros((2, 2)), np.zeros((2, 2))
    pixels = project(camera, np.column_stack([middles, np.zeros(2)]))
    racket, other = floor_parameter_jacobian(camera, pixels)
    line, base = racket - other, (racket + other) / 2.0
    return line @ camera.covariance @ line.T, base @ camera.covariance @ base.T


def average(measures: Sequence[Measures]) -> Measures:
    """Average the measures of one ready position, robustly.

    Values are medians over its observations (angles around their circular median). The error of the
    pose model and of the calibration is common to all of them, so it does not shrink with their
    number; the scatter between them does, and is added to it.

    Parameters
    ----------
    measures
        at least one

    Returns
    -------
    Measures
    """
    angles = _average(
        np.array([[m.hip_yaw, m.shoulder_yaw, m.lead_angle] for m in measures]), circular=True
    )
    others = _average(
        np.array([[m.foot_stagger, m.stance_width, *m.knee_flexion, *m.base] for m in measures])
    )
    return Measures(
        hip_yaw=angles[0],
        shoulder_yaw=angles[1],
        lead_angle=angles[2],
        foot_stagger=others[0],
        stance_width=others[1],
        knee_flexion=others[2:4],
        base=others[4:],
        feet=np.median([m.feet for m in measures], axis=0),
        hips=np.median([m.hips for m in measures], axis=0),
        hip_width=float(np.median([m.hip_width for m in measures])),
        leg_length=float(np.median([m.leg_length for m in measures])),
    )


def _average(pairs: FloatArray, circular: bool = False) -> FloatArray:
    """Median of values with their standard errors, and the scatter's own error added.

    Parameters
    ----------
    pairs
        (observations, measures, 2)
    circular
        whether the values are angles in degrees

    Returns
    -------
    (measures, 2)
    """
    values, errors = pairs[..., 0], pairs[..., 1]
    if circular:
        # Differences to the angle that is nearest to all others never wrap around wrongly.
        apart = np.abs(wrap_degrees(values[:, None] - values[None, :])).sum(axis=1)
        middle = np.take_along_axis(values, apart.argmin(axis=0)[None], axis=0)
        values = unwrap_degrees(values, middle)
    centre = np.median(values, axis=0)
    scatter = 1.4826 * np.median(np.abs(values - centre), axis=0)
    error = np.hypot(np.median(errors, axis=0), _MEDIAN_EFFICIENCY * scatter / np.sqrt(len(values)))
    if circular:
        centre = 180.0 - (180.0 - centre) % 360.0
    return np.stack([centre, error], axis=-1)
