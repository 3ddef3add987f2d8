"""A screening in words."""

from dataclasses import replace

import pytest

from stance.academy.flags import describe_limits
from stance.academy.model import Screening
from stance.academy.statement import (
    MEANINGS,
    describe_player,
    describe_screening,
    name_leg_in_front,
)
from stance.types import FLAGS
from tests.unit.academy.invented_academy import screen_invented


@pytest.fixture(scope="module")
def player():
    """A player who is over-side-on in 13 of 14 positions."""
    return screen_invented({"S": [(13, 14, "")]}, certain=True).players[0]


@pytest.mark.parametrize(
    ("flags", "words"),
    [
        (["habit"], "Over-side-on as a habit: P0."),
        (
            ["habit", "habit", "watch", "no_sign", "too_few"],
            "Over-side-on as a habit: P0 and P1. To watch: P2. No sign of it: 1 of 5. Too few "
            "ready positions to say: 1 of 5.",
        ),
        (
            ["no_sign", "no_sign"],
            "None of the 2 players is surely over-side-on as a habit. No sign of it: 2 of 2.",
        ),
        (["too_few"], "Too few ready positions to say anything about the player."),
        (["too_few"] * 3, "Too few ready positions to say anything about any of the 3 players."),
        (
            ["habit"] * 10,
            "Over-side-on as a habit: P0, P1, P2, P3, P4, P5, P6, P7 and 2 more.",
        ),
    ],
)
def test_the_flagged_are_named_and_the_others_counted(player, flags, words):
    players = tuple(
        replace(player, flag=flag, player=f"P{number}") for number, flag in enumerate(flags)
    )
    assert describe_screening(Screening(players, (), (), ())) == words


def test_a_player_has_counts_range_and_leg(player):
    low, high = (100 * end for end in player.shares["over_side_on"].interval)
    assert describe_player(player) == (
        "Over-side-on is a habit: 13 of 14 ready positions (likely range "
        f"{low:.0f} to {high:.0f}\u00a0%). The non-racket leg is in front in them."
    )
    assert describe_player(replace(player, leading="both")).endswith(
        "Now one leg, now the other is in front in them."
    )
    assert describe_player(replace(player, flag="no_sign")).startswith("No sign of a habit: ")


@pytest.mark.parametrize("flag", FLAGS)
def test_each_flag_means_something_with_its_limits(flag):
    words = MEANINGS[flag].format(**describe_limits())
    assert "25\u00a0%" in words and "{" not in words


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
