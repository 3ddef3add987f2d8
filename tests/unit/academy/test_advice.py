"""What to do about a player follows from the flag and from what a report would say."""

from dataclasses import replace

import pytest

from stance.academy.advice import advise_player
from stance.results.model import StrokeFaced
from stance.statistics.pooled import pool
from tests.unit.academy.invented_academy import screen_invented


def screen_one(*clips, **options):
    (player,) = screen_invented({"S": list(clips)}, certain=True, **options).players
    return player


def test_a_habit_is_told_where_it_comes_from_and_what_to_work_on():
    player = screen_one((13, 14, ""), (12, 14, ""))
    assert player.flag == "habit"
    source, work_on, again = advise_player(player)
    assert source.startswith("It comes from the hips") and "belt buckle" in work_on
    assert again.startswith("Film again in a month")


def test_who_is_only_watched_is_filmed_before_anything_is_changed():
    player = replace(screen_one((6, 14, ""), (5, 14, "")), flag="watch")
    assert "before changing anything" in advise_player(player)[-1]


@pytest.mark.parametrize("clips", [[(1, 3, "")], [(0, 0, "")]])
def test_too_few_asks_for_film_alone(clips):
    (sentence,) = advise_player(screen_one(*clips))
    assert sentence.startswith("Film more, best on another day")


def test_who_has_no_sign_may_have_something_else_to_work_on():
    player = screen_one(*[(0, 14, "")] * 3)
    assert player.flag == "no_sign"
    assert advise_player(player) == ["Nothing to mend in how side-on the player stands."]
    moving = tuple(StrokeFaced(2.0 * n, 0.1, met="on_the_move") for n in range(20))
    clips = tuple(replace(c, player=replace(c.player, strokes_faced=moving)) for c in player.clips)
    player = replace(player, clips=clips, pool=pool([(c.result, c.player) for c in clips]))
    assert any("on the move" in sentence.lower() for sentence in advise_player(player)[1:])
