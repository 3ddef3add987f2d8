"""Where to look for players."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import project, turned_180
from stance.people.search_boxes import search_boxes, search_near
from tests.unit.figures import behind_camera, figure


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


def test_without_a_court_the_squares_cover_the_picture() -> None:
    boxes = search_boxes(None, (1280, 720))
    for x in np.linspace(100, 1180, 12):
        for y in np.linspace(200, 600, 6):
            nearest = min(
                np.hypot(b.x + b.side / 2 - x, b.y + b.side / 2 - y) / b.side for b in boxes
            )
            assert nearest < 0.45


def test_a_half_behind_the_camera_has_no_squares() -> None:
    # A metre beyond the net, with the back to the near half.
    camera = behind_camera(back=-1.0)
    assert search_boxes(camera, camera.image_size) == ()
    # As seen from there the far half has some.
    assert search_boxes(turned_180(camera), camera.image_size) != ()


def test_the_squares_nearest_to_a_place_are_given() -> None:
    boxes = search_boxes(None, (1280, 720))
    place = np.array([400.0, 300.0])
    near = search_near(boxes, place, 3)
    away = sorted(np.hypot(b.x + b.side / 2 - 400, b.y + b.side / 2 - 300) for b in boxes)
    assert [np.hypot(b.x + b.side / 2 - 400, b.y + b.side / 2 - 300) for b in near] == away[:3]
