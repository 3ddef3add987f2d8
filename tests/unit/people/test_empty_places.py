"""Places seen empty."""

from stance.people.empty_places import EmptyPlaces
from stance.people.landmarks import Box
from stance.people.settings import SETTINGS
from tests.unit.people.made_people import first_picture


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
