"""Fitting a body to landmarks: what is compared with the tool must itself be sound."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from stance.court.camera import Camera, project
from tests.evaluation.fitted_body import (
    ANKLES,
    HEELS,
    HIPS,
    KNEES,
    LENGTHS,
    LONGEST,
    POSE,
    PROPORTIONS,
    TOES,
    Evidence,
    fit_bodies,
    fit_clip,
    measures_of,
    posed,
)

LENGTHS_M = 0.8 * PROPORTIONS


def camera() -> Camera:
    """A camera from behind on the right, 3.2 m up and 5.2 m from the player."""
    centre, player = np.array([3.0, -8.0, 3.2]), np.array([0.0, -4.2, 0.5])
    away = (player - centre) / np.linalg.norm(player - centre)
    right = np.cross(away, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.stack([right, np.cross(away, right), away])
    matrix = np.array([[1400.0, 0.0, 960.0], [0.0, 1400.0, 540.0], [0.0, 0.0, 1.0]])
    return Camera(matrix, rotation, -rotation @ centre, (1920, 1080))


def pose(hips: float, feet: tuple[float, float], stagger: float) -> np.ndarray:
    """(15,) a waiting player at (0, -4): hips turned, feet pointing, right foot in front."""
    return np.array(
        [
            -0.3,
            -4.1,
            0.0,
            feet[0],
            0.3,
            -4.1 + stagger,
            0.0,
            feet[1],
            0.0,
            -4.25,
            0.62,
            hips,
            0.0,
            0.1,
            -0.1,
        ]
    )


@given(
    hips=st.floats(-1.0, 1.0),
    left=st.floats(1.2, 2.4),
    right=st.floats(0.8, 2.0),
    stagger=st.floats(-0.3, 0.3),
)
@example(hips=-1.0, left=2.0, right=1.0, stagger=0.28125)
def test_a_posed_body_has_the_lengths_given_and_stands_on_the_floor(hips, left, right, stagger):
    joints, beyond = posed(pose(hips, (left, right), stagger)[None], LENGTHS_M)

    def length(one, other):
        return np.linalg.norm(joints[0, one] - joints[0, other], axis=-1)

    assert length(HIPS[0], HIPS[1]) == pytest.approx(LENGTHS_M[0])
    for pairs, wanted in (
        ((KNEES, ANKLES), LENGTHS_M[2]),
        ((ANKLES, HEELS), LENGTHS_M[3]),
        ((ANKLES, TOES), LENGTHS_M[4]),
        ((HEELS, TOES), LENGTHS_M[5]),
        ((HIPS, KNEES), LENGTHS_M[1]),
    ):
        # A stretched leg ends before an ankle that it can't reach.
        short = beyond[0] if pairs[1] is ANKLES else np.zeros(2)
        assert np.all(np.abs(length(*pairs) - wanted - short) <= 1e-6 * wanted + 0.01 * short)
    reach = length(HIPS, ANKLES) - LONGEST * (LENGTHS_M[1] + LENGTHS_M[2])
    assert beyond[0] == pytest.approx(np.maximum(reach, 0.0), abs=1e-9)
    assert abs(stagger) > 0.2 or np.all(beyond == 0.0)
    assert np.all(np.abs(joints[0, [*HEELS, *TOES], 2]) < 0.05)


def test_the_knees_of_a_posed_body_are_in_front_of_its_legs():
    joints, _ = posed(pose(0.0, (1.8, 1.3), 0.0)[None], LENGTHS_M)
    between = (joints[0, HIPS] + joints[0, ANKLES]) / 2
    assert np.all((joints[0, KNEES] - between)[:, 1] > 0.05)


def test_bodies_are_found_again_from_faultless_landmarks():
    moments = [pose(0.5, (1.9, 1.4), -0.2), pose(-0.3, (1.7, 1.1), 0.1), pose(0.0, (2.0, 1.2), 0)]
    true, _ = posed(np.array(moments), LENGTHS_M * 1.06)
    seen = Evidence(project(camera(), true), np.ones(len(true)))
    rough = true + np.random.default_rng(0).normal(0.0, 0.05, true.shape)
    found = fit_clip(camera(), seen, rough)
    for joints, wanted in zip(found.joints, true, strict=True):
        fitted, truth = measures_of(joints, "right"), measures_of(wanted, "right")
        assert fitted["hip_yaw_deg"] == pytest.approx(truth["hip_yaw_deg"], abs=3.0)
        assert fitted["lead_angle_deg"] == pytest.approx(truth["lead_angle_deg"], abs=1.0)
        assert fitted["foot_stagger_m"] == pytest.approx(truth["foot_stagger_m"], abs=0.01)


def test_a_landmark_far_off_bends_the_body_little():
    true, _ = posed(pose(0.4, (1.9, 1.4), -0.1)[None], LENGTHS_M)
    pixels = project(camera(), true)
    pixels[0, KNEES[0]] += (60.0, 0.0)
    start = np.concatenate([pose(0.4, (1.9, 1.4), -0.1), np.log(LENGTHS_M), [np.log(0.8)]])
    assert len(start) == POSE + LENGTHS + 1
    found = fit_bodies(camera(), Evidence(pixels, np.ones(1)), start)
    truth = measures_of(true[0], "right")["hip_yaw_deg"]
    assert measures_of(found.joints[0], "right")["hip_yaw_deg"] == pytest.approx(truth, abs=6.0)


def test_a_left_hander_s_measures_are_those_of_the_mirrored_right_hander():
    joints, _ = posed(pose(0.4, (1.9, 1.4), -0.1)[None], LENGTHS_M)
    mirrored = joints[0].reshape(5, 2, 3)[:, ::-1].reshape(10, 3) * (-1.0, 1.0, 1.0)
    assert measures_of(mirrored, "left") == pytest.approx(measures_of(joints[0], "right"))
