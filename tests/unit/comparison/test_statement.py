"""A change in words: they never claim more than the intervals."""

from dataclasses import replace

import pytest

from stance.comparison.compare import compare
from stance.comparison.model import ShareChange
from stance.comparison.statement import describe_change, describe_met_set
from stance.statistics.pooled import PooledShare
from tests.unit.comparison.invented_sets import draw_sets


def make_change(interval, verdict, more_needed=None):
    """A change from 27 to 3 of 36 with an interval of its own."""
    before = PooledShare(27, 36, 0.75, (0.6, 0.9), 30.0)
    after = PooledShare(3, 36, 3 / 36, (0.0, 0.2), 30.0)
    return ShareChange(
        before, after, sum(interval) / 2, interval, verdict, more_needed, "score", None
    )


def test_a_large_change_is_told_with_its_range():
    whole = compare(*draw_sets(9, 1)).whole
    change = whole.classes["over_side_on"]
    least, most = (abs(round(100 * end)) for end in sorted(change.interval, key=abs))
    assert whole.sentences[0] == (
        "Better: over-side-on in 27 of 36 ready positions before, 3 of 36 after. The usual share "
        f"fell by {least} to {most} percentage points (likely range)."
    )
    assert whole.sentences[1].startswith("On average the hips went from ")


def test_a_rise_and_an_average_player_are_named():
    sentences = describe_change(make_change((0.102, 0.104), "up"), {}, False, players=3)
    assert sentences == [
        "Worse over 3 players: the average player's usual share of over-side-on rose by 10 "
        "percentage points (likely range)."
    ]


def test_too_few_says_so_and_claims_nothing():
    change = compare(*draw_sets(3, 1, clips=1, size=6)).whole
    assert change.statement.startswith("Too few ready positions to tell: ")
    assert "fell" not in change.statement and "Better" not in change.statement
    (sentence,) = describe_change(make_change((-0.301, 0.02), "too_few"), {}, False)
    assert sentence.endswith("changed by anything from 30 percentage points less to 2 more.")


def test_no_change_is_said_with_what_is_ruled_out():
    steady = compare(*draw_sets(2, 2, clips=9, size=15)).whole
    assert steady.statement.startswith("No change: ")
    assert "changed by less than 20 percentage points" in steady.statement


def test_filming_that_differs_is_said_only_of_a_sure_change():
    sure = make_change((-0.8, -0.2), "down")
    assert "filmed differently, which may be part of it" in " ".join(
        describe_change(sure, {}, filmed_differently=True)
    )
    unsure = describe_change(make_change((-0.3, 0.3), "too_few"), {}, filmed_differently=True)
    assert "filmed differently" not in " ".join(unsure)


def test_a_single_clip_in_a_set_is_called_too_few_clips_even_where_a_change_shows():
    whole = compare(*draw_sets(15, 0, clips=1, size=15)).whole
    assert whole.classes["over_side_on"].verdict == "down"
    assert "too few clips to tell how much days differ" in whole.statement
    assert "too few clips" not in compare(*draw_sets(9, 1)).whole.statement


def test_with_nothing_assessed_nothing_is_claimed():
    change = make_change((-1.0, 1.0), "too_few")
    empty = replace(change.after, count=0, assessed=0, share=None)
    assert describe_change(replace(change, after=empty), {}, False) == [
        "Too few ready positions to tell: none could be assessed after."
    ]
    both = replace(change, before=empty, after=empty)
    assert describe_change(both, {}, False)[0].endswith("none could be assessed before and after.")


@pytest.mark.parametrize(
    ("verdict", "start"),
    [("up", "Better: more strokes met set, 27 of 36"), ("down", "Worse: fewer strokes met set")],
)
def test_more_strokes_met_set_is_better(verdict, start):
    (sentence,) = describe_met_set(make_change((0.1, 0.2), verdict))
    assert sentence.startswith(start)


def test_strokes_of_one_set_alone_are_no_change():
    change = make_change((-1.0, 1.0), "too_few")
    none = replace(change.before, count=0, assessed=0, share=None)
    (sentence,) = describe_met_set(replace(change, before=none))
    assert sentence == "Strokes met set: 3 of 36 after; before, no stroke could be told."
    assert describe_met_set(replace(change, before=none, after=none)) == []
