"""Before and after as a whole: which clips count, and what is said beside the numbers."""

from dataclasses import replace

import pytest

from stance.comparison.compare import compare
from stance.errors import InputError
from stance.results.model import Filming
from stance.types import CLASSES
from tests.unit.comparison.invented_sets import draw_sets


def test_all_classes_and_measures_of_a_player_are_compared():
    comparison = compare(*draw_sets(9, 1))
    assert comparison.warnings == () and comparison.group is None
    assert set(comparison.whole.classes) == set(CLASSES)
    assert set(comparison.whole.measures) == {"lead_angle_deg", "hip_yaw_deg"}
    assert comparison.whole.player == "J-07"


def test_the_same_recording_counts_once_in_a_set_and_never_in_both():
    before, after = draw_sets(9, 1)
    twice = compare([*before, before[0]], after)
    assert [w.code for w in twice.warnings] == ["same_clip"]
    assert twice.whole.classes["over_side_on"].before.assessed == 36
    with pytest.raises(InputError, match=f"same clip is in both sets: {before[0].clip.file}"):
        compare(before, before[:1])


def test_a_racket_hand_that_was_not_seen_for_sure_is_told():
    before, after = draw_sets(9, 1)
    guessed = replace(after[0], players=(replace(after[0].players[0], hand_confidence=0.9),))
    (notice,) = compare(before, [guessed, *after[1:]]).warnings
    assert notice.code == "hand_unsure" and guessed.clip.file in notice.text
    assert "--hand right or --hand left" in notice.text


def test_clips_without_a_court_count_only_where_that_is_asked_for():
    before, after = draw_sets(9, 1)
    court = replace(before[0].court, source="assumed", filmed_from="behind")
    mixed = [replace(before[0], court=court), *before[1:]]
    for count, assessed in ((False, 24), (True, 36)):
        comparison = compare(mixed, after, count_assumed=count)
        assert [w.code for w in comparison.warnings] == ["assumed_court"]
        assert comparison.whole.classes["over_side_on"].before.assessed == assessed


def test_how_players_were_matched_is_told():
    before, after = draw_sets(9, 1)
    nameless = [replace(r, players=tuple(replace(p, name="") for p in r.players)) for r in after]
    assert [w.code for w in compare(before, nameless).warnings] == ["nameless"]


def test_a_single_clip_and_other_filming_are_told_beside_the_numbers():
    assert [w.code for w in compare(*draw_sets(3, 1, clips=1, size=6)).whole.warnings] == [
        "one_clip"
    ]
    whole = compare(*draw_sets(9, 1, filming=Filming("behind", 2.0, 7.0))).whole
    assert [w.code for w in whole.warnings] == ["filming_view"]
    assert "filmed differently, which may be part of it" in whole.statement
