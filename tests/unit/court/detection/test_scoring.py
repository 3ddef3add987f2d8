"""Scores of the true reading against others."""

import numpy as np
import pytest

from stance.court.detection.axes import find_court_axes, locate_on_axes
from stance.court.detection.families import group_lines
from stance.court.detection.scoring import map_distance, measure_stray_length, score_readings
from tests.unit.court.detection.pictures import BEHIND, CORNER, SIZE, pixels_of, stripes_of
from tests.unit.court.detection.test_axes import PLACES, true_rays


def true_reading(camera, axes):
    """(4,) scale and offset of x, and of y, on axes."""
    places = locate_on_axes(axes, pixels_of(camera, PLACES))
    return np.concatenate([np.polyfit(PLACES[:, k], places[:, k], 1) for k in (0, 1)])


def test_distances_are_those_to_the_nearest_middle_line():
    stripes = stripes_of(BEHIND).select(np.array([0]))
    distance = map_distance(stripes, SIZE)
    assert distance.shape == (361, 641)
    first, last = stripes.ends[0]
    x, y = (first + last) / 2
    assert distance[int(y / 2), int(x / 2)] < 3
    beside = (first + last) / 2 + 40 * stripes.normal[0]
    assert distance[int(beside[1] / 2), int(beside[0] / 2)] == pytest.approx(40, abs=4)


@pytest.mark.parametrize("camera", [BEHIND, CORNER])
def test_the_true_reading_scores_best_and_leaves_nothing_over(camera):
    axes, stripes = find_court_axes(*true_rays(camera), SIZE), stripes_of(camera)
    true = true_reading(camera, axes)
    shifted, stretched = true.copy(), true.copy()
    shifted[3] += 0.76 * true[2]
    stretched[0] *= 1.2
    readings = np.array([true, shifted, stretched])
    distances = tuple(
        map_distance(stripes.select(group_lines(axes, stripes, axis, SIZE).members), SIZE)
        for axis in (0, 1)
    )
    scores = score_readings(axes, readings, distances, SIZE)
    assert scores[0] > 0.5 and scores[0] > scores[1:].max() + 0.3
    stray = measure_stray_length(axes, readings, stripes, SIZE)
    assert stray[0] == 0.0 and (stray[1:] > 0.0).any()


def test_a_stripe_across_the_court_where_it_has_no_line_is_left_over():
    axes = find_court_axes(*true_rays(BEHIND), SIZE)
    foreign = stripes_of(BEHIND, [((-2.0, 2.0), (-4.02, -3.98))])
    reading = true_reading(BEHIND, axes)[None]
    stray = measure_stray_length(axes, reading, foreign, SIZE)[0]
    # But for where it crosses the centre line.
    assert stray == pytest.approx(foreign.length[0] / max(SIZE), rel=0.25)
