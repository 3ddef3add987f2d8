"""How sure a class is, put right by a classifier trained on ready positions of known class.

The normal errors of the angles give each class a probability (`stance.classes`). Where the phone
stands changes what they are worth, so a multinomial logistic regression (scikit-learn,
`tests/training/classifier.py`), trained on ready positions whose class is known, takes their
logarithms and the view to calibrated probabilities. It is kept as plain numbers in
`models/classes.json`; its card is in models/README.md.
"""

import functools
import json
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from stance.camera import Camera, camera_centre
from stance.errors import StanceError
from stance.poses import models_folder
from stance.result import CLASSES

FloatArray = npt.NDArray[np.float64]

CLASSIFIER_FILE = "classes.json"

# A probability below this is as good as none: the slices of `stance.classes` are no finer.
_LEAST = 1e-3


def view_of(camera: Camera, base: FloatArray) -> tuple[float, float]:
    """Return from where a player is seen.

    Parameters
    ----------
    camera : in the frame of the half on which the player stands
    base : (2,) metres, midpoint of the feet

    Returns
    -------
    sine of the camera's elevation above the base, cosine of its bearing from straight behind
    """
    away = camera_centre(camera) - np.append(base, 0.0)
    return (float(away[2] / np.linalg.norm(away)),
            float(-away[1] / np.linalg.norm(away[:2])))


def features(probabilities: Mapping[str, float], view: tuple[float, float]) -> FloatArray:
    """Return what the classifier takes, (9,).

    Parameters
    ----------
    probabilities : class name to probability, from the angles and their errors
    view : as from `view_of`

    Returns
    -------
    Logarithms of the probabilities less their mean, alone and times each number of the view
    """
    logs = np.log(np.maximum([probabilities[name] for name in CLASSES], _LEAST))
    logs -= logs.mean()
    return np.concatenate([logs, logs * view[0], logs * view[1]])


@functools.cache
def _classifier() -> tuple[FloatArray, FloatArray]:
    """Return the classifier's weights (classes, features) and constants (classes,)."""
    try:
        content = json.loads((models_folder() / CLASSIFIER_FILE).read_bytes())
        return np.array(content["weights"], float), np.array(content["constants"], float)
    except (OSError, ValueError, KeyError) as error:
        raise StanceError(f"The file {CLASSIFIER_FILE} is missing from the installation or "
                          "damaged; install the tool anew.") from error


def calibrated_probabilities(
    probabilities: Mapping[str, float], view: tuple[float, float],
) -> dict[str, float]:
    """Return calibrated probabilities of the classes.

    Parameters
    ----------
    probabilities : class name to probability, from the angles and their errors
    view : as from `view_of`

    Returns
    -------
    dict from class name to probability; they add up to 1

    Raises
    ------
    StanceError
        If the classifier's file is missing or damaged.
    """
    weights, constants = _classifier()
    scores = weights @ features(probabilities, view) + constants
    odds = np.exp(scores - scores.max())
    return {name: float(p) for name, p in zip(CLASSES, odds / odds.sum(), strict=True)}
