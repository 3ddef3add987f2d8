"""How sure a class is: the classifier of models/classes.json."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.linear_model import LogisticRegression

import stance.certainty
from stance.camera import Camera
from stance.certainty import calibrated_probabilities, features, view_of
from stance.classes import class_probabilities
from stance.errors import StanceError
from stance.result import CLASSES

views = st.tuples(st.floats(0.05, 0.6), st.floats(-1.0, 1.0))
angles = st.floats(-90.0, 90.0)
errors = st.floats(0.5, 15.0)


@given(angles, errors, angles, errors, views)
def test_probabilities_add_up_to_one(
    lead: float, lead_se: float, hip: float, hip_se: float, view: tuple[float, float]
) -> None:
    found = calibrated_probabilities(class_probabilities(lead, lead_se, hip, hip_se), view)
    assert list(found) == list(CLASSES)
    assert sum(found.values()) == pytest.approx(1.0)
    assert min(found.values()) >= 0.0


@given(views, st.sampled_from(CLASSES), st.floats(0.05, 0.4))
def test_what_makes_a_class_likelier_does_so_from_every_view(
    view: tuple[float, float], name: str, least: float
) -> None:
    def with_share(share: float) -> float:
        rest = (1.0 - share) / 2
        given_ = {c: share if c == name else rest for c in CLASSES}
        return calibrated_probabilities(given_, view)[name]

    assert with_share(least) < with_share(least + 0.3) < with_share(least + 0.55)


@given(views, st.sampled_from(CLASSES))
def test_a_class_that_is_all_but_certain_stays_so(view: tuple[float, float], name: str) -> None:
    found = calibrated_probabilities({c: 0.998 if c == name else 0.001 for c in CLASSES}, view)
    assert found[name] > 0.9


def test_it_is_the_regression_of_the_reference_library() -> None:
    # scikit-learn's LogisticRegression with the same numbers gives the same probabilities.
    weights, constants = stance.certainty._classifier()
    model = LogisticRegression()
    model.classes_ = np.arange(len(CLASSES))
    model.coef_, model.intercept_ = weights, constants
    rng = np.random.default_rng(5)
    for row in rng.dirichlet((0.5, 0.5, 0.5), 50):
        given_ = dict(zip(CLASSES, map(float, row), strict=True))
        view = (float(rng.uniform(0.05, 0.6)), float(rng.uniform(-1, 1)))
        expected = model.predict_proba([features(given_, view)])[0]
        found = calibrated_probabilities(given_, view)
        assert list(found.values()) == pytest.approx(list(expected))


def test_the_view_is_told_from_the_camera() -> None:
    # 4 m to the right of and 3 m behind the player, 5 m up: elevation 45 degrees.
    centre = np.array([5.0, -6.0, 5.0])
    camera = Camera(np.eye(3), np.eye(3), -centre, (10, 10))
    sine, cosine = view_of(camera, np.array([1.0, -3.0]))
    assert sine == pytest.approx(np.sin(np.radians(45.0)))
    assert cosine == pytest.approx(3 / 5)


def test_a_missing_file_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    monkeypatch.setattr(stance.certainty, "models_folder", lambda: tmp_path)
    stance.certainty._classifier.cache_clear()
    with pytest.raises(StanceError, match=r"classes\.json"):
        calibrated_probabilities(dict.fromkeys(CLASSES, 1 / 3), (0.2, 1.0))
    stance.certainty._classifier.cache_clear()
