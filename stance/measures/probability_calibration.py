"""How sure a class is, put right by a classifier trained on ready positions of known class.

The normal errors of the angles give each class a probability (`stance.classes`). Real errors have
longer tails, so none is left below a thousandth, and all are scaled by a temperature (C. Guo,
G. Pleiss, Y. Sun and K. Q. Weinberger, "On Calibration of Modern Neural Networks", ICML 2017),
fitted on ready positions whose class is known (`tests/training/classifier.py`). It is kept as a
plain number in `models/classes.json`; its card is in models/README.md.
"""

import functools
import json
from collections.abc import Mapping

import numpy as np

from stance.errors import StanceError
from stance.runtime.model_files import models_folder
from stance.types import CLASSES, FloatArray

CLASSIFIER_FILE = "classes.json"

# A probability below this is as good as none: the slices of `stance.classes` are no finer.
_LEAST = 1e-3


def log_probabilities(probabilities: Mapping[str, float]) -> FloatArray:
    """Return what the classifier takes.

    Parameters
    ----------
    probabilities : class name to probability, from the angles and their errors

    Returns
    -------
    (classes,) logarithms of the probabilities
    """
    return np.log(np.maximum([probabilities[name] for name in CLASSES], _LEAST))


@functools.cache
def _inverse_temperature() -> float:
    """Return by what the logarithms are multiplied."""
    try:
        content = json.loads((models_folder() / CLASSIFIER_FILE).read_bytes())
        return float(content["inverse_temperature"])
    except (OSError, ValueError, KeyError) as error:
        raise StanceError(
            f"The file {CLASSIFIER_FILE} is missing from the installation or "
            "damaged; install the tool anew."
        ) from error


def calibrated_probabilities(probabilities: Mapping[str, float]) -> dict[str, float]:
    """Return calibrated probabilities of the classes.

    Parameters
    ----------
    probabilities : class name to probability, from the angles and their errors

    Returns
    -------
    dict from class name to probability; they add up to 1

    Raises
    ------
    StanceError
        If the classifier's file is missing or damaged.
    """
    logs = _inverse_temperature() * log_probabilities(probabilities)
    odds = np.exp(logs - logs.max())
    return {name: float(p) for name, p in zip(CLASSES, odds / odds.sum(), strict=True)}
