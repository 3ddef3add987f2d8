"""Angles in a coach's words."""

import math

import pytest

from stance.assessment.angle_words import turned_words


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
