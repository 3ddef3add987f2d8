"""Measures of hand-worked stances, and averages over looks."""

from dataclasses import replace

import numpy as np
import pytest

from stance.measures.stance_measures import Measures, average


def measures(hip: float = -20.0, lead: float = -15.0, error: float = 3.0) -> Measures:
    return Measures(
        hip_yaw=np.array([hip, error]),
        shoulder_yaw=np.array([0.0, error]),
        lead_angle=np.array([lead, error]),
        foot_stagger=np.array([-0.1, 0.02]),
        stance_width=np.array([0.6, 0.03]),
        knee_flexion=np.array([[40.0, 5.0], [42.0, 5.0]]),
        base=np.array([[1.0, 0.05], [-4.0, 0.1]]),
        feet=np.zeros((2, 2, 2)),
        hips=np.zeros((2, 2)),
        hip_width=0.25,
        leg_length=0.8,
    )


def test_the_common_error_does_not_shrink_with_more_looks() -> None:
    assert average([measures()] * 50).hip_yaw[1] == pytest.approx(3.0)


def test_scatter_between_looks_adds_to_the_error_and_shrinks_with_their_number() -> None:
    rng = np.random.default_rng(1)
    few = [measures(hip=h) for h in rng.normal(0, 8.0, 6)]
    many = [measures(hip=h) for h in rng.normal(0, 8.0, 600)]
    assert average(few).hip_yaw[1] > average(many).hip_yaw[1] > 3.0
    # The median of n normal values has the error 1.2533 SD / sqrt(n) (Kendall and Stuart, The
    # Advanced Theory of Statistics, vol. 1; from memory).
    expected = np.hypot(3.0, 1.2533 * 8.0 / np.sqrt(600))
    assert average(many).hip_yaw[1] == pytest.approx(expected, rel=0.05)


def test_one_wild_look_does_not_move_the_average() -> None:
    assert average([measures()] * 4 + [measures(hip=100.0)]).hip_yaw[0] == pytest.approx(-20.0)


def test_angles_average_around_the_turned_back() -> None:
    looks = [measures(hip=h) for h in (178.0, -179.0, -178.0)]
    assert average(looks).hip_yaw[0] == pytest.approx(-179.0)


def test_a_single_look_is_its_own_average() -> None:
    one = replace(measures(), hip_width=0.31)
    result = average([one])
    np.testing.assert_array_equal(result.lead_angle, one.lead_angle)
    assert result.hip_width == 0.31
