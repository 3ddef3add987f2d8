"""The net's tape in drawn pictures, and what it hides."""

import numpy as np
import pytest

from stance.court.camera import camera_centre
from stance.court.detection.net_tape import find_net_tape, is_behind_tape
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    FRONT,
    GREEN,
    WHITE,
    camera_at,
    drawn,
    lab,
)


@pytest.mark.parametrize("camera", [BEHIND, camera_at((-0.5, 6.4, 3.0), (0.2, -3.5, 0.5), 980)])
def test_the_tape_is_seen_where_it_is_painted_and_not_elsewhere(camera):
    with_net, without = (
        find_net_tape(camera, lab(drawn(camera, [(BADMINTON, WHITE)], GREEN, net=net))[..., 0])
        for net in (True, False)
    )
    assert with_net.share > 0.9 and without.share < 0.6
    assert with_net.length == without.length and 0.1 < with_net.length < 1.5


@pytest.mark.parametrize("hangs", [(0.05, 0.0), (-0.05, 0.0), (-0.02, -0.07), (0.03, -0.08)])
def test_a_net_that_hangs_some_centimetres_wrong_is_seen(hangs):
    picture = drawn(BEHIND, [(BADMINTON, WHITE)], GREEN, net=True, hangs=hangs)
    assert find_net_tape(BEHIND, lab(picture)[..., 0]).share > 0.9


@pytest.mark.parametrize("at_posts", [-0.25, 0.2])
def test_a_band_at_another_height_is_not_the_tape(at_posts):
    picture = drawn(BEHIND, [(BADMINTON, WHITE)], GREEN, net=True, hangs=(at_posts, 0.0))
    assert find_net_tape(BEHIND, lab(picture)[..., 0]).share < 0.6


def test_a_net_outside_the_picture_is_not_asked_for():
    down = camera_at((0.0, -11.0, 2.0), (0.0, -9.0, 0.0))
    tape = find_net_tape(down, np.zeros((720, 1280), np.float32))
    assert tape.share is None and tape.length == 0.0


@pytest.mark.parametrize(("height", "hidden"), [(1.5, True), (1.2, False), (1.8, False)])
def test_a_place_is_hidden_where_its_sight_passes_through_the_tape(height, hidden):
    # From the camera over a point above the middle of the court, down to the floor.
    centre = camera_centre(FRONT)
    through = np.array([0.0, 0.0, height])
    place = centre + (through - centre) * centre[2] / (centre[2] - height)
    assert is_behind_tape(FRONT, place[None])[0] == hidden


def test_what_is_on_the_cameras_side_of_the_net_is_not_hidden():
    places = np.array([[0.0, y, 0.0] for y in (0.5, 2.0, 4.0)])
    assert not is_behind_tape(FRONT, places).any()
