"""What the arms of stick figures do in each half second."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import turned_180
from stance.measures.arm_motion import CONTEXTS, DIFFERENCES, WINDOW_S, describe_arms
from stance.people.landmarks import LEFT_WRIST, MIRRORED, RIGHT_WRIST
from stance.people.track import Track
from tests.unit.figures import behind_camera, figure, track_of


def swung(wrist: int, axis: int, frames: int = 60, rate: float = 30.0) -> np.ndarray:
    """A player who swings a wrist along an axis, (frames, 33, 3)."""
    joints = np.stack([figure((0.3, -4.0))] * frames)
    joints[:, wrist, axis] += 0.4 * np.sin(10.0 * np.arange(frames) / rate)
    return joints


def number(windows: np.ndarray, difference: str, context: str = "always") -> np.ndarray:
    """One of the numbers of each window."""
    return windows[:, DIFFERENCES.index(difference) * len(CONTEXTS) + CONTEXTS.index(context)]


@pytest.mark.parametrize("rate", [10.0, 30.0, 120.0])
def test_a_swing_has_the_speed_it_has_at_any_frame_rate(rate: float) -> None:
    joints = swung(RIGHT_WRIST, 2, int(3 * rate), rate)
    windows = describe_arms(track_of(behind_camera(), joints, rate), behind_camera())
    faster = number(windows, "speed against shoulders, space")
    # 0.4 m at 10 radians a second is 4 m/s at most; over a fifth of a second less.
    assert np.median(faster) == pytest.approx(np.log(4.5), abs=0.35)


@given(axis=st.integers(0, 2), across=st.floats(-2.0, 2.0), far=st.booleans())
def test_a_mirrored_player_gives_the_same_numbers_with_the_other_sign(
    axis: int, across: float, far: bool
) -> None:
    camera = turned_180(behind_camera()) if far else behind_camera()
    joints = swung(RIGHT_WRIST, axis) + (across, 0.0, 0.0)
    mirrored = joints[:, MIRRORED] * (-1.0, 1.0, 1.0)
    windows = describe_arms(track_of(camera, joints, 30.0), camera)
    other = describe_arms(track_of(camera, mirrored, 30.0), camera)
    assert len(windows)
    np.testing.assert_allclose(other, -windows, atol=1e-9)


def test_heights_and_ways_forward_are_the_courts_wherever_the_player_is_in_the_picture() -> None:
    joints = swung(RIGHT_WRIST, 0)
    joints[:, LEFT_WRIST] += (0.0, 0.1, 0.2)
    for across in (-2.0, 0.0, 2.0):
        camera = behind_camera(height=3.0)
        track = track_of(camera, joints + (across, 0.0, 0.0), 30.0)
        windows = describe_arms(seen_straight(track, joints, across), camera)
        assert number(windows, "mean height") == pytest.approx(-0.15, abs=1e-6)
        assert number(windows, "mean distance forward") == pytest.approx(-0.1, abs=1e-6)


def seen_straight(track: Track, joints: np.ndarray, across: float) -> Track:
    """The track as a level camera that looks straight at the hips sees its world landmarks."""
    middle = joints[:, [23, 24]].mean(axis=1) + (across, 0.0, 0.0)
    away = middle - (0.0, -9.0, 3.0)
    away = away / np.linalg.norm(away, axis=1, keepdims=True)
    right = np.cross(away, (0.0, 0.0, 1.0))
    right = right / np.linalg.norm(right, axis=1, keepdims=True)
    axes = np.stack([right, np.cross(away, right), away], axis=1)
    body = joints + (across, 0.0, 0.0) - middle[:, None]
    world = np.einsum("nij,nkj->nki", axes, body)
    return Track(track.frames, track.times, track.pixels, track.visibility, world)


def test_a_player_at_rest_tells_nothing() -> None:
    track = track_of(behind_camera(), np.stack([figure((0.0, -4.0))] * 60), 30.0)
    assert describe_arms(track, behind_camera()).shape == (0, len(DIFFERENCES) * len(CONTEXTS))


def test_where_a_wrist_is_hidden_or_nobody_is_seen_there_is_no_window() -> None:
    track = track_of(behind_camera(), swung(RIGHT_WRIST, 2, 120), 30.0)
    track.visibility[:30, LEFT_WRIST] = 0.05
    track.pixels[30:60] = np.nan
    shown = len(describe_arms(track, behind_camera()))
    last = track_of(behind_camera(), swung(RIGHT_WRIST, 2, 120)[60:], 30.0)
    assert shown == len(describe_arms(last, behind_camera()))


def test_a_clip_shorter_than_a_window_gives_none() -> None:
    frames = int(0.4 * WINDOW_S * 30)
    track = track_of(behind_camera(), swung(RIGHT_WRIST, 2, frames), 30.0)
    assert not len(describe_arms(track, behind_camera()))
