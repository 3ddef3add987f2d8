"""The coach's sentence reads well for every mix of classes."""

from dataclasses import replace
from itertools import zip_longest

import pytest

from stance.results.model import PlayerResult, StrokeFaced
from stance.statistics.shares import class_shares
from stance.statistics.statement import clip_statement, plain_statement
from stance.types import ANGLES_UNSURE, AT_REST, NET_UNKNOWN
from tests.unit.results.invented import invented_player, invented_position


def player_with(square=0, slight=0, leading=0, back=0, unknown=0):
    """A player with so many ready positions of each kind."""
    positions = (
        [invented_position(0, 0, stance_class="square")] * square
        + [invented_position(-20, -5, stance_class="slightly_racket_leg_back")] * slight
        + [invented_position(20, 55, stance_class="over_side_on")] * leading
        + [invented_position(-60, 10, stance_class="over_side_on")] * back
        + [invented_position(stance_class="not_assessed")] * unknown
    )
    return PlayerResult("A", "near", "right", "seen", tuple(positions), class_shares(positions))


@pytest.mark.parametrize(
    ("remark", "words"),
    [
        (NET_UNKNOWN, "none of them could be assessed: it is not known where the net is."),
        (ANGLES_UNSURE, "none of them could be assessed: their angles are too unsure"),
        (AT_REST, "none of them could be assessed: the player rests and does not play."),
        ("racket foot leading", "none of them could be assessed."),
    ],
)
def test_why_nothing_could_be_assessed_is_said_where_one_thing_is_why(remark, words):
    player = player_with(unknown=2)
    positions = tuple(replace(p, remarks=(remark,)) for p in player.ready_positions)
    assert words in plain_statement(replace(player, ready_positions=positions))


@pytest.mark.parametrize(
    ("counts", "sentence"),
    [
        (
            dict(square=4, slight=3, leading=4, back=1, unknown=2),
            "5 of 12 assessed ready positions were over-side-on, 4 of them with the racket side "
            "in front and 1 with it back; 4 were square, 3 slightly racket-leg-back. 2 could not "
            "be assessed.",
        ),
        (
            dict(square=2, back=1),
            "1 of 3 assessed ready positions was over-side-on, with the racket side back; "
            "2 were square.",
        ),
        (
            dict(slight=1, leading=2),
            "2 of 3 assessed ready positions were over-side-on, both with the racket side in "
            "front; 1 was slightly racket-leg-back.",
        ),
        (
            dict(square=1, back=3),
            "3 of 4 assessed ready positions were over-side-on, all with the racket side back; "
            "1 was square.",
        ),
        (
            dict(square=4, slight=3),
            "None of the 7 assessed ready positions was over-side-on; 4 were square, "
            "3 slightly racket-leg-back.",
        ),
        (
            dict(leading=5),
            "All 5 assessed ready positions were over-side-on, all with the racket side in front.",
        ),
        (
            dict(square=2, unknown=1),
            "Both assessed ready positions were square. 1 could not be assessed.",
        ),
        (dict(slight=1), "The one assessed ready position was slightly racket-leg-back."),
        (dict(unknown=1), "One ready position was found, and it could not be assessed."),
        (dict(unknown=3), "3 ready positions were found, and none of them could be assessed."),
        ({}, "No ready position was found."),
    ],
)
def test_the_coachs_sentence_reads_well(counts, sentence):
    assert plain_statement(player_with(**counts)) == sentence


def test_a_left_hander_gets_the_same_sentence():
    left = replace(invented_player(hand="left"), player="A")
    assert plain_statement(left) == plain_statement(invented_player(hand="right"))


def test_several_players_are_named():
    assert clip_statement(()) == "No player was found, so nothing could be assessed."
    assert clip_statement([player_with(square=1)]).startswith("The one")
    both = clip_statement([player_with(square=1), replace(player_with(back=1), player="B")])
    assert both == (
        "Player A: The one assessed ready position was square. Player B: The one "
        "assessed ready position was over-side-on, with the racket side back."
    )


def faced(*met, serves=0, indices=()):
    """Strokes faced, 2 s apart, met so, after some serves; the first ones have ready positions."""
    strokes = [StrokeFaced(0.1, 0.02, ("seen",), True, "set")] * serves
    strokes += [StrokeFaced(2.0 * n, 0.02, ("seen",), met=m) for n, m in enumerate(met, 1)]
    return tuple(
        replace(stroke, ready_position=index)
        for stroke, index in zip_longest(strokes, indices[: len(strokes)])
    )


@pytest.mark.parametrize(
    ("strokes", "sentence"),
    [
        (
            faced("set", "set", "set", "on_the_move", "not_seen"),
            "5 strokes faced: 3 met set, 1 on the move, 1 not seen well enough. "
            "1 of 3 assessed ready positions was over-side-on, with the racket side back; "
            "2 were square.",
        ),
        (
            faced("set", "set", serves=1, indices=(0, 1, 2)),
            "2 strokes faced: 2 met set, none on the move. "
            "1 of 2 assessed ready positions was over-side-on, with the racket side back; "
            "1 was square. 1 serve faced, not counted.",
        ),
    ],
)
def test_strokes_come_first_and_serves_are_left_out(strokes, sentence):
    player = replace(player_with(square=2, back=1), strokes_faced=strokes)
    assert plain_statement(player) == sentence


def test_strokes_that_were_never_met_set_are_counted():
    moving = replace(player_with(), strokes_faced=faced("on_the_move"))
    assert plain_statement(moving) == "1 stroke faced: none met set, 1 on the move."
    serves = replace(player_with(), strokes_faced=faced(serves=2))
    assert plain_statement(serves) == "No stroke was faced but serves."


def test_a_leading_racket_foot_is_counted():
    assert "In 1 of the 7 the racket foot was in front." in plain_statement(invented_player())
