"""One frame after the other: whose place is taken, and who is near whom."""

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


@pytest.mark.parametrize(
    ("apart_m", "apart"),
    [
        ((), True),  # Alone.
        ((0.5,), False),
        ((4.0,), True),
        ((4.0, 4.3), False),  # One of them was lost, or is the one who came in their place.
    ],
)
def test_players_are_apart_while_nobody_is_near_somebody_else(
    apart_m: tuple[float, ...], apart: bool
) -> None:
    with context_of(behind_camera()) as context:
        tracker = Tracker(context)
        tracker.state.players = [
            player_at(number, x, RED) for number, x in enumerate((0.0, *apart_m))
        ]
        assert tracker.players_apart == apart


@pytest.mark.parametrize(
    ("partner_x", "missed", "wanted"), [(2.0, False, False), (0.2, False, True), (2.0, True, True)]
)
def test_frames_are_wanted_more_often_while_players_cross_or_one_is_missed(
    partner_x: float, missed: bool, wanted: bool
) -> None:
    with context_of(behind_camera()) as context:
        tracker = Tracker(context)
        tracker.state.players = [player_at(0, 0.0, RED), player_at(1, partner_x, RED)]
        here, partner = tracker.players
        picture = first_picture(index=3, time_s=0.1)
        here.append(picture, observed(pose_at(0.0)))
        partner.append(picture, None if missed else observed(pose_at(partner_x)))
        assert tracker.needs_frequent_frames == wanted


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
