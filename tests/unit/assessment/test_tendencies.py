"""How often a player does what, and what the intervals carry."""

import math
from dataclasses import replace

import pytest

from stance.assessment.tendencies import LATE_S, gather_tendencies, tendencies_of_clip
from stance.results.model import UNKNOWN
from stance.statistics.shares import wilson_interval
from tests.unit.assessment.advised import (
    ALL_BACK,
    BACK,
    FEET_IN_FRONT,
    HIPS_BACK,
    RACKET_FOOT_IN_FRONT,
    SQUARE,
    defender,
)
from tests.unit.results.invented import invented_player, invented_result


def of_clip(player, **fields):
    return tendencies_of_clip(replace(invented_result(player), **fields), player)


def test_the_shares_of_the_report_are_the_ones_that_decide():
    player = defender([SQUARE] * 7 + [HIPS_BACK] * 5)
    over = of_clip(player).over_side_on
    assert (over.count, over.total) == (5, 12)
    assert over.interval == player.shares["over_side_on"].interval


def test_what_is_turned_and_which_side_is_in_front_is_told_of_over_side_on_alone():
    found = of_clip(defender([HIPS_BACK] * 6 + [FEET_IN_FRONT] * 3 + [ALL_BACK] + [SQUARE] * 4))
    counts = {part: tendency.count for part, tendency in found.from_part.items()}
    assert counts == {"hips": 6, "feet": 3, "both": 1}
    assert {tendency.total for tendency in found.from_part.values()} == {10}
    assert (found.racket_side_in_front.count, found.racket_side_in_front.total) == (3, 10)
    # Medians of the commonest way.
    assert (found.feet_deg, found.hips_deg) == HIPS_BACK


def test_a_part_that_is_near_the_limit_makes_the_interval_wider():
    sure = of_clip(defender([(-6.0, -60.0)] * 10)).from_part["hips"]
    doubtful = of_clip(defender([(-37.0, -52.0)] * 10)).from_part["hips"]
    assert sure.count == doubtful.count == 10
    assert sure.is_most and not doubtful.is_most


def test_late_is_later_than_the_best_leave_and_known_by_more_than_the_players_own_landing():
    player = defender([SQUARE] * 10, landing_s=[LATE_S + 0.05] * 4 + [LATE_S - 0.05] * 6)
    late = of_clip(player).late
    assert (late.count, late.total) == (4, 10)
    own = tuple(replace(s, known_by=("moved",)) for s in player.strokes_faced[:3])
    player = replace(player, strokes_faced=own + player.strokes_faced[3:])
    assert (of_clip(player).late.count, of_clip(player).late.total) == (1, 7)


def test_serves_count_for_nothing():
    player = defender([HIPS_BACK, None, *[SQUARE] * 5], landing_s=0.3)
    served = tuple(replace(s, serve=n < 2) for n, s in enumerate(player.strokes_faced))
    found = of_clip(replace(player, strokes_faced=served))
    assert found.on_the_move.total == found.late.total == found.over_side_on.total == 5
    assert found.on_the_move.count == 0 and found.right == 5


def test_a_racket_foot_in_front_is_not_right_though_its_class_is_square():
    found = of_clip(defender([RACKET_FOOT_IN_FRONT] * 4 + [BACK] * 3))
    assert found.right == 3 and found.racket_foot_in_front.count == 4
    assert found.foot_in_front_deg == RACKET_FOOT_IN_FRONT[0]


def test_the_halves_of_the_court_are_told_apart_where_the_court_is_known():
    player = defender([HIPS_BACK, SQUARE] * 6, places=((-1.5, -4.0), (1.5, -4.0)))
    found = of_clip(player)
    assert (found.on_left.count, found.on_left.total) == (6, 6)
    assert (found.on_right.count, found.on_right.total) == (0, 6)
    assert found.on_left.interval[0] > found.on_right.interval[1]
    assumed = tendencies_of_clip(invented_result(player, source="assumed"), player)
    assert assumed.on_left.total == assumed.on_right.total == 0


def test_where_the_attack_comes_from_is_counted_where_the_attacker_is_seen():
    found = of_clip(
        defender([HIPS_BACK, SQUARE, SQUARE] * 4, attackers=((-2.0, 5.0), (1.5, 6.0), UNKNOWN))
    )
    assert (found.from_left.count, found.from_left.total) == (4, 4)
    assert (found.from_right.count, found.from_right.total) == (0, 4)


def test_over_several_clips_counts_add_up_and_the_share_is_the_one_given():
    first, second = defender([HIPS_BACK] * 3), defender([SQUARE] * 5)
    clips = [(invented_result(player), player) for player in (first, second)]
    pooled = replace(first.shares["over_side_on"], count=3, interval=(0.1, 0.7))
    found = gather_tendencies(clips, {"over_side_on": pooled}, effective=4.0)
    assert (found.over_side_on.count, found.over_side_on.total) == (3, 8)
    assert found.over_side_on.interval == (0.1, 0.7) and found.effective_part == 0.5
    assert found.racket_side_in_front.interval == wilson_interval(0, 1.5)


@pytest.mark.parametrize("player", [invented_player(), defender([])])
def test_without_strokes_nothing_is_said_of_them(player):
    found = of_clip(player)
    assert found.strokes.in_play == found.late.total == found.on_the_move.total == 0
    assert not (found.late.is_often or found.late.is_rare) and math.isnan(found.landing_s)
