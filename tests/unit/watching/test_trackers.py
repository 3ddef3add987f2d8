"""Whose players are followed, measured and count, and how fast their feet are."""

from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from types import SimpleNamespace

import numpy as np
import pytest

from stance.court.camera import turned_180
from stance.people.observation import PoseModels
from stance.people.track import frames_seen
from stance.types import HANDS
from stance.watching.options import ClipContext, WatchOptions
from stance.watching.trackers import (
    TrackedPlayer,
    main_players,
    make_trackers,
    measured_halves,
)
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.watching.made_players import made_player, plain_frame

CAMERA = behind_camera()
HERE = (0.0, -4.0)


def half_with(*players: object, camera: object = CAMERA) -> SimpleNamespace:
    """A tracker of a half with some players."""
    return SimpleNamespace(camera=camera, players=list(players))


@pytest.mark.parametrize(("seen", "measured"), [(10, ("near",)), (1, ("near", "far"))])
def test_the_far_half_is_measured_while_the_near_one_is_empty(
    seen: int, measured: tuple[str, ...]
) -> None:
    player = made_player(CAMERA, [HERE] * seen + [None] * (10 - seen))
    trackers = {"near": half_with(player), "far": half_with(camera=turned_180(CAMERA))}
    assert measured_halves(trackers, None) == measured
    assert measured_halves(trackers, "both") == ("near", "far")
    assert measured_halves(trackers, "far") == ("far",)
    assert measured_halves({"near": trackers["near"]}, "far") == ("near",)


def test_both_halves_are_followed_where_there_is_a_court_and_one_where_there_is_none() -> None:
    with ThreadPoolExecutor(1) as workers, closing(PoseModels("full")) as models:
        for camera, halves in ((CAMERA, ["near", "far"]), (None, ["near"])):
            clip = ClipContext("a.mp4", CAMERA.image_size, 10, camera)
            trackers = make_trackers(clip, WatchOptions(half="near"), models, workers)
            assert list(trackers) == halves
            assert trackers["near"].camera == camera


@pytest.mark.parametrize("step_m", [0.0, 0.1])
def test_a_players_feet_are_as_fast_as_between_the_last_two_observations(step_m: float) -> None:
    player = made_player(CAMERA, [(-3.0, -4.0), HERE, (step_m, -4.0)])
    tracked = TrackedPlayer(player, CAMERA, HANDS)
    assert tracked.foot_speed == pytest.approx(30.0 * step_m, rel=0.05, abs=1e-6)
    player.append(plain_frame(3), None)
    assert tracked.foot_speed == np.inf


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
