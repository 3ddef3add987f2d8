"""Marks that contradict each other are refused, and the wrong one is named."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.court.calibration import calibrate
from stance.court.contradictions import MisfitPointError
from stance.court.court_file import read_court_file
from stance.errors import InputError
from tests.paths import DATA
from tests.unit.court.cameras import NEAR_HALF, REAR_CORNER, SIX, VIEWS, marked_by


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("noise", [0.0, 1.5])
def test_mirrored_points_are_refused(view, noise):
    marked = marked_by(VIEWS[view], NEAR_HALF, noise)
    with pytest.raises(InputError, match="left and right are swapped"):
        calibrate(replace(marked, court_points=marked.court_points * [-1, 1]))


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 14), st.floats(0, 2 * np.pi), st.integers(0, 1000))
def test_one_wrong_point_is_named(wrong, angle, seed):
    marked = marked_by(REAR_CORNER, NEAR_HALF, noise=1.0, seed=seed)
    true = marked.pixels[wrong].copy()
    marked.pixels[wrong] += 40 * np.array([np.cos(angle), np.sin(angle)])
    words = rf"Marked point {wrong + 1} \(.*it lies [345]\d pixels"
    with pytest.raises(MisfitPointError, match=words) as error:
        calibrate(marked)
    assert error.value.index == wrong
    np.testing.assert_allclose(error.value.expected_px, true, atol=8)


def test_two_wrong_points_are_all_doubted():
    marked = marked_by(REAR_CORNER, SIX)
    marked.pixels[[0, 2]] += [[0, 60], [50, -60]]
    with pytest.raises(InputError, match="check them all"):
        calibrate(marked)


def test_four_contradictory_points_are_refused():
    marked = marked_by(REAR_CORNER, SIX[:4])
    swapped = replace(marked, court_points=marked.court_points[[1, 0, 2, 3]])
    with pytest.raises(InputError, match="four marked points do not fit together"):
        calibrate(swapped)


def test_points_that_no_camera_can_see_are_refused():
    marked = marked_by(REAR_CORNER, NEAR_HALF)
    shuffled = np.random.default_rng(3).permutation(len(NEAR_HALF))
    with pytest.raises(InputError, match="do not fit together|does not fit the others"):
        calibrate(replace(marked, court_points=marked.court_points[shuffled]))


def test_marks_whose_fit_meets_a_camera_in_the_floor_are_refused_too():
    marked = read_court_file(DATA / "rear_corner_drill.court.json")
    shuffled = np.random.default_rng(2).permutation(len(marked.pixels))
    with pytest.raises(InputError, match="do not fit together|does not fit the others"):
        calibrate(replace(marked, court_points=marked.court_points[shuffled]))
