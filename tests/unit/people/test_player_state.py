"""What is known of a player while followed."""

import itertools

import numpy as np
import pytest

from stance.people.landmarks import HIPS
from stance.people.player_state import exchange_later
from stance.video.reader import read_frames
from tests.unit.figures import behind_camera
from tests.unit.people.made_people import (
    BLUE,
    CLIP,
    RED,
    first_picture,
    observed,
    player_at,
    player_seen,
    pose_at,
)


def test_how_large_a_player_is_is_known_however_long_they_are_missed() -> None:
    player = player_at(0, 0.0, RED)
    side = player.largest_side
    for frame in itertools.islice(read_frames(CLIP), 1, 40):
        player.append(frame, None)
    assert player.largest_side == side


def test_two_players_who_exchange_their_later_observations_twice_are_as_before() -> None:
    frames = list(itertools.islice(read_frames(CLIP), 6))
    one, two = player_at(0, 0.0, RED), player_at(1, 1.0, BLUE)
    for frame in frames[1:]:
        one.append(frame, observed(pose_at(0.1)))
        two.append(frame, observed(pose_at(0.9)) if frame.index < 4 else None)
    before = [(list(p.frames), list(p.poses), p.landmarker_number, p.last_seen) for p in (one, two)]
    assert (one.times_seen, two.times_seen) == (6, 4)
    exchange_later(one, two, frames[2])
    assert list(one.poses) == before[0][1][:3] + before[1][1][3:]
    assert (one.landmarker_number, one.last_seen, two.last_seen) == (1, 3, 5)
    assert (one.track_id.number, two.track_id.number) == (0, 1)
    assert (one.times_seen, two.times_seen) == (4, 6)
    one.insert(frames[4], observed(pose_at(0.5)))
    assert one.times_seen == 5
    one.poses.replace(4, None)
    one.last_seen, one.times_seen = 3, 4
    exchange_later(one, two, frames[2])
    assert [
        (p.frames, list(p.poses), p.landmarker_number, p.last_seen) for p in (one, two)
    ] == before


def test_what_is_seen_in_a_frame_between_two_lies_between_them() -> None:
    player = player_seen(0, RED, 0, pose_at(0.0), pose_at(0.2))
    player.frames, player.times = [0, 4], [0.0, 0.4]
    between = observed(pose_at(0.1))
    player.insert(first_picture(index=2, time_s=0.2), between)
    assert (player.frames, player.times) == ([0, 2, 4], [0.0, 0.2, 0.4])
    assert (player.last_seen, player.times_seen) == (2, 3)
    assert player.observation_at(2) == between
    assert player.pose_at(3) is None


def test_a_player_is_expected_where_the_motion_leads_for_a_moment_and_then_where_last_seen() -> (
    None
):
    player = player_seen(0, RED, 0, *(pose_at(0.05 * number) for number in range(5)))
    step = (player.last_pose.pixels - player.poses[3].pixels)[HIPS].mean(axis=0)
    np.testing.assert_allclose(player.displacement(0.5), step, rtol=0.02, atol=0.1)
    # Who runs one way may stop.
    np.testing.assert_array_equal(player.displacement(0.8), player.displacement(0.9))
    np.testing.assert_array_equal(player.displacement(1.3), (0.0, 0.0))


def test_who_is_not_seen_is_lost_and_later_gone() -> None:
    player = player_at(0, 0.0, RED)
    times = (0.7, 0.9, 3.9, 4.1)
    assert [player.is_lost(time) for time in times] == [False, True, True, True]
    assert [player.was_lost_lately(time) for time in times] == [False, True, True, False]


def test_the_last_place_is_on_the_floor_and_follows_the_last_observation() -> None:
    player = player_at(0, 1.0, RED)
    camera = behind_camera()
    assert player.last_place(camera) == pytest.approx((1.0, -4.0), abs=0.1)
    player.append(first_picture(index=3, time_s=0.1), observed(pose_at(1.5)))
    assert player.last_place(camera) == pytest.approx((1.5, -4.0), abs=0.1)
