"""Strokes in words: the contact, and the feet against it."""

import math

import pytest

from stance.reports.stroke_words import contact_words, feet_words, offset_words
from stance.results.model import StrokeFaced
from tests.unit.results.invented import invented_position


@pytest.mark.parametrize(
    ("known_by", "error", "words"),
    [
        (("seen", "heard"), 0.02, " ± 0.02 s, seen in the attacker's swing and heard."),
        (("moved",), 0.05, " ± 0.05 s, told from the defender's own movement."),
        ((), math.nan, "."),
    ],
)
def test_a_contact_has_its_time_its_error_and_how_it_is_known(known_by, error, words):
    said = contact_words(StrokeFaced(4.431, error, known_by)).replace("\u00a0", " ")
    assert said == f"Contact at 4.43 s{words}"


@pytest.mark.parametrize(
    ("start_s", "end_s", "words"),
    [
        (
            4.12,
            4.36,
            "Both feet down 0.12 s after the contact; the first foot left 0.36 s after the "
            "contact.",
        ),
        (
            3.9,
            3.98,
            "Both feet down 0.10 s before the contact; the first foot left 0.02 s before the "
            "contact.",
        ),
        (
            3.2,
            4.2,
            "Waited, set, from 0.8 s before the contact; the first foot left 0.20 s after the "
            "contact.",
        ),
        (
            4.001,
            4.2,
            "Both feet down at the contact; the first foot left 0.20 s after the contact.",
        ),
    ],
)
def test_the_feet_are_told_against_the_contact(start_s, end_s, words):
    position = invented_position(start_s=start_s, end_s=end_s)
    assert feet_words(StrokeFaced(4.0, 0.02), position) == words


def test_an_offset_has_a_true_minus():
    assert [offset_words(s) for s in (0.12, -0.82, 0.0)] == ["+0.12 s", "−0.82 s", "0.00 s"]
