"""Angles and changes as a coach says them."""

import pytest

from stance.comparison.words import angle_range_words, change_words, turn_words


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((-38.4, -24.0), "24 to 38° back"),
        ((-3.0, 3.0), "3° back to 3° in front"),
        ((5.0, 9.0), "5 to 9° in front"),
        ((-8.2, -7.9), "8° back"),
        ((-6.0, 0.2), "6° back to 0°"),
    ],
)
def test_a_range_of_angles_starts_with_the_smaller_or_goes_through_zero(ends, words):
    assert angle_range_words(*ends) == words


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((20.0, 45.0), "20 to 45° further forward"),
        ((-45.0, -20.0), "20 to 45° further back"),
        ((-5.0, 8.0), "5° further back to 8° further forward"),
        ((3.0, 3.0), "3° further forward"),
        ((0.2, 10.0), "0 to 10° further forward"),
    ],
)
def test_a_turn_is_forward_or_back(ends, words):
    assert turn_words(*ends) == words


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        ((-0.76, -0.2), "20 to 76 percentage points less"),
        ((0.1, 0.3), "10 to 30 percentage points more"),
        ((-0.05, 0.08), "5 percentage points less to 8 more"),
        ((-0.3, 0.0), "0 to 30 percentage points less"),
    ],
)
def test_a_change_is_less_or_more_and_without_signs(ends, words):
    assert change_words(*ends) == words
