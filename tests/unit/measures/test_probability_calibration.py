"""Calibrated probabilities: the temperature of models/class_calibration.json."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.errors import StanceError
from stance.measures.classes import class_probabilities
from stance.measures.probability_calibration import (
    CALIBRATION_FILE,
    calibrated_probabilities,
    inverse_temperature,
    log_probabilities,
)
from stance.runtime import model_files
from stance.types import CLASSES
from tests.training.classifier import fitted_inverse_temperature

angles = st.floats(-90.0, 90.0)
errors = st.floats(0.5, 15.0)


@given(angles, errors, angles, errors)
def test_probabilities_add_up_to_one(
    lead: float, lead_se: float, hip: float, hip_se: float
) -> None:
    found = calibrated_probabilities(class_probabilities(lead, lead_se, hip, hip_se))
    assert list(found) == list(CLASSES)
    assert sum(found.values()) == pytest.approx(1.0)
    assert min(found.values()) > 0.0


@given(st.sampled_from(CLASSES), st.floats(0.05, 0.4))
def test_what_makes_a_class_likelier_does_so(name: str, least: float) -> None:
    def with_share(share: float) -> float:
        rest = (1.0 - share) / 2
        return calibrated_probabilities({c: share if c == name else rest for c in CLASSES})[name]

    assert with_share(least) < with_share(least + 0.3) < with_share(least + 0.55)


@given(st.sampled_from(CLASSES))
def test_a_class_that_is_all_but_certain_stays_so(name: str) -> None:
    found = calibrated_probabilities({c: 0.998 if c == name else 0.001 for c in CLASSES})
    assert found[name] > 0.95


def test_the_temperature_that_was_put_in_is_found() -> None:
    rng = np.random.default_rng(5)
    logs = np.log(rng.dirichlet((0.3, 0.3, 0.3), 4000).clip(1e-3))
    chances = np.exp(logs / 1.5)
    chances /= chances.sum(axis=1, keepdims=True)
    truth = (rng.random((4000, 1)) > chances.cumsum(axis=1)).sum(axis=1)
    assert 1 / fitted_inverse_temperature(logs, truth) == pytest.approx(1.5, abs=0.1)


@pytest.fixture
def models(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Path]:
    """A folder of model files that is empty."""
    monkeypatch.setattr(model_files, "models_folder", lambda: tmp_path)
    monkeypatch.setattr(model_files, "CARDS_SHA256", {})
    inverse_temperature.cache_clear()
    yield tmp_path
    inverse_temperature.cache_clear()


def test_probabilities_are_those_of_the_temperature(models: Path) -> None:
    (models / CALIBRATION_FILE).write_text('{"inverse_temperature": 0.5}')
    given_ = dict(zip(CLASSES, (0.64, 0.32, 0.04), strict=True))
    found = list(calibrated_probabilities(given_).values())
    roots = np.sqrt([0.64, 0.32, 0.04])
    assert found == pytest.approx(list(roots / roots.sum()))
    logs = log_probabilities({**given_, CLASSES[2]: 0.0})
    assert list(np.exp(logs)) == pytest.approx([0.64, 0.32, 1e-3])


@pytest.mark.parametrize("content", [None, "", "{}", '{"inverse_temperature": "hot"}'])
def test_a_missing_or_damaged_file_gets_a_sentence(models: Path, content: str | None) -> None:
    if content is not None:
        (models / CALIBRATION_FILE).write_text(content)
    with pytest.raises(StanceError, match=r"class_calibration\.json.*install the tool anew"):
        calibrated_probabilities(dict.fromkeys(CLASSES, 1 / 3))
