"""Strokes in words: the contact, the feet against it, and what the overlay writes."""

import math
from dataclasses import replace

import pytest

from stance.reports.stroke_words import Tag, contact_words, feet_words, offset_words, tags_at
from stance.results.model import OwnStroke, StrokeFaced
from tests.unit.results.invented import invented_player, invented_position


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


def test_the_overlay_writes_contacts_while_they_are_near_and_set_while_it_lasts():
    player = replace(
        invented_player(),
        strokes_faced=(
            StrokeFaced(2.0, 0.02, serve=True, met="set"),
            StrokeFaced(5.0, 0.02, met="on_the_move"),
        ),
        own_strokes=(OwnStroke(6.0, 0.02),),
    )
    assert tags_at(2.05, player, True) == [Tag("set", "set"), Tag("theirs", "their serve")]
    assert tags_at(4.95, player, False) == [Tag("theirs", "their contact, on the move")]
    assert tags_at(6.1, player, False) == [Tag("own", "own contact")]
    assert tags_at(3.0, player, False) == []
    # Where no stroke could be told the caption alone says that the player waits.
    assert tags_at(1.0, invented_player(), True) == []
