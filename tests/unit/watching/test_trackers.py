"""Which half is watched, and whose players count."""

from types import SimpleNamespace

import numpy as np
import pytest

from stance.court.camera import turned_180
from stance.watching.trackers import active_trackers, frames_seen, main_players
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.watching.made_players import made_player

CAMERA = behind_camera()
HERE = (0.0, -4.0)


def half_with(*players: object, camera: object = CAMERA) -> SimpleNamespace:
    """A tracker of a half with some players."""
    return SimpleNamespace(camera=camera, players=list(players))


@pytest.mark.parametrize(("seen", "active"), [(10, ["near"]), (1, ["near", "far"])])
def test_the_far_half_is_watched_while_the_near_one_is_empty(seen: int, active: list[str]) -> None:
    player = made_player(CAMERA, [HERE] * seen + [None] * (10 - seen))
    trackers = {"near": half_with(player), "far": half_with(camera=turned_180(CAMERA))}
    assert active_trackers(trackers, None) == [trackers[half] for half in active]
    assert active_trackers(trackers, "both") == list(trackers.values())
    assert active_trackers({"far": trackers["far"]}, "far") == [trackers["far"]]


def test_the_two_players_who_are_seen_most_count_and_nobody_seen_in_passing() -> None:
    often, less, seldom, passing = (
        made_player(CAMERA, [(x, -4.0)] * seen, number)
        for number, (x, seen) in enumerate([(-2.0, 30), (-1.0, 20), (1.0, 15), (2.0, 4)])
    )
    counting = main_players(half_with(passing, seldom, less, often), 30)
    assert [main.player for main in counting] == [often, less]
    assert [len(main.track.frames) for main in counting] == [30, 20]
    assert main_players(half_with(passing), 30) == []


def test_who_stands_beside_the_half_does_not_count() -> None:
    outside = made_player(CAMERA, [(6.0, -4.0)] * 30)
    assert main_players(half_with(outside), 30) == []
    assert len(main_players(half_with(outside, camera=None), 30)) == 1


def test_frames_between_near_observations_count_as_seen() -> None:
    track = track_of(CAMERA, np.stack([figure(HERE)] * 31), 30.0)
    some = [0, 4, 8, 30]
    parts = {name: getattr(track, name)[some] for name in vars(track)}
    # Too long a step from frame 8 to 30: only its end is seen.
    assert frames_seen(type(track)(**parts)) == 10
    assert frames_seen(type(track)(**{name: part[:0] for name, part in parts.items()})) == 0
