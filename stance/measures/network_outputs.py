"""What the orientation network puts out, and what its two readings of a player make together.

A player is read twice, from a narrow crop and from the mirror image of a wide one. The prediction
is the mean of both. How far apart they put the feet tells how much the network is at a loss, on
shoes and floors that it has not seen above all; the feet's standard errors are made of that and of
what the network itself says of them, so that intervals hold on pictures of more than one kind
(docs/accuracy.md).
"""

import functools

import numpy as np

from stance.measures.rectified_crop import RECTIFIED_PIXELS
from stance.runtime.model_files import network_card
from stance.types import FloatArray

TARGETS = (
    "hips right",
    "hips away",
    "shoulders right",
    "shoulders away",
    "left foot across",
    "left foot down",
    "right foot across",
    "right foot down",
    "left knee",
    "right knee",
    "hip middle right",
    "hip middle away",
    "hip width",
    "leg length",
)
"""What the network predicts, in this order: lines from left to right as unit vectors (right, away)
seen from above in the view's frame; middles of the feet on the floor in 0..1 of the crop; knees in
radians; middle of the hips from the base and lengths in metres."""

ERRORS = (
    "hips",
    "shoulders",
    "line across",
    "line down",
    "base across",
    "base down",
    "left knee",
    "right knee",
)
"""Whose standard errors it predicts: directions and knees in degrees, the rest in pixels of the
crop."""

FEET_PLACES = slice(TARGETS.index("left foot across"), TARGETS.index("right foot down") + 1)
"""The feet among the `TARGETS`."""

PIXEL_ERRORS = slice(ERRORS.index("line across"), ERRORS.index("base down") + 1)
"""Those of the `ERRORS` that are pixels."""

FACTORS_FILE = "orientation.json"

MIRROR_ORDER = np.array([0, 1, 2, 3, 6, 7, 4, 5, 9, 8, 10, 11, 12, 13])

MIRROR_SIGNS = np.array([1, -1, 1, -1, -1, 1, -1, 1, 1, 1, -1, 1, 1, 1], float)

MIRROR_SHIFT = np.array([0, 0, 0, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0, 0], float)
"""From predictions for the mirror image to predictions for the crop: their order, signs and shift.
The feet's places across also change from one side's distance to the other's."""

MIRROR_ERRORS = np.array([0, 1, 2, 3, 4, 5, 7, 6])
"""The same for the order of the errors."""


def unmirror_predictions(predictions: FloatArray) -> FloatArray:
    """Turn predictions for a crop's mirror image into predictions for the crop.

    Parameters
    ----------
    predictions
        (..., targets + errors), the errors as logarithms

    Returns
    -------
    (..., targets + errors)
    """
    count = len(TARGETS)
    targets = predictions[..., :count][..., MIRROR_ORDER] * MIRROR_SIGNS + MIRROR_SHIFT
    return np.concatenate([targets, predictions[..., count:][..., MIRROR_ERRORS]], axis=-1)


def rescale_to_usual(predictions: FloatArray, wider: float) -> FloatArray:
    """Turn predictions for a crop into predictions for one of the usual width.

    Parameters
    ----------
    predictions
        (targets + errors,), the errors as logarithms
    wider
        how many times as wide as usual the crop was

    Returns
    -------
    (targets + errors,)
    """
    usual = np.array(predictions)
    # Both show the player in the middle.
    usual[FEET_PLACES] = 0.5 + (predictions[FEET_PLACES] - 0.5) * wider
    usual[len(TARGETS) :][PIXEL_ERRORS] += np.log(wider)
    return usual


def combine_readings(readings: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Put two readings of a player together.

    Parameters
    ----------
    readings
        (2, targets + errors) predictions, both for the crop of the usual width, the errors as
        logarithms

    Returns
    -------
    (targets,) predictions, and (errors,) their standard errors

    Raises
    ------
    StanceError
        If the file with the sizes of errors is missing or damaged.
    """
    errors = own_errors(readings)
    predicted, apart = feet_weights()
    errors[PIXEL_ERRORS] = np.hypot(
        predicted * errors[PIXEL_ERRORS], apart * distance_apart(readings)[PIXEL_ERRORS]
    )
    return readings[:, : len(TARGETS)].mean(axis=0), errors


def distance_apart(readings: FloatArray) -> FloatArray:
    """Give how far apart two readings put the feet, as errors of the line and the base.

    Parameters
    ----------
    readings
        (2, targets + errors)

    Returns
    -------
    (errors,) in the order of `ERRORS`; 0 where they are not of the feet
    """
    first, second = readings[:, FEET_PLACES].reshape(2, 2, 2) * RECTIFIED_PIXELS
    foot = np.sqrt(np.mean((first - second) ** 2, axis=0))
    errors = np.zeros(len(ERRORS))
    # Of two feet that are off by as much, the line between them is off by more, the middle by less.
    errors[PIXEL_ERRORS] = np.concatenate([np.sqrt(2.0) * foot, foot / np.sqrt(2.0)])
    return errors


def own_errors(readings: FloatArray) -> FloatArray:
    """Give the standard errors that the network itself predicts, times their factors.

    Parameters
    ----------
    readings
        (2, targets + errors), the errors as logarithms

    Returns
    -------
    (errors,) in the order of `ERRORS`

    Raises
    ------
    StanceError
        If the file with the factors is missing or damaged.
    """
    return np.asarray(np.exp(readings[:, len(TARGETS) :].mean(axis=0)) * error_factors())


@functools.cache
def error_factors() -> FloatArray:
    """Return by what the network's standard errors are multiplied, (errors,).

    With these alone, 95 % intervals hold 95 % of the truths of the tune split.

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    content = network_card(FACTORS_FILE)
    return np.array([content["factors"][name] for name in ERRORS], float)


@functools.cache
def feet_weights() -> tuple[float, float]:
    """Return the weights of what the feet's standard errors are made of.

    Returns
    -------
    of the errors that the network predicts, and of the distance between its two readings

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    content = network_card(FACTORS_FILE)
    return float(content["feet"]["predicted"]), float(content["feet"]["apart"])
