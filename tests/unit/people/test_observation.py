"""Observations of a square, past others, each with an id of its own."""

import numpy as np
import pytest

from stance.people.appearance import covered_by
from stance.people.landmarker import Landmarker
from stance.people.landmarks import Box
from stance.people.observation import Observer, cut_out
from tests.unit.people.made_people import Picture, two_in_line


def test_who_stands_behind_the_partner_is_seen_past_them() -> None:
    picture, front, shift = two_in_line()
    with Landmarker("full", people=3) as landmarker:
        observations = Observer("finder", landmarker).observe(
            picture, front.box.widened(1.3), [front]
        )
    seen = [o.pose for o in observations if covered_by(o.pose, [front]).share < 0.6]
    height = float(np.ptp(front.pixels[:, 1]))
    away = [np.abs((p.pixels - front.pixels)[:, 0].mean() - shift) for p in seen]
    assert away
    assert min(away) < 0.12 * height


def test_every_observation_has_an_id_of_its_own_also_of_the_same_square() -> None:
    picture, front, _ = two_in_line()
    with Landmarker("full") as landmarker:
        observers = [Observer(name, landmarker) for name in ("finder", "near 0")]
        ids = [
            observation.id
            for observer in observers
            for _ in range(2)
            for observation in observer.observe(picture, front.box)
        ]
    assert len(ids) == len(set(ids)) == 4


def test_a_cut_lies_where_it_says_and_ends_at_the_picture() -> None:
    image = np.random.default_rng(1).integers(0, 255, (100, 160, 3), np.uint8)
    cut = cut_out(Picture(image), Box(-20.0, 60.0, 70.0))
    assert cut is not None
    height, width = cut.image.shape[:2]
    np.testing.assert_array_equal(
        cut.image, image[cut.top : cut.top + height, cut.left : cut.left + width]
    )
    assert (cut.left, cut.top + height) == (0, 100)
    assert cut.left + width >= 50
    assert cut.top <= 60


@pytest.mark.parametrize("box", [Box(-300.0, 10.0, 50.0), Box(10.0, 400.0, 50.0)])
def test_nothing_is_cut_outside_the_picture(box: Box) -> None:
    assert cut_out(Picture(np.zeros((100, 160, 3), np.uint8)), box) is None
