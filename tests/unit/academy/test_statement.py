"""A screening in words."""

from dataclasses import replace

import pytest

from stance.academy.model import Screening
from stance.academy.statement import describe_player, describe_screening, name_leg_in_front
from tests.unit.academy.invented_academy import screen_invented


@pytest.fixture(scope="module")
def player():
    """A player who is over-side-on in 13 of 14 positions."""
    return screen_invented({"S": [(13, 14, "")]}, certain=True).players[0]


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["habit"], "1 of 1 players stands over-side-on as a habit."),
        (
            ["habit", "habit", "watch", "no_sign", "too_few"],
            "2 of 5 players stand over-side-on as a habit; 1 to watch, no sign of it in 1, "
            "too few ready positions to say in 1.",
        ),
        (
            ["no_sign", "no_sign"],
            "None of the 2 players is surely over-side-on as a habit; no sign of it in 2.",
        ),
        (["too_few"], "Too few ready positions to say anything about the player."),
        (["too_few"] * 3, "Too few ready positions to say anything about any of the 3 players."),
    ],
)
def test_the_flags_are_counted(player, flags, words):
    players = tuple(replace(player, flag=flag) for flag in flags)
    assert describe_screening(Screening(players, (), (), ())) == words


def test_a_player_has_counts_interval_and_leg(player):
    low, high = (100 * end for end in player.shares["over_side_on"].interval)
    assert describe_player(player) == (
        "13 of 14 assessed ready positions were over-side-on; the usual share lies between "
        f"{low:.0f} and {high:.0f} %. The non-racket leg is in front in them."
    )
    assert describe_player(replace(player, leading="both")).endswith(
        "Now one leg, now the other is in front in them."
    )


def test_with_nothing_assessed_nothing_is_claimed(player):
    over = replace(player.shares["over_side_on"], share=None)
    assert describe_player(replace(player, shares={"over_side_on": over})) == (
        "No ready position could be assessed."
    )


@pytest.mark.parametrize(("count", "leg"), [(2, ""), (3, "racket leg")])
def test_the_leg_is_named_from_three_positions_on(player, count, leg):
    over = replace(player.shares["over_side_on"], count=count)
    few = replace(player, shares={"over_side_on": over}, leading="racket")
    assert name_leg_in_front(few) == leg
