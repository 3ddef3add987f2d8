"""Who counts as a player."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import project, turned_180
from stance.people.half_court import height_over, plays_on_half, stands_on_half
from stance.people.settings import SETTINGS
from tests.unit.figures import behind_camera, figure, track_of

MARGIN_M = SETTINGS.half_court.margin_found_m


@pytest.mark.parametrize(
    ("base", "counts"),
    [
        ((0.0, -4.0), True),
        ((2.9, -6.5), True),
        ((-3.15, -3.0), True),  # a foot beside the line
        ((-3.4, -3.0), False),  # somebody who watches from the line
        ((4.4, -4.0), False),  # an umpire or a coach beside the court
        ((-7.0, -4.0), False),  # the next court
        ((0.0, 4.0), False),  # an opponent or a feeder beyond the net
        ((0.0, -7.8), False),  # somebody behind the court
    ],
)
def test_only_people_on_the_half_court_are_players(base: tuple[float, float], counts: bool) -> None:
    camera = behind_camera(height=3.0, back=12.0)
    assert stands_on_half(camera, project(camera, figure(base)), MARGIN_M) == counts


@pytest.mark.parametrize(("home", "lunge", "plays"), [(3.7, 2.6, False), (2.6, 3.7, True)])
def test_who_lunges_onto_the_court_is_no_player_and_who_lunges_off_it_is(
    home: float, lunge: float, plays: bool
) -> None:
    camera = behind_camera(height=3.0, back=12.0)
    joints = np.stack([figure((x, -4.0)) for x in [home] * 11 + [lunge] * 4])
    assert plays_on_half(camera, track_of(camera, joints, 30.0)) == plays


def test_the_far_half_is_the_near_half_of_the_turned_camera() -> None:
    camera = behind_camera(height=3.0, back=12.0)
    pixels = project(camera, figure((1.0, 4.0)))
    assert not stands_on_half(camera, pixels, MARGIN_M)
    assert stands_on_half(turned_180(camera), pixels, MARGIN_M)


@given(st.floats(0.4, 2.0))
def test_height_over_a_place_is_found_from_its_pixel(height: float) -> None:
    camera = behind_camera()
    base = np.array([1.0, -4.5, 0.0])
    assert height_over(camera, base, project(camera, base + (0, 0, height))) == pytest.approx(
        height, abs=0.02
    )
