"""What makes two sets hard to compare is named."""

from dataclasses import replace

import pytest

from stance.comparison.notices import note_filming_differences, note_unsure_hands
from stance.results.model import Filming
from tests.unit.comparison.invented_sets import draw_sets, pool_sets


def test_filming_that_differs_is_named():
    before, after = draw_sets(9, 1)
    assert note_filming_differences(*pool_sets((before, after))[0]) == []
    after = [
        replace(r, filming=Filming("behind", 3.2, 7.0), court=replace(r.court, source="assumed"))
        for r in after
    ]
    notices = note_filming_differences(*pool_sets((before, after))[0])
    assert [n.code for n in notices] == ["filming_view", "filming_height", "filming_court"]
    assert "corner before and from behind after" in notices[0].text


def test_an_unknown_height_is_no_difference():
    before, after = draw_sets(9, 1)
    after = [replace(r, filming=Filming("corner", float("nan"), float("nan"))) for r in after]
    assert note_filming_differences(*pool_sets((before, after))[0]) == []


@pytest.mark.parametrize(("unsure", "more"), [(1, None), (5, None), (7, "and 2 more")])
def test_clips_with_an_unsure_hand_are_named_up_to_five(unsure, more):
    results, _ = draw_sets(9, 1, clips=7)
    players = [
        (r, replace(r.players[0], hand_confidence=0.9 if n < unsure else 1.0))
        for n, r in enumerate(results)
    ]
    (notice,) = note_unsure_hands(players, "Say which.")
    assert notice.code == "hand_unsure" and notice.text.endswith("Say which.")
    named = [r.clip.file in notice.text for r in results]
    assert named == [n < min(unsure, 5) for n in range(7)]
    assert more is None or more in notice.text


def test_sure_hands_need_no_notice():
    results, _ = draw_sets(9, 1)
    assert note_unsure_hands([(r, r.players[0]) for r in results], "") == []
