"""Spells are found once they are over, and handed over with the crops that they need."""

import weakref
from collections.abc import Mapping
from concurrent.futures import Future
from types import SimpleNamespace
from typing import Any

import numpy as np

from stance.people.player_state import Player
from stance.watching.options import QUICK
from stance.watching.spell_collector import SpellCollector, find_segment_spells
from stance.watching.trackers import TrackedPlayer
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.watching.made_players import made_player, observation_at, plain_frame

CAMERA = behind_camera()

# Comes in from the left for a second, waits for a second, leaves to the right for a second.
PLACES = [
    (-1.5 + 1.5 * np.clip(k / 30, 0, 1) + 1.5 * np.clip((k - 60) / 30, 0, 1), -4.0)
    for k in range(90)
]


class NotingObserver:
    """Stands for the networks: notes what is handed over, and observes its number."""

    def __init__(self) -> None:
        self.handed_over: list[tuple[Any, Any]] = []

    def observe_spells(self, spells: Mapping, crops: Mapping, camera: Any) -> Future[int]:
        self.handed_over.append((spells, crops))
        place: Future[int] = Future()
        place.set_result(len(self.handed_over))
        return place


def collected(places: list) -> tuple[NotingObserver, SpellCollector, Player]:
    """What a collector does with a player who is observed at a place in each frame."""
    observer = NotingObserver()
    spells = SpellCollector(QUICK, observer)
    player = made_player(CAMERA, [])
    for index, place in enumerate(places):
        player.append(plain_frame(index), observation_at(CAMERA, place, index))
        spells.add(player, index, plain_frame(index))
        spells.close_if_over(TrackedPlayer(SimpleNamespace(), player, CAMERA, ("right", "left")))
    return observer, spells, player


def test_a_wait_is_found_for_both_hands_to_a_few_frames() -> None:
    track = track_of(CAMERA, np.stack([figure(place) for place in PLACES]), 30.0)
    found = find_segment_spells(track, CAMERA, ("right", "left"))
    assert list(found) == ["right", "left"]
    for (spell,) in found.values():
        assert abs(spell.start_frame - 30) <= 3 and abs(spell.end_frame - 60) <= 3
        assert (spell.start_s, spell.end_s) == (spell.start_frame / 30, spell.end_frame / 30)


def test_who_is_hardly_seen_waits_nowhere() -> None:
    track = track_of(CAMERA, np.stack([figure((0.0, -4.0))]), 30.0)
    assert find_segment_spells(track, CAMERA, ("right",)) == {}


def test_a_spell_is_handed_over_once_the_player_has_clearly_left() -> None:
    observer, spells, player = collected(PLACES[:68])
    assert not observer.handed_over
    observer, spells, player = collected(PLACES)
    ((found, crops),) = observer.handed_over
    (spell,) = found["right"]
    inside = [frame for frame in crops if spell.start_frame <= frame <= spell.end_frame]
    # The crop that closes the segment comes on top of those that are kept.
    assert len(inside) >= 10 and len(crops) <= 24 + 1
    assert spells.observed(player) == [1]


def test_at_the_clips_end_an_open_spell_is_handed_over() -> None:
    observer, spells, player = collected(PLACES[:60])
    assert not observer.handed_over
    spells.close_if_over(
        TrackedPlayer(SimpleNamespace(), player, CAMERA, ("right", "left")), at_end=True
    )
    assert len(observer.handed_over) == 1


def test_who_only_moves_leaves_no_crops_behind() -> None:
    observer = NotingObserver()
    spells = SpellCollector(QUICK, observer)
    player = made_player(CAMERA, [])
    alive = []
    for index in range(40):
        base = (-2.0 + 0.1 * index, -4.0)
        player.append(plain_frame(index), observation_at(CAMERA, base, index))
        alive.append(weakref.ref(spells.add(player, index, plain_frame(index))))
        spells.close_if_over(TrackedPlayer(SimpleNamespace(), player, CAMERA, ("right", "left")))
    assert sum(crop() is not None for crop in alive) <= 6
    assert not observer.handed_over


def test_nothing_is_kept_of_those_who_are_players_no_more() -> None:
    spells = SpellCollector(QUICK, NotingObserver())
    here, gone = (made_player(CAMERA, [(0.0, -4.0)], n) for n in (0, 1))
    crop_here, crop_gone = (
        weakref.ref(spells.add(player, 0, plain_frame(0))) for player in (here, gone)
    )
    spells.keep_only({here.track_id})
    assert crop_here() is not None and crop_gone() is None
