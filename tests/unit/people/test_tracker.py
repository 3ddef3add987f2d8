"""One frame after the other: whose place is taken, and whose pose is replaced."""

import itertools

import pytest

from stance.people import tracker as module
from stance.people.candidates import Candidate
from stance.people.landmarks import HIPS
from stance.people.tracker import Tracker
from stance.video.reader import read_frames
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import (
    CLIP,
    RED,
    candidate_at,
    context_of,
    first_picture,
    observed,
    player_at,
    player_seen,
    pose_at,
)


@pytest.mark.parametrize(("x", "stays"), [(2.8, True), (3.6, False)])
def test_who_stands_beside_the_court_takes_no_players_place(
    x: float, stays: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    with context_of(behind_camera()) as context:
        tracker = Tracker(context)
        tracker.state.players = [player_at(0, x, RED)]
        monkeypatch.setattr(module, "observe_followed", lambda *_: [candidate_at(x, RED)])
        monkeypatch.setattr(module, "search_missing", lambda *_: [])
        monkeypatch.setattr(module, "search_behind", lambda *_: [])
        for frame in itertools.islice(read_frames(CLIP), 1, 40):
            tracker.step(frame)
        assert bool(tracker.players) == stays


@pytest.mark.parametrize(("seen_times", "stays"), [(4, False), (8, True)])
def test_a_lost_track_of_less_than_half_a_second_was_nobody(
    seen_times: int, stays: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    with context_of(behind_camera()) as context:
        tracker = Tracker(context)
        tracker.state.players = [player_seen(0, RED, 0, *[pose_at(0.0)] * seen_times)]
        monkeypatch.setattr(module, "observe_followed", lambda *_: [])
        monkeypatch.setattr(module, "observe_wider", lambda *_: [])
        monkeypatch.setattr(module, "search_missing", lambda *_: [])
        monkeypatch.setattr(module, "search_moving", lambda *_: [])
        for index in range(seen_times, seen_times + 10):
            tracker.step(first_picture(index, 0.1 * index))
        assert bool(tracker.players) == stays


def test_frames_kept_to_be_observed_again_can_be_released() -> None:
    with context_of(behind_camera()) as context:
        tracker = Tracker(context)
        tracker.state.frames_with_one.append(first_picture())
        tracker.release_frames()
        assert not tracker.state.frames_with_one


def test_a_pose_from_beside_a_player_at_rest_is_replaced_for_the_whole_rest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Their squares lie inside the picture.
    known, beside, better = (observed(pose_at(x).moved(0.0, -250.0)) for x in (0.05, 0.1, 0.0))
    candidates = [
        Candidate(observation, observation.pose.pixels[HIPS].mean(axis=0), RED, centred)
        for observation, centred in ((beside, False), (better, True))
    ]
    seen = iter([candidates[0]] * 3 + [candidates[1]])
    monkeypatch.setattr(module, "observe_followed", lambda *_: [next(seen)])
    with context_of(None, may_rest=True) as context:
        tracker = Tracker(context)
        tracker.state.players = [player_seen(0, RED, 0, known.pose)]
        for index in range(1, 5):
            # The picture does not change.
            tracker.step(first_picture(index, 0.1 * index))
        noted = [tracker.players[0].observation_at(index) for index in range(1, 5)]
    assert noted == [better] * 4
