"""Angles in a coach's words."""

import math

import pytest

from stance.assessment.angle_words import side_words, turned_words


@pytest.mark.parametrize(
    ("angle", "words"),
    [
        (-16.2, "16° back"),
        (120.0, "120° in front"),
        (-0.3, "0°"),
        (math.nan, "not known"),
    ],
)
def test_the_side_stands_in_place_of_the_sign(angle, words):
    assert turned_words(angle) == words


@pytest.mark.parametrize(
    ("front", "back", "words"),
    [
        (0, 0, ""),
        (3, 0, "racket side in front each time"),
        (0, 3, "racket side back each time"),
        (1, 2, "racket side in front at 1, back at 2"),
    ],
)
def test_the_side_in_front_is_counted_where_it_changes(front, back, words):
    assert side_words(front, back) == words
