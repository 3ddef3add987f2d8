"""Two readings of a player become one prediction; the feet's errors grow with their distance."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.errors import StanceError
from stance.measures.network_outputs import (
    ERRORS,
    FEET_PLACES,
    PIXEL_ERRORS,
    TARGETS,
    combine_readings,
    distance_apart,
    feet_weights,
    own_errors,
    rescale_to_usual,
    unmirror_predictions,
)
from stance.measures.rectified_crop import RECTIFIED_PIXELS
from stance.runtime import model_files


def reading() -> np.ndarray:
    """A reading: feet at (0.4, 0.8) and (0.6, 0.9) of the crop, all errors 1."""
    one = np.zeros(len(TARGETS) + len(ERRORS))
    one[FEET_PLACES] = 0.4, 0.8, 0.6, 0.9
    return one


def shifted(left: tuple[float, float], right: tuple[float, float]) -> np.ndarray:
    """Two readings, the second with its feet moved by so many pixels across and down."""
    second = reading()
    second[FEET_PLACES] += np.array([*left, *right]) / RECTIFIED_PIXELS
    return np.stack([reading(), second])


def test_readings_that_agree_leave_a_part_of_the_networks_own_errors() -> None:
    readings = shifted((0, 0), (0, 0))
    predictions, errors = combine_readings(readings)
    np.testing.assert_allclose(predictions, reading()[: len(TARGETS)])
    own = own_errors(readings)
    np.testing.assert_allclose(errors[PIXEL_ERRORS], feet_weights()[0] * own[PIXEL_ERRORS])
    others = np.delete(np.arange(len(ERRORS)), np.arange(len(ERRORS))[PIXEL_ERRORS])
    np.testing.assert_allclose(errors[others], own[others])


def test_readings_apart_make_the_line_of_the_feet_less_sure_than_their_middle() -> None:
    # Each foot 3 pixels across and 4 down: the line's error by that is the root of two times as
    # much, the middle's the root of two less.
    apart = dict(zip(ERRORS, distance_apart(shifted((3, 4), (-3, 4))), strict=True))
    assert apart["line across"] == pytest.approx(3 * np.sqrt(2))
    assert apart["line down"] == pytest.approx(4 * np.sqrt(2))
    assert apart["base across"] == pytest.approx(3 / np.sqrt(2))
    assert apart["base down"] == pytest.approx(4 / np.sqrt(2))
    assert apart["hips"] == apart["left knee"] == 0.0


@given(st.floats(0, 20), st.floats(0, 20))
def test_the_further_apart_the_readings_the_larger_the_feets_errors(a: float, b: float) -> None:
    low, high = sorted((a, b))
    near, far = (combine_readings(shifted((d, d), (d, -d)))[1] for d in (low, high))
    assert (far >= near - 1e-12).all()


def test_the_order_of_the_readings_does_not_matter() -> None:
    readings = shifted((2, 1), (-1, 3))
    for one, other in zip(
        combine_readings(readings), combine_readings(readings[::-1]), strict=True
    ):
        np.testing.assert_allclose(one, other)


def test_a_mirrored_reading_mirrored_again_is_itself() -> None:
    some = np.random.default_rng(3).normal(size=len(TARGETS) + len(ERRORS))
    np.testing.assert_allclose(unmirror_predictions(unmirror_predictions(some)), some)


def test_feet_keep_their_place_about_the_middle_of_a_wider_crop() -> None:
    wide = rescale_to_usual(reading(), 2.0)
    np.testing.assert_allclose(wide[FEET_PLACES], [0.3, 1.1, 0.7, 1.3])
    np.testing.assert_allclose(wide[len(TARGETS) :][PIXEL_ERRORS], np.log(2.0))


def test_a_file_without_weights_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "orientation.json").write_text(json.dumps({"factors": {}}))
    monkeypatch.setattr(model_files, "models_folder", lambda: tmp_path)
    feet_weights.cache_clear()
    with pytest.raises(StanceError, match="orientation.json is missing .* or damaged"):
        feet_weights()
    feet_weights.cache_clear()
