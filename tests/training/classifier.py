"""Train the classifier of `stance.measures.probability_calibration` and print what it is worth.

`python -m tests.training classes --fit FOLDER/tune FOLDER/test` fits on the crops of the tune
split, writes models/class_calibration.json (the same crops give the same bytes) and prints how
good the probabilities are on the test split, with and without it.
"""

import json

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import softmax
from sklearn.metrics import f1_score, log_loss

from stance.measures.classes import DEFAULT_LIMITS, class_index, class_probabilities
from stance.measures.probability_calibration import (
    CALIBRATION_FILE,
    calibrated_probabilities,
    log_probabilities,
)
from stance.runtime.model_files import models_folder
from stance.types import CLASSES
from tests.evaluation.accuracy import limit_distance
from tests.training.figures import Readings

BINS = 10
# Between these the inverse temperature is sought.
HOTTEST_TO_COLDEST = (0.1, 10.0)


def _by_errors(readings: Readings) -> list[dict[str, float]]:
    """Probabilities from the angles and their standard errors."""
    return [
        class_probabilities(lead[0], lead[1], hip[0], hip[1])
        for lead, hip in zip(readings.lead_angle, readings.hip_yaw, strict=True)
    ]


def _truth(readings: Readings) -> np.ndarray:
    return class_index(readings.lead_angle[:, 2], readings.hip_yaw[:, 2])


def fit(readings: Readings) -> None:
    """Fit on readings and write the classifier."""
    logs = np.array([log_probabilities(p) for p in _by_errors(readings)])
    inverse = fitted_inverse_temperature(logs, _truth(readings))
    content = {"classes": CLASSES, "inverse_temperature": round(inverse, 3)}
    (models_folder() / CALIBRATION_FILE).write_text(json.dumps(content, indent=1) + "\n")
    print(f"fitted on {len(logs)} ready positions: temperature {1 / inverse:.2f}")


def fitted_inverse_temperature(logs: np.ndarray, truth: np.ndarray) -> float:
    """Fit the temperature of probabilities, given as logarithms (positions, classes), to classes.

    scikit-learn's own temperature scaling asks for Python 3.11; this is the same minimum.
    """

    def loss(inverse: float) -> float:
        return float(log_loss(truth, softmax(inverse * logs, axis=1), labels=range(len(CLASSES))))

    return float(minimize_scalar(loss, bounds=HOTTEST_TO_COLDEST, method="bounded").x)


def print_worth(readings: Readings) -> None:
    """Print how good probabilities are, as the errors give them and as calibrated."""
    plain = _by_errors(readings)
    truth = _truth(readings)
    far = np.array(
        [
            limit_distance({"lead_angle_deg": lead, "hip_yaw_deg": hips}) >= 5.0
            for lead, hips in zip(readings.lead_angle[:, 2], readings.hip_yaw[:, 2], strict=True)
        ]
    )
    for title, found in (
        ("from the errors alone", plain),
        ("calibrated", [calibrated_probabilities(p) for p in plain]),
    ):
        values = np.array([[p[name] for name in CLASSES] for p in found])
        predicted, sure = values.argmax(axis=1), values.max(axis=1)
        assessed = sure >= DEFAULT_LIMITS.confidence
        clear = assessed & far
        print(
            f"{title}: log loss {log_loss(truth, values, labels=range(len(CLASSES))):.3f}, "
            f"Brier {((values - np.eye(len(CLASSES))[truth]) ** 2).sum(axis=1).mean():.3f}, "
            f"calibration error {_calibration_error(sure, predicted == truth):.3f}, not assessed "
            f"{1 - assessed.mean():.3f}, macro F1 of the assessed "
            f"{f1_score(truth[assessed], predicted[assessed], average='macro'):.3f}, 5 degrees "
            f"from where the class changes "
            f"{f1_score(truth[clear], predicted[clear], average='macro'):.3f}"
        )


def _calibration_error(sure: np.ndarray, right: np.ndarray) -> float:
    """Expected calibration error over equally filled bins.

    Source: M. P. Naeini, G. F. Cooper and M. Hauskrecht, "Obtaining well calibrated probabilities
    using Bayesian binning", AAAI 2015 (equal-frequency bins: common practice).
    """
    order = np.argsort(sure)
    return float(
        sum(
            abs(sure[part].mean() - right[part].mean()) * len(part)
            for part in np.array_split(order, BINS)
        )
        / len(sure)
    )
