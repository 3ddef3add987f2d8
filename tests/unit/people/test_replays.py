"""A replay in slow motion is told from play, from rest and from the same again."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from stance.people.replays import find_replays
from stance.people.track import Track
from tests.unit.figures import behind_camera, figure, track_of

RATE = 10.0
CAMERA = behind_camera()


def _play(seed, seconds):
    """Joints (33, 3) at any time of somebody who runs about and moves all limbs."""
    rng = np.random.default_rng(seed)
    knots = np.arange(0.0, seconds + 2.0, 0.5)
    places = CubicSpline(knots, rng.normal(0, 0.7, (len(knots), 2)) + (0.0, -4.0))
    limbs = CubicSpline(knots, rng.normal(0, 0.08, (len(knots), 33, 3)))
    return lambda time_s: figure(tuple(places(time_s))) + limbs(time_s)


def _track(showing, noise_px=1.0):
    """A track of joints at 10 observations a second, with the pose model's noise."""
    joints = np.array(showing)
    track = track_of(CAMERA, joints, RATE)
    rng = np.random.default_rng(1)
    noisy = track.pixels + rng.normal(0, noise_px, track.pixels.shape)
    return Track(track.frames, track.times, noisy, track.visibility, track.world)


def _edited(slower, seed=0):
    """Eight seconds of play, seconds 3 to 6 of it again, and eight more."""
    play = _play(seed, 16.0)
    first = [play(t) for t in np.arange(0.0, 8.0, 1 / RATE)]
    again = [play(t) for t in np.arange(3.0, 6.0, 1 / RATE / slower)]
    rest = [play(t) for t in np.arange(8.0, 16.0, 1 / RATE)]
    return first + again + rest


@pytest.mark.parametrize("slower", [2.0, 3.0, 4.0, 6.0])
def test_a_replay_is_found_with_its_speed_and_what_it_shows(slower):
    (replay,) = find_replays([_track(_edited(slower))])
    assert replay.start_s == pytest.approx(8.0, abs=0.5)
    assert replay.end_s == pytest.approx(8.0 + 3.0 * slower, abs=0.5)
    assert replay.first_start_s == pytest.approx(3.0, abs=0.3)
    assert replay.first_end_s == pytest.approx(6.0, abs=0.3)
    assert replay.slower == pytest.approx(slower, rel=0.05)


def test_both_players_of_a_replay_show_one():
    assert len(find_replays([_track(_edited(3.0)), _track(_edited(3.0, seed=5))])) == 1


@pytest.mark.parametrize("seed", range(4))
def test_play_is_no_replay_nor_is_who_rests_between(seed):
    play = _play(seed, 30.0)
    # Every third second at rest where the second ends.
    times = [t if int(t) % 3 else np.floor(t) for t in np.arange(0.0, 30.0, 1 / RATE)]
    assert find_replays([_track([play(t) for t in times])]) == ()


@pytest.mark.parametrize("lean_m", [0.05, 0.06, 0.07])
def test_who_leans_a_little_and_again_slowly_shows_no_replay(lean_m):
    """As people do who stand and chat."""
    standing = figure((0.0, -4.0))
    leaning = [
        standing + (lean_m * np.interp(t, [1.0, 1.4, 1.5, 6.0, 10.0], [-1, 1, -1, -1, 1]), 0, 0)
        for t in np.arange(0.0, 12.0, 1 / RATE)
    ]
    assert find_replays([_track(leaning, noise_px=2.5)]) == ()


def test_the_same_again_at_the_same_speed_is_no_slow_motion():
    assert find_replays([_track(_edited(1.0))]) == ()


def test_who_is_hardly_seen_shows_no_replay():
    track = _track(_edited(3.0))
    hidden = np.full_like(track.pixels, np.nan)
    hidden[:4] = track.pixels[:4]
    seen = Track(track.frames, track.times, hidden, track.visibility, track.world)
    assert find_replays([seen]) == ()
