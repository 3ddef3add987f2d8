"""What tells motion in numbers depends on the motion alone, not on how it was filmed."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.people.landmarks import MIRRORED
from stance.people.track import Track
from stance.strokes.motion import RATE, describe_motion, moments
from stance.strokes.network import OFFSETS, load_network
from tests.unit.figures import behind_camera, track_of
from tests.unit.strokes.movements import LASTS_S, play_about

CAMERA = behind_camera()
MOMENTS = moments(0.0, LASTS_S)

# Of each number over all play that the network was shown.
SPREADS = load_network().spread.reshape(len(OFFSETS), -1)[OFFSETS.index(0)]


def track_at(rate: float, joints: np.ndarray | None = None) -> Track:
    """The track of a player who plays about, at so many frames a second."""
    times = np.arange(0.0, LASTS_S + 1e-6, 1.0 / rate)
    return track_of(CAMERA, play_about(times) if joints is None else joints, rate)


def unseen(track: Track, start_s: float, end_s: float) -> Track:
    """The track with a time in which the player is not seen."""
    gone = (track.times > start_s) & (track.times < end_s)
    return replace(
        track,
        pixels=np.where(gone[:, None, None], np.nan, track.pixels),
        world=np.where(gone[:, None, None], np.nan, track.world),
    )


def test_moments_are_as_far_apart_as_the_rate_says_from_the_start_to_the_end() -> None:
    times = moments(1.0, 3.0)
    assert times[0] == 1.0 and times[-1] == pytest.approx(3.0)
    np.testing.assert_allclose(np.diff(times), 1.0 / RATE)


def test_a_mirrored_player_moves_alike() -> None:
    track = track_at(30.0)
    joints = play_about(track.times)
    mirrored = track_at(30.0, joints[:, MIRRORED] * (-1.0, 1.0, 1.0))
    # At the ends there is no speed that tells which hand is the faster one.
    np.testing.assert_allclose(
        describe_motion(mirrored, CAMERA, MOMENTS)[1:-1],
        describe_motion(track, CAMERA, MOMENTS)[1:-1],
        rtol=1e-6,
        atol=1e-6,
    )


@given(factor=st.sampled_from([0.5, 2.0, 3.0]))
@settings(max_examples=3)
def test_a_picture_of_another_size_shows_the_same_motion(factor: float) -> None:
    track = track_at(30.0)
    matrix = np.diag((factor, factor, 1.0)) @ CAMERA.matrix
    np.testing.assert_allclose(
        describe_motion(
            replace(track, pixels=factor * track.pixels), replace(CAMERA, matrix=matrix), MOMENTS
        ),
        describe_motion(track, CAMERA, MOMENTS),
        rtol=1e-6,
        atol=1e-6,
    )


@pytest.mark.parametrize("rate", [25.0, 30.0, 60.0])
def test_the_frame_rate_changes_the_numbers_little(rate: float) -> None:
    wanted = describe_motion(track_at(120.0), CAMERA, MOMENTS)[1:-1]
    numbers = describe_motion(track_at(rate), CAMERA, MOMENTS)[1:-1]
    assert (np.abs(numbers - wanted) / SPREADS).max() < 0.35


def test_what_is_not_seen_is_not_told_and_all_else_is() -> None:
    numbers = describe_motion(unseen(track_at(30.0), 1.5, 2.5), CAMERA, MOMENTS)
    hidden = (MOMENTS > 1.5 + 0.3) & (MOMENTS < 2.5 - 0.3)
    assert np.isnan(numbers[hidden]).all()
    shown = (np.abs(MOMENTS - 2.0) > 0.55) & (MOMENTS > 0.0) & (MOMENTS < LASTS_S)
    assert np.isfinite(numbers[shown]).all()
    # Nobody is seen before or after the track.
    beyond = moments(-2.0, LASTS_S + 2.0)
    numbers = describe_motion(track_at(30.0), CAMERA, beyond)
    assert np.isnan(numbers[(beyond < -0.3) | (beyond > LASTS_S + 0.3)]).all()


def test_a_frame_that_was_missed_changes_little() -> None:
    track = track_at(30.0)
    one_missed = unseen(track, 1.59, 1.61)
    assert not one_missed.seen.all()
    wanted = describe_motion(track, CAMERA, MOMENTS)[1:-1]
    numbers = describe_motion(one_missed, CAMERA, MOMENTS)[1:-1]
    assert (np.abs(numbers - wanted) / SPREADS).max() < 0.4


def test_of_who_is_never_seen_nothing_is_told() -> None:
    assert np.isnan(describe_motion(unseen(track_at(30.0), -1.0, 9.0), CAMERA, MOMENTS)).all()
