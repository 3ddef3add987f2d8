"""Flags and false discoveries of players whose habits are known."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import false_discovery_control, norm

from stance.academy.flags import (
    FALSE_DISCOVERIES,
    FLAG_NAMES,
    FLAGS_BY_URGENCY,
    HABIT_SHARE,
    choose_flag,
)
from stance.statistics.pooled import PooledShare
from stance.statistics.shares import share_interval, wilson_interval
from stance.types import FLAGS
from tests.unit.academy.invented_academy import screen_invented


@pytest.mark.parametrize("seed", range(6))
def test_every_side_on_player_is_flagged_and_no_other_at_12_positions_each(seed):
    # Errors as docs/accuracy.md measured them; the share is known by construction.
    players = {f"S-{i}": [(11, 12, "")] for i in range(4)}
    players |= {f"N-{i}": [(i % 2, 12, "")] for i in range(8)}
    flags = {p.player: p.flag for p in screen_invented(players, seed, feet_too=True).players}
    assert {n for n, flag in flags.items() if flag == "habit"} == {"S-0", "S-1", "S-2", "S-3"}


@pytest.mark.parametrize("seed", range(3))
def test_side_on_by_the_hips_alone_is_never_cleared_and_flagged_from_three_clips(seed):
    # The hips are the weaker measure, and all of one player's are misjudged together.
    for clips, allowed in ((1, {"habit", "watch"}), (3, {"habit"})):
        players = {f"S-{i}": [(11, 12, "")] * clips for i in range(4)}
        players |= {f"N-{i}": [(i % 2, 12, "")] * clips for i in range(8)}
        flags = {p.player: p.flag for p in screen_invented(players, seed).players}
        assert {flags[f"S-{i}"] for i in range(4)} <= allowed
        assert {flags[f"N-{i}"] for i in range(8)} <= {"no_sign", "too_few"}


def test_q_values_are_those_of_benjamini_and_hochberg():
    screening = screen_invented(
        {"N": [(0, 14, "")], "S": [(14, 14, "")], "M": [(6, 14, "")]}, failing=["It is broken."]
    )
    assessed = [p for p in screening.players if p.p_value is not None]
    assert len(assessed) == 3
    assert [p.q_value for p in assessed] == pytest.approx(
        false_discovery_control([p.p_value for p in assessed])
    )
    assert [p.q_value for p in screening.players if p not in assessed] == [None]


def test_the_false_discovery_rate_is_held_at_the_limit_of_a_habit():
    # 14 academies of players who are over-side-on exactly as often as still is no habit.
    random = np.random.default_rng(9)
    wrong = 0
    for academy in range(14):
        players = {
            f"N-{i}": [(int(random.binomial(12, HABIT_SHARE)), 12, "") for _ in range(2)]
            for i in range(6)
        }
        screening = screen_invented(players, academy, certain=True)
        wrong += any(p.flag == "habit" for p in screening.players)
    # With no true habit the rate is the chance of any flag; binomial(14, 0.05) is at most 2 in
    # 97 of 100 cases.
    assert wrong <= 2


@pytest.mark.parametrize(
    ("count", "effective", "flag"),
    [
        (19, 31, "habit"),
        (0, 8, "no_sign"),
        (2, 3, "too_few"),
        (3, 3, "too_few"),
        (10, 30, "watch"),
        (8, 30, "too_few"),
        (5, 30, "no_sign"),
        (2, 9, "too_few"),
    ],
)
def test_flags_follow_from_the_interval_and_not_from_the_bare_share(count, effective, flag):
    share = count / effective
    interval = share_interval(share, np.array([share]), effective)
    assert interval == pytest.approx(wilson_interval(count, effective), abs=1e-6)
    z = (share - HABIT_SHARE) / np.sqrt(HABIT_SHARE * (1 - HABIT_SHARE) / effective)
    p_value = float(norm.sf(z))
    pooled = PooledShare(count, effective, share, interval, effective)
    assert choose_flag(pooled, p_value, p_value) == flag


def test_a_hair_never_lies_between_words_that_say_the_contrary():
    share = PooledShare(8, 31, 8 / 31, (0.15, 0.4), 31.0)
    flags = [choose_flag(share, p, p) for p in np.linspace(0.0, 1.0, 10_001)]
    changes = {(a, b) for a, b in pairwise(flags) if a != b}
    assert changes == {("habit", "watch"), ("watch", "too_few"), ("too_few", "no_sign")}
    assert choose_flag(share, 0.4998, 0.4998) == choose_flag(share, 0.5002, 0.5002)


def test_players_are_in_the_order_of_flags_and_in_each_the_surest_first():
    players = {"N": [(0, 14, "")] * 3, "n": [(2, 14, "")] * 3, "S": [(14, 14, "")] * 2}
    players |= {"s": [(10, 14, "")] * 2, "M": [(5, 14, "")] * 2, "F": [(1, 3, "")]}
    listed = screen_invented(players, certain=True).players
    order = [FLAGS_BY_URGENCY.index(p.flag) for p in listed]
    assert order == sorted(order)
    assert [p.player for p in listed if p.flag == "habit"] == ["S", "s"]
    assert [p.player for p in listed if p.flag == "no_sign"] == ["N", "n"]


def test_a_player_with_nothing_assessed_has_too_few():
    assert choose_flag(PooledShare(0, 0, None, (0.0, 1.0), 0.0), None, None) == "too_few"


def test_many_screened_players_need_more_to_be_flagged():
    share = PooledShare(8, 14, 8 / 14, (0.3, 0.8), 14.0)
    assert choose_flag(share, 0.03, 0.03) == "habit"
    assert choose_flag(share, 0.03, FALSE_DISCOVERIES + 0.01) == "watch"


def test_every_flag_has_a_name():
    assert set(FLAG_NAMES) == set(FLAGS)
