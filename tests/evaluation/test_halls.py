"""Halls in which the court is searched: school floors, nets that hang wrong."""

import numpy as np
import pytest

from tests.evaluation.halls import FLOORS, hang_net, in_hall, paint_school, rectangles
from tests.rendering.clips import draw_clip


@pytest.fixture(scope="module")
def clip():
    return draw_clip(4, "test", positions=1)


def test_a_school_floor_keeps_the_court_and_adds_three_sports_in_other_colours(clip):
    hall = clip.scene.hall
    school = paint_school(hall, np.random.default_rng(0))
    added = len(school.lines) - len(hall.lines)
    sports = ("handball", "basketball", "volleyball")
    assert added == sum(len(rectangles(FLOORS[sport], np.zeros(3))) for sport in sports)
    # Painted first, so that the court lies over them.
    assert np.array_equal(school.lines[added:], hall.lines)
    colours = np.unique(school.lines[:added, 4:7], axis=0)
    assert len(colours) == 3
    assert (np.abs(colours - hall.colours[2]).max(axis=1) > 0.25).all()


def test_a_net_hangs_where_the_hall_says(clip):
    hall = clip.scene.hall
    rng = np.random.default_rng(1)
    hung = np.array([hang_net(hall, rng).net_hangs_m for _ in range(200)])
    assert np.abs(hung[:, 0]).max() < 0.04 and -0.08 < hung[:, 1].min() < hung[:, 1].max() < 0
    by_law = in_hall(clip, hall).scene
    assert np.array_equal(by_law.net.cover, clip.scene.net.cover)
    low = in_hall(clip, hang_net(hall, rng)).scene
    assert np.array_equal(low.background, by_law.background)
    assert not np.array_equal(low.net.cover, by_law.net.cover)
