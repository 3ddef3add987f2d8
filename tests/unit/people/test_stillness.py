"""Whether a square still looks the same, and places seen empty."""

import numpy as np
import pytest

from stance.people.landmarks import Box
from stance.people.settings import SETTINGS
from stance.people.stillness import EmptyPlaces, body_thumbnail, same_thumbnail
from tests.unit.people.made_people import Picture, first_picture

SQUARE = Box(200.0, 200.0, 150.0)


def changed(picture: Picture, by: int) -> Picture:
    """The picture with a part of the square so much brighter."""
    image = picture.image.astype(int)
    image[240:280, 240:280] += by
    return Picture(np.clip(image, 0, 255).astype(np.uint8), picture.index, picture.time_s)


@pytest.mark.parametrize("side", [40.0, 96.0, 150.0, 290.0, 600.0])
def test_thumbnails_are_as_large_as_the_square_says_wherever_it_lies(side: float) -> None:
    picture = first_picture()
    shapes = set()
    for x in (0.0, 3.7, 40.2):
        thumbnail = body_thumbnail(picture, Box(x, 10.3, side))
        assert thumbnail is not None
        shapes.add(thumbnail.shape)
    assert len(shapes) == 1
    assert 64 <= shapes.pop()[0] <= 128


@pytest.mark.parametrize("box", [Box(-2.0, 10.0, 50.0), Box(10.0, 700.0, 50.0)])
def test_a_square_that_leaves_the_picture_has_no_thumbnail(box: Box) -> None:
    assert body_thumbnail(first_picture(), box) is None


@pytest.mark.parametrize(("by", "same"), [(0, True), (8, True), (60, False)])
def test_noise_is_no_change_and_a_body_is(by: int, same: bool) -> None:
    picture = Picture(np.full((720, 1280, 3), 100, np.uint8))
    one, two = (body_thumbnail(p, SQUARE) for p in (picture, changed(picture, by)))
    assert one is not None and two is not None
    assert same_thumbnail(one, two) == same


def test_a_place_seen_empty_need_not_be_searched_again_until_it_changes() -> None:
    picture = first_picture()
    square = Box(200.0, 200.0, 150.0)
    empty = EmptyPlaces()
    assert not empty.includes(picture, square)
    empty.add(picture, [square])
    assert empty.includes(picture, Box(204.0, 198.0, 155.0))
    assert not empty.includes(picture, Box(260.0, 200.0, 150.0))
    assert not empty.includes(picture, Box(160.0, 160.0, 230.0))
    picture.image = picture.image.copy()
    picture.image[240:320, 240:300] = 255 - picture.image[240:320, 240:300]
    assert not empty.includes(picture, square)


def test_only_the_latest_places_are_remembered() -> None:
    picture = first_picture()
    empty = EmptyPlaces()
    squares = [Box(60.0 * n, 300.0, 50.0) for n in range(SETTINGS.search.most_empty + 1)]
    empty.add(picture, squares)
    assert [empty.includes(picture, square) for square in squares] == [
        False,
        *[True] * SETTINGS.search.most_empty,
    ]
