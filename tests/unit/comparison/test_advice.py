"""The advice after a comparison fits the call that was made."""

from dataclasses import replace

import pytest

from stance.comparison.advice import advise
from stance.comparison.compare import compare
from tests.unit.comparison.invented_sets import draw_sets
from tests.unit.comparison.test_statement import make_change


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        ("down", "Keep what the block trained: 3 of 36 were still over-side-on"),
        ("up", "Look at the pictures after"),
        ("steady", "train it in another way"),
        ("too_few", "Do not judge the block by this yet"),
    ],
)
def test_each_call_has_an_advice_of_its_own(verdict, words):
    advice = [advise(make_change((-0.5, 0.5), v), False) for v in (verdict, "down", "up")]
    assert words in advice[0]
    assert all(words not in other for other in advice if other != advice[0])


def test_how_much_to_film_is_what_would_tell():
    whole = compare(*draw_sets(3, 1, clips=1, size=6)).whole
    needed = whole.classes["over_side_on"].more_needed
    assert f"About {needed} more ready positions in each set would tell" in whole.advice
    assert "a minute of rallies" in advise(make_change((-0.5, 0.5), "too_few", 20), False)
    assert "some 3 minutes" in advise(make_change((-0.5, 0.5), "too_few", 45), False)
    assert "can hardly be told" in advise(make_change((-0.5, 0.5), "too_few", None), False)
    group = advise(make_change((-0.5, 0.5), "too_few", None), False, players=3)
    assert "More players, or more clips of each" in group


def test_nobody_builds_on_one_day_or_on_two_ways_of_filming():
    sure = make_change((-0.8, -0.2), "down")
    for different, one_clip in ((True, False), (False, True)):
        assert "film another day from the same place" in advise(sure, different, one_clip)
    assert "film another day" not in advise(sure, False)


def test_who_got_worse_is_told_what_to_work_on():
    worse, better = compare(*draw_sets(1, 12)).whole, compare(*draw_sets(12, 1)).whole
    assert "Work on the hips: turn the belt buckle to the attacker" in worse.advice
    assert "belt buckle" not in better.advice


def test_where_nothing_is_left_to_mend_none_is_advised():
    none = replace(make_change((-0.1, 0.1), "steady"))
    none = replace(none, after=replace(none.after, count=0, share=0.0))
    assert advise(none, False).startswith("Nothing to mend")


def test_nothing_assessed_sends_to_the_reports():
    change = make_change((-1.0, 1.0), "too_few")
    empty = replace(change.after, count=0, assessed=0, share=None)
    assert "why nothing could be assessed" in advise(replace(change, after=empty), False)
