"""Stance classes: which class a pair of angles belongs to, and how sure that is.

The three classes and their limits are common practice among coaches; no published source
exists, so the limits are the coach's to change (`Limits`).
"""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from stance.statistics.angles import wrap_degrees
from stance.types import CLASSES, NOT_ASSESSED, RACKET_FOOT_LEADING, FloatArray, StanceClass

_SLICES = 61
"""Points of the normal distribution at which probabilities are summed: the middles of 61 slices of
equal probability a side, 3721 pairs; halving or doubling the number moves no probability by more
than 0.01."""

_STEPS = np.array([NormalDist().inv_cdf((k + 0.5) / _SLICES) for k in range(_SLICES)])
"""These points, in standard errors, (slices,)."""

_SHARED_SLICES = 41

_SHARED_STEPS = np.array(
    [NormalDist().inv_cdf((k + 0.5) / _SHARED_SLICES) for k in range(_SHARED_SLICES)]
)

LEAST_SHARED_DEG = 3.0
"""A smaller error that both angles share counts for nothing beside their own of some degrees."""


@dataclass(frozen=True)
class Limits:
    """Limits between the classes in degrees, and the confidence an assessment needs.

    Attributes
    ----------
    square_deg
        feet and hips within this of the net line are square
    side_on_deg
        hips turned or feet staggered by more than this are over-side-on
    confidence
        least probability of the likeliest class; below it, not assessed
    """

    square_deg: float = 10.0
    side_on_deg: float = 40.0
    confidence: float = 0.6


DEFAULT_LIMITS = Limits()


def class_index(
    lead_angle_deg: FloatArray | float,
    hip_yaw_deg: FloatArray | float,
    limits: Limits = DEFAULT_LIMITS,
) -> npt.NDArray[np.int_]:
    """Return the index into `CLASSES` for pairs of lead angle and hip yaw.

    Over-side-on comes first: either angle beyond its limit is enough. Inside it, a pair within
    the region of a class has that class; any other pair (a racket foot that leads, hips turned
    over nearly square feet) goes to the class whose region is nearest in the plane of the two
    angles, to the one that turns less where two are equally near.

    Parameters
    ----------
    lead_angle_deg, hip_yaw_deg
        (...) degrees
    limits
        where one class ends and the next begins

    Returns
    -------
    (...) int, index into `CLASSES`
    """
    lead = np.asarray(lead_angle_deg, float)
    hip = np.abs(np.asarray(hip_yaw_deg, float))
    square, side_on = limits.square_deg, limits.side_on_deg
    hip_over = np.maximum(hip - square, 0.0)
    to_square = np.hypot(np.maximum(np.abs(lead) - square, 0.0), hip_over)
    to_slight = np.hypot(np.maximum(lead + square, 0.0), np.maximum(hip - side_on, 0.0))
    to_side_on = np.maximum(side_on - np.maximum(np.abs(lead), hip), 0.0)
    nearest = np.argmin(np.stack([to_square, to_slight, to_side_on]), axis=0)
    # On the limit of 40 degrees itself a racket foot that is back is slightly back.
    beyond = np.maximum(np.abs(lead), hip) > side_on
    return np.where(beyond, CLASSES.index("over_side_on"), nearest)


def class_probabilities(
    lead_angle_deg: float,
    lead_angle_se_deg: float,
    hip_yaw_deg: float,
    hip_yaw_se_deg: float,
    limits: Limits = DEFAULT_LIMITS,
    shared_se_deg: float = 0.0,
) -> dict[StanceClass, float]:
    """Return the probability of each class, from two angles and their standard errors.

    The true angles are taken as normal around the measured ones, independent of each other but for
    an error that both share; the probability of a class is the mass in its region.

    Parameters
    ----------
    lead_angle_deg, lead_angle_se_deg, hip_yaw_deg, hip_yaw_se_deg
        degrees
    limits
        where one class ends and the next begins
    shared_se_deg
        the part of both standard errors that is one and the same error, degrees: how far the
        direction of the net is off; below `LEAST_SHARED_DEG` it is taken for two

    Returns
    -------
    dict from class name to probability; they add up to 1
    """
    shared = shared_se_deg if shared_se_deg >= LEAST_SHARED_DEG else 0.0
    own = [np.sqrt(max(error**2 - shared**2, 0.0)) for error in (lead_angle_se_deg, hip_yaw_se_deg)]
    counts = np.zeros(len(CLASSES))
    for turn in shared * _SHARED_STEPS if shared else (0.0,):
        lead, hip = np.meshgrid(
            lead_angle_deg + turn + own[0] * _STEPS, hip_yaw_deg + turn + own[1] * _STEPS
        )
        # An error that carries an angle past the turned back comes out on the other side.
        lead, hip = (wrap_degrees(angle) for angle in (lead, hip))
        counts += np.bincount(class_index(lead, hip, limits).ravel(), minlength=len(CLASSES))
    shares = counts / counts.sum()
    return {name: float(share) for name, share in zip(CLASSES, shares, strict=True)}


def leading_probability(
    lead_angle_deg: float, lead_angle_se_deg: float, limits: Limits = DEFAULT_LIMITS
) -> float:
    """Return the probability that the racket foot leads, beyond square and not over-side-on.

    Parameters
    ----------
    lead_angle_deg, lead_angle_se_deg
        degrees; the true angle is taken as normal around the measured one
    limits
        where one class ends and the next begins
    """
    angles = wrap_degrees(lead_angle_deg + lead_angle_se_deg * _STEPS)
    return float(np.mean((limits.square_deg < angles) & (angles <= limits.side_on_deg)))


def classify(
    lead_angle_deg: float,
    probabilities: dict[StanceClass, float],
    limits: Limits = DEFAULT_LIMITS,
) -> tuple[StanceClass, tuple[str, ...]]:
    """Return the class of a ready position and remarks for the coach.

    Parameters
    ----------
    lead_angle_deg
        degrees
    probabilities
        class name to probability
    limits
        where one class ends and the next begins

    Returns
    -------
    class name or "not_assessed", and the remarks
    """
    likeliest = max(probabilities, key=lambda name: probabilities[name])
    assessed = probabilities[likeliest] >= limits.confidence
    leading = limits.square_deg < lead_angle_deg <= limits.side_on_deg
    return (likeliest if assessed else NOT_ASSESSED, (RACKET_FOOT_LEADING,) if leading else ())
