"""Colours worn, and what of a body is covered."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from stance.people.appearance import (
    Coverage,
    body_mask,
    colour_distance,
    colours_worn,
    covered_by,
    middle_colour,
)
from tests.unit.people.made_people import Picture, pose_at, two_in_line


@given(st.data())
def test_the_middle_colour_is_numpys_median(data: st.DataObject) -> None:
    shape = data.draw(st.tuples(st.integers(1, 9), st.integers(1, 9)))
    image = data.draw(arrays(np.uint8, (*shape, 3)))
    where = data.draw(arrays(bool, shape).filter(np.any))
    np.testing.assert_array_equal(middle_colour(image, where), np.median(image[where], axis=0))


def test_what_the_partner_covers_says_nothing_of_the_colours_behind() -> None:
    picture, front, shift = two_in_line()
    behind = front.moved(shift, 0.0)
    image = picture.image.copy()
    image[body_mask(image.shape[:2], [front.pixels])] = (255, 0, 255)
    plain, masked = (colours_worn(Picture(image), behind, others) for others in ((), (front,)))
    alone = colours_worn(picture, front)
    assert colour_distance(alone, masked) < colour_distance(alone, plain)


def test_colours_are_shares_of_one_whole_also_where_nothing_is_to_be_seen() -> None:
    picture, pose, _ = two_in_line()
    for others in ((), (pose,)):
        colours = colours_worn(picture, pose, others)
        assert colours.shape == (1024,)
        assert (colours >= 0.0).all()
        np.testing.assert_allclose(colours.sum(), 1.0)


def test_colours_differ_from_nothing_to_altogether() -> None:
    one, two = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    assert [colour_distance(one, other) for other in (one, two)] == [0.0, 1.0]


def test_a_body_is_covered_by_one_in_front_and_not_by_one_beside_it() -> None:
    pose = pose_at(0.0)
    assert covered_by(pose, [pose]) == Coverage(1.0, True)
    assert covered_by(pose, [pose_at(1.5)]) == Coverage(0.0, False)
    covered = covered_by(pose, [pose_at(0.35)])
    assert 0.0 < covered.share < 1.0
    assert not covered.nose
