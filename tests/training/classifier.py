"""Train the classifier of `stance.certainty` and print what it is worth.

`python -m tests.training classes --fit FOLDER/tune FOLDER/test` fits on the portraits of the tune
split, writes models/classes.json (the same portraits give the same bytes) and prints how good the
probabilities are on the test split, with and without it.
"""

import json

import numpy as np
from sklearn.linear_model import LogisticRegressionCV
from sklearn.metrics import f1_score, log_loss
from sklearn.model_selection import StratifiedKFold

from stance.certainty import CLASSIFIER_FILE, calibrated_probabilities, features
from stance.classes import DEFAULT_LIMITS, class_index, class_probabilities
from stance.poses import models_folder
from stance.result import CLASSES
from tests.accuracy import limit_distance
from tests.training.figures import Readings

SEED = 20261125
STRENGTHS = np.logspace(-3, 2, 11)
FOLDS = 10
BINS = 10


def _views(readings: Readings) -> list[tuple[float, float]]:
    """Views as `stance.certainty.view_of` gives them."""
    return [(float(np.sin(np.arctan2(h, d))), float(np.cos(np.radians(b))))
            for h, d, b in zip(readings.height, readings.distance, readings.bearing, strict=True)]


def _by_errors(readings: Readings) -> list[dict[str, float]]:
    """Probabilities from the angles and their standard errors."""
    return [class_probabilities(lead[0], lead[1], hip[0], hip[1])
            for lead, hip in zip(readings.lead_angle, readings.hip_yaw, strict=True)]


def _truth(readings: Readings) -> np.ndarray:
    return class_index(readings.lead_angle[:, 2], readings.hip_yaw[:, 2])


def fit(readings: Readings) -> None:
    """Fit on readings and write the classifier."""
    rows = np.array([features(p, v) for p, v in zip(_by_errors(readings), _views(readings),
                                                    strict=True)])
    folds = StratifiedKFold(FOLDS, shuffle=True, random_state=SEED)
    model = LogisticRegressionCV(Cs=STRENGTHS, cv=folds, scoring="neg_log_loss", max_iter=5000,
                                 use_legacy_attributes=False, l1_ratios=(0.0,))
    model.fit(rows, _truth(readings))
    assert list(model.classes_) == list(range(len(CLASSES)))
    content = {"classes": CLASSES, "weights": np.round(model.coef_, 3).tolist(),
               "constants": np.round(model.intercept_, 3).tolist()}
    (models_folder() / CLASSIFIER_FILE).write_text(json.dumps(content, indent=1) + "\n")
    print(f"fitted on {len(rows)} ready positions, regularisation C = {float(model.C_):.3g}")


def print_worth(readings: Readings) -> None:
    """Print how good probabilities are, as the errors give them and as calibrated."""
    plain = _by_errors(readings)
    truth = _truth(readings)
    far = np.array([limit_distance({"lead_angle_deg": lead, "hip_yaw_deg": hips}) >= 5.0
                    for lead, hips in zip(readings.lead_angle[:, 2], readings.hip_yaw[:, 2],
                                          strict=True)])
    for title, found in (("from the errors alone", plain),
                         ("calibrated", [calibrated_probabilities(p, v) for p, v in
                                         zip(plain, _views(readings), strict=True)])):
        values = np.array([[p[name] for name in CLASSES] for p in found])
        said, sure = values.argmax(axis=1), values.max(axis=1)
        assessed = sure >= DEFAULT_LIMITS.confidence
        clear = assessed & far
        print(f"{title}: log loss {log_loss(truth, values, labels=range(len(CLASSES))):.3f}, "
              f"Brier {((values - np.eye(len(CLASSES))[truth]) ** 2).sum(axis=1).mean():.3f}, "
              f"calibration error {_calibration_error(sure, said == truth):.3f}, not assessed "
              f"{1 - assessed.mean():.3f}, macro F1 of the assessed "
              f"{f1_score(truth[assessed], said[assessed], average='macro'):.3f}, 5 degrees from "
              f"where the class changes {f1_score(truth[clear], said[clear], average='macro'):.3f}")


def _calibration_error(sure: np.ndarray, right: np.ndarray) -> float:
    """Expected calibration error over equally filled bins.

    Source: M. P. Naeini, G. F. Cooper and M. Hauskrecht, "Obtaining well calibrated probabilities
    using Bayesian binning", AAAI 2015 (equal-frequency bins: common practice).
    """
    order = np.argsort(sure)
    return float(sum(abs(sure[part].mean() - right[part].mean()) * len(part)
                     for part in np.array_split(order, BINS)) / len(sure))
