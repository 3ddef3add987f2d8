"""Strokes of one rally are told from those of the next, and tell less together."""

import numpy as np
import pytest

from stance.results.model import StrokeFaced
from stance.statistics.rallies import number_rallies, weighted_effective_number


def stroke(time_s, position=None, serve=False):
    return StrokeFaced(time_s, 0.02, ("seen",), serve, "set", position)


def test_a_pause_or_a_serve_begins_a_rally():
    strokes = [stroke(1.0, 0), stroke(4.0, 1), stroke(20.0, 2), stroke(22.0, 3, serve=True)]
    assert len(set(number_rallies(4, strokes).tolist())) == 3
    first, second, *_ = number_rallies(4, strokes)
    assert first == second


def test_strokes_met_on_the_move_hold_a_rally_together():
    between = [stroke(1.0, 0), stroke(5.0), stroke(9.0, 1)]
    assert len(set(number_rallies(2, between).tolist())) == 1
    assert len(set(number_rallies(2, [between[0], between[2]]).tolist())) == 2


def test_a_ready_position_of_no_known_stroke_stands_alone():
    assert len(set(number_rallies(3, [stroke(1.0, 1)]).tolist())) == 3
    assert len(set(number_rallies(3, []).tolist())) == 3


def test_the_effective_number_is_that_of_kish():
    # Equal weights, rallies of 4 and 6 strokes: m = (16 + 36) / 10, 10 / (1 + (m - 1) 0.1).
    rallies = np.array([0] * 4 + [1] * 6)
    effective = weighted_effective_number(np.ones(10), rallies, 0.1)
    assert effective == pytest.approx(10 / (1 + 4.2 * 0.1))
    # Without correlation (1 + 1 + 1 + 5)^2 / (1 + 1 + 1 + 25).
    weights = np.array([1.0, 1.0, 1.0, 5.0])
    assert weighted_effective_number(weights, np.zeros(4, int), 0.0) == pytest.approx(64 / 28)


def test_strokes_that_are_all_alike_tell_as_much_as_one():
    assert weighted_effective_number(np.ones(7), np.zeros(7, int), 1.0) == pytest.approx(1.0)
