"""Calibrated class probabilities: temperature scaling of those that follow from the angles.

The normal errors of the angles give each class a probability (`stance.measures.classes`). Real
errors have longer tails, so none is left below a thousandth, and all are scaled by a temperature
(C. Guo, G. Pleiss, Y. Sun and K. Q. Weinberger, "On Calibration of Modern Neural Networks", ICML
2017), fitted on ready positions whose class is known (`tests/training/classifier.py`). It is kept
as a plain number in `models/class_calibration.json`; its card is in models/README.md.
"""

import functools
from collections.abc import Mapping

import numpy as np

from stance.runtime.model_files import damaged_file, network_card
from stance.types import CLASSES, FloatArray, StanceClass

CALIBRATION_FILE = "class_calibration.json"

_LEAST = 1e-3
"""A probability below this is as good as none: `stance.measures.classes` tells none finer."""


def calibrated_probabilities(
    probabilities: Mapping[StanceClass, float],
) -> dict[StanceClass, float]:
    """Calibrate the probabilities of the classes.

    Parameters
    ----------
    probabilities
        class name to probability, from the angles and their errors

    Returns
    -------
    dict from class name to probability; they add up to 1

    Raises
    ------
    StanceError
        If the file with the temperature is missing or damaged.
    """
    # SciPy's softmax takes a fifth of a second to load.
    logits = inverse_temperature() * log_probabilities(probabilities)
    odds = np.exp(logits - logits.max())
    return {name: float(p) for name, p in zip(CLASSES, odds / odds.sum(), strict=True)}


def log_probabilities(probabilities: Mapping[StanceClass, float]) -> FloatArray:
    """Give the logits that are scaled.

    Parameters
    ----------
    probabilities
        class name to probability, from the angles and their errors

    Returns
    -------
    (classes,) natural logarithms, in the order of `CLASSES`, none below that of a thousandth
    """
    return np.log(np.maximum([probabilities[name] for name in CLASSES], _LEAST))


@functools.cache
def inverse_temperature() -> float:
    """Give the factor by which logits are multiplied, one over the temperature.

    Raises
    ------
    StanceError
        If its file is missing or damaged.
    """
    card = network_card(CALIBRATION_FILE)
    try:
        return float(card["inverse_temperature"])
    except (KeyError, TypeError, ValueError) as error:
        raise damaged_file(CALIBRATION_FILE) from error
