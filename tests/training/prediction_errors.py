"""Errors of what the orientation network predicts, as its standard errors count them."""

import numpy as np

from stance.measures.network_outputs import FEET_PLACES
from stance.measures.rectified_crop import RECTIFIED_PIXELS
from stance.types import FloatArray


def prediction_errors(predictions: FloatArray, true: FloatArray) -> FloatArray:
    """Errors of predictions, in the order of `ERRORS`.

    Parameters
    ----------
    predictions, true
        (..., targets)

    Returns
    -------
    (..., errors) degrees and pixels of the crop
    """

    def turn(first: int) -> FloatArray:
        angles = [np.arctan2(t[..., first + 1], t[..., first]) for t in (predictions, true)]
        return np.degrees((angles[0] - angles[1] + np.pi) % (2 * np.pi) - np.pi)

    feet = (predictions - true)[..., FEET_PLACES] * RECTIFIED_PIXELS
    line, base = feet[..., 2:] - feet[..., :2], (feet[..., 2:] + feet[..., :2]) / 2
    return np.concatenate(
        [
            turn(0)[..., None],
            turn(2)[..., None],
            line,
            base,
            np.degrees((predictions - true)[..., 8:10]),
        ],
        axis=-1,
    )
