"""Who counts as a player, and where to look for one."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import Camera, project, turned_180
from stance.people.half_court import height_over, plays_on_half, stands_on_half
from stance.people.search_boxes import search_boxes
from tests.evaluation.figures import behind_camera, figure, track_of


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
    assert stands_on_half(camera, project(camera, figure(base))) == counts


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
    assert not stands_on_half(camera, pixels)
    assert stands_on_half(turned_180(camera), pixels)


@given(st.floats(-2.8, 2.8), st.floats(-6.4, -1.0), st.floats(0.6, 1.3))
def test_every_place_on_the_half_lies_well_inside_a_search_square(
    x: float, y: float, stretch: float
) -> None:
    camera = behind_camera(height=2.5, back=10.0, focal=900.0)
    pixels = project(camera, figure((x, y), stretch))
    width, height = camera.image_size
    if (pixels < 0).any() or (pixels > (width, height)).any():
        return
    boxes = search_boxes(camera, camera.image_size)
    inside = [
        ((pixels >= (b.x, b.y)) & (pixels <= (b.x + b.side, b.y + b.side))).all() for b in boxes
    ]
    size = [np.ptp(pixels[:, 1]) / b.side for b, good in zip(boxes, inside, strict=True) if good]
    # The person detector finds people down to about a fifth of its picture; some margin stays.
    assert size and max(size) > 0.25


@given(st.floats(0.4, 2.0))
def test_height_over_a_place_is_found_from_its_pixel(height: float) -> None:
    camera = behind_camera()
    base = np.array([1.0, -4.5, 0.0])
    assert height_over(camera, base, project(camera, base + (0, 0, height))) == pytest.approx(
        height, abs=0.02
    )


def test_without_a_court_the_squares_cover_the_picture() -> None:
    boxes = search_boxes(None, (1280, 720))
    for x in np.linspace(100, 1180, 12):
        for y in np.linspace(200, 600, 6):
            nearest = min(
                np.hypot(b.x + b.side / 2 - x, b.y + b.side / 2 - y) / b.side for b in boxes
            )
            assert nearest < 0.45


def test_camera_of_no_half_has_no_squares_behind_it() -> None:
    camera = behind_camera()
    turned = Camera(
        camera.matrix,
        camera.rotation @ np.diag([-1.0, -1.0, 1.0]),
        camera.translation,
        camera.image_size,
    )
    assert all(np.isfinite([b.x, b.y, b.side]).all() for b in search_boxes(turned, (1280, 720)))
