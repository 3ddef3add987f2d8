"""The search for players who are not known."""

import json

import numpy as np
import pytest

from stance.people.landmarks import HIPS
from stance.people.search import search_behind, search_missing
from stance.people.tracker_state import initial_state
from stance.video.reader import read_frames
from tests.evaluation.accuracy import true_camera
from tests.evaluation.pair_accuracy import true_pixels
from tests.unit.people.made_people import (
    CLIP,
    RED,
    Picture,
    candidate_at,
    context_of,
    first_picture,
    player_at,
    two_in_line,
)


def blank(time_s: float) -> Picture:
    """A picture of nobody."""
    return Picture(np.full((180, 320, 3), 90, np.uint8), round(30 * time_s), time_s)


def test_both_players_are_found_in_the_first_frame_and_nobody_beside_the_court() -> None:
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text())
    with context_of(true_camera(truth)) as context:
        state = initial_state(context.camera, context.image_size)
        found = search_missing(context, state, next(read_frames(CLIP)), [])
    joints = true_pixels(truth)[0][:, 0]
    heights = np.ptp(joints[..., 1], axis=1)
    names = truth["joint_names"]
    hips = joints[:, [names.index("left_hip"), names.index("right_hip")]].mean(axis=1)
    away = np.array(
        [
            np.linalg.norm(hips - candidate.pose.pixels[HIPS].mean(axis=0), axis=1) / heights
            for candidate in found
        ]
    )
    # Every pose is one of the two, and both are found.
    assert away.min(axis=1).max() < 0.25
    assert set(away.argmin(axis=1)) == {0, 1}


def test_a_search_that_finds_nobody_is_made_again_after_a_longer_pause() -> None:
    with context_of(None, (320, 180)) as context:
        state = initial_state(None, context.image_size)
        pauses = []
        for time_s in (0.0, 1.0, 2.5, 5.0):
            assert search_missing(context, state, blank(time_s), []) == []
            pauses.append((state.search.due_s - time_s, state.search.whole_due_s - time_s))
    assert pauses == [(0.5, 0.5), (1.0, 1.0), (1.0, 2.0), (1.0, 4.0)]


def test_who_was_lost_lately_is_searched_there_without_longer_pauses() -> None:
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text())
    with context_of(true_camera(truth)) as context:
        state = initial_state(context.camera, context.image_size)
        state.players = [player_at(0, 0.0, RED)]
        pauses = []
        for time_s in (1.0, 1.5, 2.0, 3.0, 12.0):
            assert search_missing(context, state, blank(time_s), []) == []
            pauses.append(round(state.search.due_s - time_s, 3))
    # After four seconds nobody is expected to come back there.
    assert pauses == [0.25, 0.25, 0.25, 0.25, 0.5]


@pytest.mark.parametrize("due_s", [0.0, 5.0])
def test_somebody_behind_is_searched_when_that_is_due(due_s: float) -> None:
    picture, front, _ = two_in_line(time_s=1.0)
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text())
    with context_of(true_camera(truth), picture.size) as context:
        state = initial_state(context.camera, context.image_size)
        state.search.behind_due_s = due_s
        search_behind(context, state, picture, [candidate_at(0.0, RED)])
    assert state.search.behind_tries == (due_s <= 1.0)
    # The next one is later in any case.
    assert state.search.behind_due_s > 1.0


def test_nobody_is_searched_behind_others_where_nobody_is_seen() -> None:
    with context_of(None) as context:
        state = initial_state(None, context.image_size)
        assert search_behind(context, state, first_picture(), []) == []
    assert state.search.behind_tries == 0
