"""A camera turned against the painted lines is turned back, and by how much it turns the net."""

from dataclasses import replace

import numpy as np
import pytest
import scipy

from stance.court.camera import HALF_TURN
from stance.court.detection.agreement import measure_agreement
from stance.court.detection.turning import measure_turn, turn_onto_lines
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    CORNER,
    FRONT,
    GREEN,
    SIDE,
    WHITE,
    drawn,
)

CAMERAS = [BEHIND, CORNER, SIDE, FRONT]


def turned(camera, degrees):
    """A camera turned about its own axes by three angles."""
    turn = scipy.spatial.transform.Rotation.from_euler("xyz", degrees, degrees=True).as_matrix()
    return replace(camera, rotation=turn @ camera.rotation, translation=turn @ camera.translation)


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("degrees", [(0, 0, 1), (0, 0, -1), (0.15, -0.2, 0.5), (0, 0, 0)])
def test_a_turned_camera_is_turned_back_onto_the_lines(camera, degrees):
    light = drawn(camera, [(BADMINTON, WHITE)], GREEN, net=True).mean(axis=2).astype(np.float32)
    back = turn_onto_lines(turned(camera, degrees), light, 2.5)
    assert measure_turn(camera, back) < 0.15


def test_without_lines_a_camera_stays_as_it_is():
    light = np.full(BEHIND.image_size[::-1], 100.0, np.float32)
    assert turn_onto_lines(BEHIND, light, 2.5) is BEHIND


def test_a_turn_of_the_court_itself_is_measured_whichever_half_it_is_named_from():
    cosine, sine = np.cos(np.radians(3.0)), np.sin(np.radians(3.0))
    floor = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    for half in (np.eye(3), HALF_TURN):
        other = replace(BEHIND, rotation=BEHIND.rotation @ floor @ half)
        assert measure_turn(BEHIND, other) == pytest.approx(3.0, abs=1e-6)
    assert measure_turn(BEHIND, BEHIND) == pytest.approx(0.0, abs=1e-9)


def test_a_roll_that_turns_the_net_is_seen_though_the_lines_agree():
    picture = drawn(BEHIND, [(BADMINTON, WHITE)], GREEN, net=True)
    assert measure_agreement(BEHIND, picture).is_straight
    rolled = turned(BEHIND, (0, 0, 0.7))
    agreement = measure_agreement(rolled, picture)
    assert agreement.agrees
    assert not agreement.is_straight
    assert agreement.turned_deg == pytest.approx(measure_turn(rolled, BEHIND), abs=0.2)
