"""Frames in which one of two was seen, observed again once the other is found."""

import itertools

import numpy as np

from stance.people.backfill import backfill, keep_or_backfill
from stance.people.tracker_state import initial_state
from stance.video.reader import read_frames
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import (
    BLUE,
    CLIP,
    RED,
    context_of,
    first_picture,
    observed,
    player_at,
    player_seen,
    pose_at,
    two_in_line,
)


def test_who_is_found_behind_the_partner_is_seen_in_the_frames_before_too() -> None:
    picture, front, shift = two_in_line()
    partner = player_seen(0, RED, 0, front, front)
    behind = player_seen(1, BLUE, 1, front.moved(shift, -0.1 * shift))
    with context_of(None, picture.size) as context:
        backfill(context, [picture], behind, partner)
    assert (behind.frames, behind.last_seen) == ([0, 1], 1)
    assert behind.poses[0] is not None
    away = behind.poses[0].pixels.mean(axis=0) - front.pixels.mean(axis=0) - (shift, 0.0)
    assert np.linalg.norm(away) < 0.12 * np.ptp(front.pixels[:, 1])


def test_who_was_followed_keeps_their_poses_though_the_model_went_over_to_the_partner() -> None:
    picture, front, shift = two_in_line(index=1, time_s=0.1)
    rear = front.moved(shift, -0.1 * shift)
    followed = player_seen(0, RED, 0, front, front, rear)
    found = player_seen(1, BLUE, 2, front)
    with context_of(None, picture.size) as context:
        backfill(context, [picture], found, followed)
    wanted = front.pixels.mean(axis=0)
    places = [pose.pixels.mean(axis=0) - wanted for pose in followed.poses if pose is not None]
    height = np.ptp(front.pixels[:, 1])
    assert (followed.frames, followed.last_seen) == ([0, 1, 2], 2)
    assert np.linalg.norm(places, axis=1).max() < 0.12 * height
    assert (found.frames, found.last_seen) == ([1, 2], 1)
    np.testing.assert_array_equal(found.last_pose.pixels, rear.pixels)
    assert (followed.track_id.number, followed.landmarker_number) == (0, 1)


def test_frames_that_show_one_of_two_are_kept_while_the_other_is_lost() -> None:
    frames = list(itertools.islice(read_frames(CLIP), 40))
    with context_of(behind_camera()) as context:
        state = initial_state(context.camera, context.image_size)
        seen, lost = player_at(0, 0.0, RED), player_at(1, 1.0, BLUE)
        state.players = [seen, lost]
        for frame in frames[1:]:
            seen.append(frame, observed(pose_at(0.0)))
            lost.append(frame, None)
            keep_or_backfill(context, state, frame, [seen, lost])
        kept = [frame.time_s for frame in state.frames_with_one]
    # As many a second as let them reach back to where the two met.
    assert len(kept) >= 8 and kept[0] == frames[1].time_s
    assert np.diff(kept).min() > 0.1 and np.diff(kept).max() < 0.2


def test_no_frame_is_kept_for_a_player_in_whose_place_another_one_has_come() -> None:
    picture = first_picture(index=300, time_s=10.0)
    with context_of(behind_camera()) as context:
        state = initial_state(context.camera, context.image_size)
        gone, here = player_at(0, 0.0, RED), player_at(1, 0.3, RED)
        gone.append(picture, None)
        here.append(picture, observed(pose_at(0.3)))
        state.players = [gone, here]
        keep_or_backfill(context, state, picture, [gone, here])
    assert not state.frames_with_one
