"""A change in words: they never claim more than the intervals."""

from dataclasses import replace

from stance.comparison.compare import compare
from stance.comparison.model import ShareChange
from stance.comparison.statement import describe_change
from stance.statistics.pooled import PooledShare
from tests.unit.comparison.invented_sets import draw_sets


def make_change(interval, verdict, more_needed=None):
    """A change from 27 to 3 of 36 with an interval of its own."""
    before = PooledShare(27, 36, 0.75, (0.6, 0.9), 30.0)
    after = PooledShare(3, 36, 3 / 36, (0.0, 0.2), 30.0)
    return ShareChange(
        before, after, sum(interval) / 2, interval, verdict, more_needed, "score", None
    )


def test_a_large_change_is_told_with_its_interval():
    whole = compare(*draw_sets(9, 1)).whole
    change = whole.classes["over_side_on"]
    least, most = (abs(round(100 * end)) for end in sorted(change.interval, key=abs))
    assert whole.statement.startswith(
        "27 of 36 assessed ready positions were over-side-on before, 3 of 36 after: the share of "
        f"over-side-on fell by {least} to {most} points (95 % interval)."
    )
    assert "The racket hip came" in whole.statement
    assert "further forward" in whole.statement


def test_a_rise_and_an_average_player_are_named():
    sentence = describe_change(make_change((0.102, 0.104), "up"), {}, False, players=3)
    assert sentence == (
        "Over 3 players, 27 of 36 assessed ready positions were over-side-on before, 3 of 36 after:"
        " the share of over-side-on rose on the average player by about 10 points (95 % interval)."
    )


def test_too_few_says_so_and_how_many_more_would_do():
    change = compare(*draw_sets(3, 1, clips=1, size=6)).whole
    share = change.classes["over_side_on"]
    assert "too few ready positions to tell" in change.statement
    assert f"About {share.more_needed} more in each set would tell" in change.statement
    assert "fell" not in change.statement


def test_where_no_number_would_do_it_says_so():
    open_change = make_change((-0.301, 0.0), "too_few")
    sentence = describe_change(open_change, {}, False)
    assert "by anything from −30 to 0 points" in sentence
    assert sentence.endswith(
        "More than 2000 more in each set would be needed to tell a change of 20 points."
    )
    assert describe_change(open_change, {}, False, players=2).endswith(
        "More players or more clips of each would tell."
    )
    seen = describe_change(make_change((-0.5, 0.01), "too_few", 40), {}, False)
    assert seen.endswith("About 40 more in each set would tell a change of the size seen.")


def test_no_change_is_said_with_what_is_ruled_out():
    steady = compare(*draw_sets(2, 2, clips=9, size=15)).whole
    assert "20 points or more is ruled out" in steady.statement


def test_filming_that_differs_is_said_only_of_a_sure_change():
    sure = make_change((-0.8, -0.2), "down")
    sentence = describe_change(sure, {}, filmed_differently=True)
    assert "filmed differently, which may be part of it" in sentence
    unsure = describe_change(make_change((-0.3, 0.3), "too_few"), {}, filmed_differently=True)
    assert "filmed differently" not in unsure


def test_a_single_clip_in_a_set_is_called_too_few_clips_even_where_a_change_shows():
    whole = compare(*draw_sets(15, 0, clips=1, size=15)).whole
    assert whole.classes["over_side_on"].verdict == "down"
    assert "too few clips to tell how much days differ" in whole.statement
    assert "too few clips" not in compare(*draw_sets(9, 1)).whole.statement


def test_with_nothing_assessed_nothing_is_claimed():
    change = make_change((-1.0, 1.0), "too_few")
    empty = replace(change.after, count=0, assessed=0, share=None)
    assert describe_change(replace(change, after=empty), {}, False) == (
        "Too few ready positions to tell: none could be assessed after."
    )
    both = replace(change, before=empty, after=empty)
    assert describe_change(both, {}, False).endswith("none could be assessed before and after.")
