"""Spells are found once they are over, and handed over with the crops that they need."""

import weakref
from collections.abc import Mapping
from concurrent.futures import Future
from typing import Any

import numpy as np

from stance.people.landmarks import FEET
from stance.people.player_state import Player
from stance.watching.close_observer import SegmentSpells
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
        spells.add(player, plain_frame(index))
        spells.close_if_over(TrackedPlayer(player, CAMERA, ("right", "left")))
    return observer, spells, player


def test_a_wait_and_planted_feet_are_found_to_a_few_frames() -> None:
    track = track_of(CAMERA, np.stack([figure(place) for place in PLACES]), 30.0)
    found = find_segment_spells(track, CAMERA, ("right", "left"))
    assert list(found.waits) == ["right", "left"]
    for (spell,) in (*found.waits.values(), found.planted):
        assert abs(spell.start_frame - 30) <= 3 and abs(spell.end_frame - 60) <= 3
        assert (spell.start_s, spell.end_s) == (spell.start_frame / 30, spell.end_frame / 30)


def test_who_sinks_between_two_steps_is_planted_and_does_not_wait() -> None:
    joints = np.stack([figure(place) for place in (*PLACES[:30], *PLACES[30:38], *PLACES[60:])])
    # Hips, arms and head sink and turn by a metre a second while the feet are down.
    upper = np.ones(joints.shape[1], bool)
    upper[list(FEET)] = False
    joints[30:38, upper, 2] -= np.linspace(0.0, 0.25, 8)[:, None]
    joints[38:, upper, 2] -= 0.25
    found = find_segment_spells(track_of(CAMERA, joints, 30.0), CAMERA, ("right",))
    assert found.waits == {"right": ()}
    (spell,) = found.planted
    assert abs(spell.start_frame - 30) <= 2 and abs(spell.end_frame - 37) <= 2


def test_who_steps_at_an_even_pace_does_not_stop_in_pictures_that_are_shown_twice() -> None:
    # 1.35 m a second; of 25 pictures a second the clip shows every fifth twice.
    shown = np.floor(np.arange(60) / 30 * 25 + 1e-6) / 25
    joints = np.stack([figure((-1.0 + 1.35 * time_s, -4.0)) for time_s in shown])
    found = find_segment_spells(track_of(CAMERA, joints, 30.0), CAMERA, ("right",))
    assert found.planted == ()


def test_who_is_hardly_seen_waits_nowhere() -> None:
    track = track_of(CAMERA, np.stack([figure((0.0, -4.0))]), 30.0)
    assert find_segment_spells(track, CAMERA, ("right",)) == SegmentSpells({}, ())


def test_a_spell_is_handed_over_once_the_feet_have_left() -> None:
    observer, spells, player = collected(PLACES[:60])
    assert not observer.handed_over
    observer, spells, player = collected(PLACES[:66])
    ((found, crops),) = observer.handed_over
    for spell in (*found.waits["right"], *found.planted):
        inside = [frame for frame in crops if spell.start_frame <= frame <= spell.end_frame]
        assert len(inside) >= 10
    assert spells.observed(player) == [1]


def test_crops_reach_back_to_the_contact_before_a_landing() -> None:
    # Planted for a quarter of a second.
    observer, _, _ = collected([*PLACES[:38], *PLACES[60:]])
    ((found, crops),) = observer.handed_over
    assert min(crops) <= found.planted[0].start_frame - 8


def test_of_a_long_wait_crops_are_thinned_out_but_not_the_latest() -> None:
    observer, _, _ = collected([*PLACES[:30], *[PLACES[30]] * 600, *PLACES[60:]])
    ((_, crops),) = observer.handed_over
    frames = sorted(crops)
    assert len(frames) <= 60
    assert np.diff([frame for frame in frames if frame >= 618]).tolist() == [1] * (frames[-1] - 618)
    assert np.diff(frames).max() <= 90


def test_at_the_clips_end_an_open_spell_is_handed_over() -> None:
    observer, spells, player = collected(PLACES[:60])
    assert not observer.handed_over
    spells.close_if_over(TrackedPlayer(player, CAMERA, ("right", "left")), at_end=True)
    assert len(observer.handed_over) == 1


def test_who_only_moves_leaves_no_crops_behind() -> None:
    observer = NotingObserver()
    spells = SpellCollector(QUICK, observer)
    player = made_player(CAMERA, [])
    alive = []
    for index in range(40):
        base = (-2.0 + 0.1 * index, -4.0)
        player.append(plain_frame(index), observation_at(CAMERA, base, index))
        alive.append(weakref.ref(spells.add(player, plain_frame(index))))
        spells.close_if_over(TrackedPlayer(player, CAMERA, ("right", "left")))
    # The next spell's contact may lie in the last half second.
    assert sum(crop() is not None for crop in alive[:20]) == 0
    assert not observer.handed_over


def test_nothing_is_kept_of_those_who_are_players_no_more() -> None:
    spells = SpellCollector(QUICK, NotingObserver())
    here, gone = (made_player(CAMERA, [(0.0, -4.0)], n) for n in (0, 1))
    crop_here, crop_gone = (
        weakref.ref(spells.add(player, plain_frame(0))) for player in (here, gone)
    )
    spells.keep_only({here.track_id})
    assert crop_here() is not None and crop_gone() is None
