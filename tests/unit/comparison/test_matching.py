"""Players are matched by name, and never silently otherwise."""

from dataclasses import replace

import numpy as np
import pytest

from stance.comparison.matching import match_players
from stance.errors import InputError
from tests.unit.comparison.invented_sets import draw_sets
from tests.unit.invented import drawn_result


def rename(results, name, letter="A"):
    """The results with their players' name and letter."""
    return [
        replace(r, players=tuple(replace(p, name=name, player=letter) for p in r.players))
        for r in results
    ]


def test_players_of_the_same_name_are_matched():
    before, after = draw_sets(9, 1)
    matched = match_players(before, after)
    assert list(matched.before) == list(matched.after) == ["J-07"]
    assert [r for r, _ in matched.before["J-07"]] == before
    assert matched.notices == ()


def test_the_only_player_of_a_set_without_names_is_taken_for_the_named_one_with_a_notice():
    before, after = draw_sets(9, 1)
    for sets in ((before, rename(after, "", "B")), (rename(before, "", "B"), after)):
        matched = match_players(*sets)
        assert list(matched.before) == list(matched.after) == ["J-07"]
        assert [n.code for n in matched.notices] == ["nameless"]
        assert "taken to be J-07" in matched.notices[0].text


def test_two_letters_without_a_name_stay_two_players():
    # Both may be defenders of one clip, of which one each was measured.
    before, after = draw_sets(9, 1)
    with pytest.raises(InputError, match="before, A; after, B.*name them when analysing"):
        match_players(rename(before, ""), rename(after, "", "B"))
    assert list(match_players(rename(before, ""), rename(after, "")).before) == ["A"]


def test_different_names_are_different_players():
    before, after = draw_sets(9, 1)
    with pytest.raises(InputError, match="No player is in both sets: before, J-07; after, J-08"):
        match_players(before, rename(after, "J-08"))


def test_a_set_that_shows_nobody_is_named():
    before, after = draw_sets(9, 1)
    empty = [replace(r, players=()) for r in after]
    with pytest.raises(InputError, match="None of the clips after shows a player"):
        match_players(before, empty)
    with pytest.raises(InputError, match="None of the clips before shows the player J-08"):
        match_players(before, after, "J-08")


def test_players_of_one_side_only_are_left_out_with_a_notice():
    random = np.random.default_rng(0)
    before, after = draw_sets(9, 1)
    other = drawn_result(random, 3, 12, "B-2")
    matched = match_players([*before, other], after)
    assert list(matched.before) == ["J-07"]
    (notice,) = matched.notices
    assert notice.code == "one_side_only" and "before, so left out: B-2" in notice.text


def test_several_players_of_a_clip_without_names_are_matched_by_letter_with_a_notice():
    before, after = (rename(results, "") for results in draw_sets(9, 1))
    pair = [replace(r, players=(*r.players, replace(r.players[0], player="B"))) for r in before]
    matched = match_players(pair, [*after, *rename(after, "", "B")])
    assert list(matched.before) == ["A", "B"]
    assert [n.code for n in matched.notices] == ["nameless"]
    assert "matched by their letters" in matched.notices[0].text


def test_a_single_player_is_matched_by_name_or_letter():
    random = np.random.default_rng(0)
    before, after = draw_sets(9, 1)
    other = drawn_result(random, 3, 12, "B-2")
    matched = match_players([*before, other], [*after, other], "B-2")
    assert list(matched.before) == ["B-2"] and matched.notices == ()
    assert len(match_players([*before, other], after, "A").before["A"]) == 4
