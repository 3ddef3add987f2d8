"""Points on the court's lines, and places where it has none."""

import numpy as np
import pytest

from stance.court.detection.line_samples import (
    LINE_EDGES,
    LINE_MIDDLES,
    X_OF_LINES_ALONG,
    Y_OF_LINES_ACROSS,
    find_places_without_line,
)
from stance.court.dimensions import court_lines


def test_lines_have_five_places_along_the_court_and_six_across():
    np.testing.assert_allclose(X_OF_LINES_ALONG, [-3.03, -2.57, 0.0, 2.57, 3.03])
    np.testing.assert_allclose(Y_OF_LINES_ACROSS, [-6.68, -5.92, -2.0, 2.0, 5.92, 6.68])


def test_middles_lie_inside_their_line_and_edges_on_its_border():
    for samples, border in ((LINE_MIDDLES, False), (LINE_EDGES, True)):
        for place, direction, number in zip(
            samples.places, samples.directions, samples.lines, strict=True
        ):
            line = court_lines()[number]
            spans = np.array([line.x, line.y])
            assert np.all((place > spans[:, 0] - 1e-9) & (place < spans[:, 1] + 1e-9))
            if border:
                beyond = place + 0.001 * direction
                assert np.any((beyond < spans[:, 0]) | (beyond > spans[:, 1]))


def test_no_edge_lies_where_another_line_crosses():
    for place, number in zip(LINE_EDGES.places, LINE_EDGES.lines, strict=True):
        for other, line in enumerate(court_lines()):
            if other != number:
                inside_x = line.x[0] - 0.01 < place[0] < line.x[1] + 0.01
                inside_y = line.y[0] - 0.01 < place[1] < line.y[1] + 0.01
                assert not (inside_x and inside_y)


@pytest.mark.parametrize(
    ("place", "without"),
    [
        ((0.0, -4.0), False),  # on the centre line
        ((3.03, 0.0), False),  # on a side line, under the net
        ((1.3, -4.0), True),  # in the middle of a service court
        ((0.0, 0.5), True),  # between the halves of the centre line
        ((3.03, -7.0), True),  # a side line that goes on behind the back line
        ((3.4, -6.68), True),  # a back line that goes on beside the court
        ((3.4, -4.0), False),  # beside the court
        ((9.0, 0.0), False),  # on another court
        ((np.nan, np.nan), False),
    ],
)
def test_a_line_contradicts_the_court_only_where_the_court_has_none(place, without):
    assert find_places_without_line(np.array([place]), 0.08, 0.12)[0] == without


def test_every_line_of_the_court_is_where_a_line_may_be():
    assert not find_places_without_line(LINE_MIDDLES.places, 0.08, 0.12).any()
