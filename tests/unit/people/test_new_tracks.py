"""For whom a track is started."""

from collections.abc import Iterator

import numpy as np
import pytest

from stance.people.new_tracks import start_track
from stance.people.tracker_state import TrackerContext, TrackerState, initial_state
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import (
    BLUE,
    RED,
    candidate_at,
    context_of,
    first_picture,
    observed,
    player_at,
    pose_at,
)


@pytest.fixture
def context() -> Iterator[TrackerContext]:
    with context_of(behind_camera()) as context:
        yield context


@pytest.fixture
def state(context: TrackerContext) -> TrackerState:
    """One player is known, in red, in the middle."""
    state = initial_state(context.camera, context.image_size)
    state.players, state.tracks_started = [player_at(0, 0.0, RED)], 1
    return state


@pytest.mark.parametrize(
    ("x", "worn", "is_new"),
    [
        (0.05, RED, False),  # the same person seen once more
        (0.05, BLUE, False),  # covered by the one who is known
        (0.35, RED, False),
        (0.35, BLUE, True),
        (1.5, RED, True),
        (4.0, BLUE, False),  # beside the court
    ],
)
def test_somebody_new_is_not_the_player_who_is_known_once_more(
    context: TrackerContext, state: TrackerState, x: float, worn: np.ndarray, is_new: bool
) -> None:
    picture = first_picture(index=1, time_s=0.1)
    state.players[0].append(picture, observed(pose_at(0.0)))
    start_track(context, state, candidate_at(x, worn), picture)
    assert len(state.players) == 1 + is_new


def test_a_new_players_colours_are_not_sure_until_seen_in_full(
    context: TrackerContext, state: TrackerState
) -> None:
    start_track(context, state, candidate_at(0.2, BLUE), first_picture())
    assert [player.colours_sure for player in state.players] == [True, False]


def test_who_takes_the_place_of_a_lost_player_gets_a_track_id_of_their_own(
    context: TrackerContext, state: TrackerState
) -> None:
    start_track(context, state, candidate_at(1.5, BLUE), first_picture())
    start_track(context, state, candidate_at(-1.5, BLUE), first_picture(index=9, time_s=0.3))
    assert len(state.players) == 2  # There is no room for a third.
    start_track(context, state, candidate_at(-1.5, BLUE), first_picture(index=300, time_s=10.0))
    assert [tuple(player.track_id) for player in state.players] == [
        ("near", 0),
        ("near", 1),
        ("near", 2),
    ]
    assert [player.landmarker_number for player in state.players] == [0, 1, 0]
