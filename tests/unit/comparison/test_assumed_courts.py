"""Clips whose court is not known count only where that is asked for, and it is said."""

from dataclasses import replace

import pytest

from stance.comparison.assumed_courts import choose_counted
from stance.errors import InputError
from stance.results.model import CourtSummary
from tests.unit.comparison.invented_sets import draw_sets


def some_assumed(number):
    """Three results, so many of them with an assumed camera."""
    results, _ = draw_sets(9, 1)
    court = CourtSummary("assumed", None, None, "behind")
    return [replace(r, court=court) for r in results[:number]] + results[number:]


def test_with_all_courts_known_nothing_is_said():
    results = some_assumed(0)
    counted = choose_counted(results, "before", count_assumed=False)
    assert counted.results == results and counted.notices == []


def test_clips_without_a_court_are_left_out_and_named():
    results = some_assumed(1)
    counted = choose_counted(results, "before", count_assumed=False)
    assert counted.results == results[1:]
    (notice,) = counted.notices
    assert notice.code == "assumed_court" and results[0].clip.file in notice.text
    assert "before" in notice.text and "--count-assumed" in notice.text


def test_asked_for_they_count_and_are_named():
    results = some_assumed(3)
    counted = choose_counted(results, "after", count_assumed=True)
    assert counted.results == results
    (notice,) = counted.notices
    assert notice.code == "assumed_court" and all(r.clip.file in notice.text for r in results)


def test_a_set_of_such_clips_alone_is_refused():
    results = some_assumed(3)
    with pytest.raises(InputError, match=r"after.*--count-assumed"):
        choose_counted(results, "after", count_assumed=False)
