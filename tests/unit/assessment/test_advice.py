"""What a coach is told first: the pattern, where it comes from, the one thing to work on."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.assessment.advice import advise
from stance.assessment.tendencies import tendencies_of_clip
from stance.types import NOT_ASSESSED
from tests.unit.assessment.advised import (
    ALL_BACK,
    BACK,
    FEET_BACK,
    FEET_IN_FRONT,
    HIPS_BACK,
    HIPS_IN_FRONT,
    ON_THE_MOVE,
    RACKET_FOOT_IN_FRONT,
    SQUARE,
    defender,
)
from tests.unit.results.invented import invented_player, invented_result

LEFT_AND_RIGHT = ((-1.5, -4.0), (1.5, -4.0))


def advice_on(stances, **fields):
    player = defender(stances, **fields)
    return advise(tendencies_of_clip(invented_result(player), player))


def test_hips_turned_over_good_feet_are_called_by_name():
    advice = advice_on([HIPS_BACK] * 12 + [SQUARE] * 4)
    assert advice.sentences == (
        "Over-side-on at 12 of 16 strokes met set, the racket side back.",
        "It comes from the hips (56° back); the feet are fine (6° back).",
        "Work on the hips: turn the belt buckle to the attacker; as it is, the body blocks the "
        "arm on the backhand side.",
    )
    assert advice.kind == "over_side_on"
    assert advice.decided_by.startswith("Why: over-side-on at 12 of 16, likely range ")
    assert advice.decided_by.endswith("%, more than one in four.")


@pytest.mark.parametrize(
    ("angles", "source", "work_on"),
    [
        (HIPS_IN_FRONT, "from the hips (57° in front)", "on the forehand side"),
        (FEET_IN_FRONT, "from the feet (55° in front)", "draw the racket foot back until"),
        (FEET_BACK, "from the feet (56° back); the hips are fine", "bring the racket foot forward"),
        (ALL_BACK, "Feet (57° back) and hips (60° back) are turned together", "feet level or"),
    ],
)
def test_each_way_to_be_side_on_has_its_own_cure(angles, source, work_on):
    advice = advice_on([angles] * 12 + [SQUARE] * 2)
    assert source in advice.source and work_on in advice.work_on


def test_where_feet_and_hips_take_turns_each_is_counted_and_no_angle_is_told():
    advice = advice_on([HIPS_BACK, FEET_IN_FRONT] * 8)
    assert advice.pattern.endswith("the racket side in front at 8 and back at 8.")
    assert advice.source == "It comes from the hips alone at 8 and the feet alone at 8."
    assert advice.work_on.endswith("side-on, the body blocks the arm on one side.")


def test_the_half_of_the_court_is_told_where_it_makes_a_difference():
    mostly_left = advice_on([HIPS_BACK, SQUARE] * 8, places=LEFT_AND_RIGHT)
    assert mostly_left.source.endswith(
        "; above all on the left half of the court, 8 of 8 against 0 of 8."
    )
    alike = advice_on([HIPS_BACK, HIPS_BACK, SQUARE, HIPS_BACK] * 4, places=LEFT_AND_RIGHT)
    assert "half of the court" not in alike.source


def test_where_the_attack_comes_from_is_told_before_where_the_player_stands():
    advice = advice_on(
        [HIPS_BACK, SQUARE] * 8,
        places=LEFT_AND_RIGHT,
        attackers=((2.0, 5.5), (-2.0, 5.5)),
    )
    assert advice.source.endswith(
        "; above all when the attack comes from the right, 8 of 8 against 0 of 8."
    )


def test_where_nothing_is_to_be_mended_there_is_praise():
    advice = advice_on([SQUARE, BACK] * 12)
    assert advice.kind == "right"
    assert advice.sentences == (
        "Square or racket leg slightly back at 24 of 24 strokes met set: that is right.",
        "Both feet are down in time.",
        "Nothing to mend: keep it, and see whether it holds against faster attacks.",
    )


def test_praise_does_not_hide_a_racket_foot_in_front():
    advice = advice_on([SQUARE] * 20 + [RACKET_FOOT_IN_FRONT] * 5)
    assert advice.kind == "right" and "at 20 of 25" in advice.pattern
    assert advice.source == "Watch the racket foot: it was in front at 5 of 25."


def test_a_racket_foot_that_is_often_in_front_is_to_be_worked_on():
    advice = advice_on([RACKET_FOOT_IN_FRONT] * 14 + [SQUARE] * 4)
    assert advice.pattern == "Racket foot in front at 14 of 18 strokes met set, by 19°."
    assert "half a shoe back" in advice.work_on


def test_late_landings_are_to_be_worked_on():
    advice = advice_on([SQUARE, BACK] * 9, landing_s=[0.28] * 14 + [0.1] * 4)
    assert advice.kind == "late"
    assert advice.pattern == (
        "Both feet down late at 14 of 18 strokes met set, typically 0.28 s after the hit."
    )
    assert "hop as the attacker swings" in advice.work_on


def test_who_is_mostly_on_the_move_is_told_to_stop_and_that_the_stance_is_right():
    advice = advice_on([ON_THE_MOVE] * 20 + [SQUARE] * 16)
    assert advice.kind == "on_the_move" and advice.pattern == "Met on the move: 20 of 36 strokes."
    assert advice.source == "When set, the stance is right at 16 of 16."
    assert advice.work_on.startswith("Work on stopping:")


def test_the_surest_of_two_patterns_is_worked_on_and_the_other_is_named():
    advice = advice_on([HIPS_BACK] * 16, landing_s=[0.3] * 10 + [0.0] * 6)
    assert advice.kind == "over_side_on"
    assert advice.pattern.endswith("; also both feet down late at 10 of 16.")
    assert len(advice.sentences) == 3


def test_a_few_strokes_tell_nothing():
    advice = advice_on([SQUARE] * 5)
    assert advice.kind == "too_few"
    assert advice.sentences == (
        "Square or racket leg slightly back at 5 of 5 strokes met set.",
        "That is too few to tell a habit from chance.",
        "Film about 10 more strokes before changing anything.",
    )
    assert advice.decided_by.endswith("which may be more or less than one in four.")


def test_of_very_few_a_large_share_tells_nothing_either():
    advice = advice_on([HIPS_BACK] * 2 + [SQUARE] * 4)
    assert advice.kind == "too_few" and "Over-side-on at 2 of 6" in advice.pattern
    assert advice.source == "That is too few to tell a habit from chance."


def test_what_may_be_a_habit_is_watched():
    advice = advice_on([HIPS_BACK] * 5 + [SQUARE] * 6)
    assert advice.kind == "watch"
    assert "it may be a habit, but that is not sure yet" in advice.pattern
    assert "before changing anything" in advice.work_on and "Work on" not in advice.work_on


def test_where_no_stroke_could_be_told_waits_are_counted():
    player = invented_player()
    advice = advise(tendencies_of_clip(invented_result(player), player))
    assert "3 of 7 waits" in advice.pattern


def test_nobody_to_speak_of_gets_no_advice():
    player = defender([])
    assert advise(tendencies_of_clip(invented_result(player), player)) is None


def test_where_no_stance_could_be_judged_that_is_said():
    player = defender([SQUARE] * 6)
    hidden = tuple(replace(p, stance_class=NOT_ASSESSED) for p in player.ready_positions)
    player = replace(player, ready_positions=hidden)
    advice = advise(tendencies_of_clip(invented_result(player), player))
    assert advice.pattern == "No stance could be judged." and advice.decided_by == ""


STANCES = [SQUARE, BACK, HIPS_BACK, HIPS_IN_FRONT, FEET_IN_FRONT, RACKET_FOOT_IN_FRONT, ON_THE_MOVE]


@given(st.lists(st.sampled_from(STANCES), max_size=30), st.sampled_from([-0.1, 0.1, 0.29]))
def test_there_are_three_whole_sentences_at_most_whatever_was_seen(stances, landing_s):
    advice = advice_on(stances, landing_s=landing_s)
    assert (advice is None) == (not stances)
    if advice is not None:
        assert 2 <= len(advice.sentences) <= 3
        for sentence in (*advice.sentences, *filter(None, [advice.decided_by])):
            assert sentence[0].isupper() and sentence.endswith(".")
            assert "nan" not in sentence and "not known" not in sentence and ".." not in sentence


@given(st.lists(st.sampled_from(STANCES), min_size=1, max_size=30))
def test_a_habit_is_named_only_where_its_interval_lies_above_one_in_four(stances):
    player = defender(stances)
    tendencies = tendencies_of_clip(invented_result(player), player)
    advice = advise(tendencies)
    low, high = tendencies.over_side_on.interval
    assert (advice.kind != "over_side_on") or low > 0.25
    assert (advice.kind != "right") or high < 0.25
