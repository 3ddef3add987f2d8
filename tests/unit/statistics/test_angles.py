"""Angles wrap around; their mean is SciPy's."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import circmean

from stance.statistics.angles import circular_mean, unwrap_degrees, wrap_degrees


@given(st.floats(-720.0, 720.0))
def test_a_wrapped_angle_is_the_same_direction_the_short_way_round(angle):
    wrapped = float(wrap_degrees(np.array(angle)))
    assert -180.0 <= wrapped < 180.0
    turns = (angle - wrapped) / 360.0
    assert turns == pytest.approx(round(turns), abs=1e-9)


def test_the_turned_back_is_the_lower_end():
    np.testing.assert_array_equal(
        wrap_degrees(np.array([180.0, -180.0, 181.0, 540.0])), [-180.0, -180.0, -179.0, -180.0]
    )


@given(st.floats(-180.0, 180.0), st.floats(-180.0, 180.0))
def test_an_unwrapped_angle_is_less_than_half_a_turn_from_its_reference(angle, reference):
    unwrapped = float(unwrap_degrees(np.array(angle), np.array(reference)))
    assert abs(unwrapped - reference) <= 180.0 + 1e-9
    assert wrap_degrees(np.array(unwrapped - angle)) == pytest.approx(0.0, abs=1e-9)


@given(st.lists(st.floats(-180.0, 180.0), min_size=1, max_size=8))
def test_the_mean_direction_is_scipys(angles):
    # Angles that cancel have no mean direction.
    assume(abs(np.exp(1j * np.radians(angles)).mean()) > 1e-3)
    theirs = circmean(angles, high=180.0, low=-180.0)
    ours = circular_mean(np.array(angles))
    assert wrap_degrees(np.array(ours - theirs)) == pytest.approx(0.0, abs=1e-9)
    assert -180.0 <= ours <= 180.0
