"""A camera assumed from a player puts them on the floor, as tall as grown-ups are."""

from dataclasses import replace

import numpy as np
import pytest

from stance.errors import InputError
from stance.people.floor import base_on_floor
from stance.watching.assumed_court import assume_court, assume_court_or_refuse
from tests.unit.figures import behind_camera, figure, track_of


def walking(camera):
    """A player who goes two metres to the right."""
    places = [(x, -4.0) for x in np.linspace(-1.0, 1.0, 21)]
    return track_of(camera, np.stack([figure(place) for place in places]), 30.0)


def test_an_assumed_camera_sees_the_player_move_as_far_as_they_do() -> None:
    true = behind_camera()
    track = walking(true)
    court = assume_court(track, true.image_size)
    assert court.source == "assumed" and court.error_px is None
    bases = base_on_floor(court.camera, track.pixels)
    moved = np.linalg.norm(bases[-1] - bases[0])
    # The figure crouches, so that it seems further away than it is.
    assert 1.5 < moved < 3.0
    assert court.camera.image_size == true.image_size


def test_where_the_phone_stood_turns_the_court_about_the_player() -> None:
    true = behind_camera()
    track = walking(true)
    behind, left = (assume_court(track, true.image_size, place) for place in ("behind", "left"))
    steps = [
        np.diff(base_on_floor(c.camera, track.pixels)[[0, -1]], axis=0)[0] for c in (behind, left)
    ]
    # Seen from the left, what goes to the right in the picture goes away from the net.
    np.testing.assert_allclose(steps[1], [steps[0][1], -steps[0][0]], atol=0.02)
    assert np.linalg.norm(steps[0]) > 1.5


@pytest.mark.parametrize("turn", [((0, 1), (-1, 0)), ((0, -1), (1, 0)), ((-1, 0), (0, -1))])
def test_a_picture_on_its_side_or_upside_down_is_told_with_what_to_do(turn) -> None:
    true = behind_camera()
    track = walking(true)
    middle = np.array(true.image_size) / 2
    turned = replace(track, pixels=(track.pixels - middle) @ np.array(turn) + middle)
    assert assume_court(turned, true.image_size) is None
    with pytest.raises(InputError, match="lie on its side.*Turn the clip"):
        assume_court_or_refuse(turned, true.image_size)


def test_some_observations_that_are_not_upright_do_not_count() -> None:
    true = behind_camera()
    track = walking(true)
    pixels = track.pixels.copy()
    pixels[::3, :, 1] = true.image_size[1] - pixels[::3, :, 1]
    court = assume_court_or_refuse(replace(track, pixels=pixels), true.image_size, "behind")
    whole = assume_court_or_refuse(track, true.image_size, "behind")
    np.testing.assert_allclose(court.camera.translation, whole.camera.translation, atol=0.5)
