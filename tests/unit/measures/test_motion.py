"""Feet's speed between observations, sides taken for each other and strays, of stick figures."""

from dataclasses import replace

import numpy as np
import pytest

from stance.measures.motion import (
    correct_side_swaps,
    correct_strays,
    fastest_foot,
    without_repeats,
)
from stance.measures.ready_positions import Spell, find_spells
from stance.people.floor import metres_per_pixel
from stance.people.landmarks import FEET, MIRRORED
from stance.people.track import Track
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.measures.drills import RATE, drill


def test_sides_mixed_up_in_some_observations_are_no_motion() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 1.0)]), RATE)
    true = track.pixels.copy()
    for number in (7, 8, 15):
        track.pixels[number] = track.pixels[number][MIRRORED]
    scale = metres_per_pixel(camera, track.pixels)
    (speed,) = fastest_foot(np.stack([true[6], track.pixels[7]]), track.times[6:8], scale[6:8])
    assert speed < 0.01
    whole = [Spell(0, len(track.times) - 1)]
    assert list(find_spells(track, scale, "right")) != whole
    corrected = correct_side_swaps(track)
    assert list(find_spells(corrected, scale, "right")) == whole
    feet = list(FEET)
    np.testing.assert_array_equal(corrected.pixels[:, feet], true[:, feet])


@pytest.mark.parametrize("rate", [30.0, 50.0])
def test_a_foot_seen_elsewhere_in_single_observations_does_not_part_a_ready_position(rate) -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 1.0)], rate), rate)
    true = track.pixels.copy()
    scale = metres_per_pixel(camera, true)
    for number in range(3, len(true) - 2, 3):
        track.pixels[number, FEET[::2], 0] += 0.3 / scale[0]
    assert find_spells(track, scale, "right") != (Spell(0, len(true) - 1),)
    np.testing.assert_allclose(correct_strays(track).pixels, true, atol=0.2)
    # Observations far apart say nothing of each other.
    seldom = replace(track, times=track.times * 4)
    np.testing.assert_array_equal(correct_strays(seldom).pixels, track.pixels)


def test_a_step_is_no_stray() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 0.6), ("run", 0.6), ("wait", 0.6)]), RATE)
    np.testing.assert_allclose(
        correct_strays(track).pixels,
        track.pixels,
        atol=0.1 / metres_per_pixel(camera, track.pixels)[0],
    )


def test_feet_that_pass_each_other_keep_their_sides() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("run", 1.0)]), RATE)
    np.testing.assert_array_equal(correct_side_swaps(track).pixels, track.pixels)


def test_nothing_is_known_of_steps_from_or_to_an_observation_that_shows_nobody() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 0.2)]), RATE)
    pixels = track.pixels[:4].copy()
    pixels[1] = np.nan
    speeds = fastest_foot(pixels, track.times[:4], metres_per_pixel(camera, pixels))
    assert np.isinf(speeds).tolist() == [True, True, False]


def test_the_foot_that_moves_more_tells_how_fast_feet_are() -> None:
    camera = behind_camera()
    standing = np.stack([figure((0.0, -4.0))] * 2)
    # One foot slides a tenth of a metre to the side.
    standing[1, FEET[::2], 0] += 0.1
    track = track_of(camera, standing, RATE)
    (speed,) = fastest_foot(track.pixels, track.times, metres_per_pixel(camera, track.pixels))
    assert speed == pytest.approx(0.1 * RATE, rel=0.05)


def shown_at(rate: float, taken_at: np.ndarray, pixels: np.ndarray) -> Track:
    """A track of a clip with more pictures a second than were taken: the latest one shows again."""
    times = np.arange(0.0, taken_at[-1], 1.0 / rate)
    latest = pixels[np.searchsorted(taken_at, times + 1e-6, side="right") - 1]
    count = len(times)
    return Track(np.arange(count), times, latest, np.ones((count, 33)), np.zeros((count, 33, 3)))


@pytest.mark.parametrize("rate, taken", [(30.0, 25.0), (60.0, 30.0), (60.0, 25.0), (30.0, 24.0)])
def test_pictures_shown_twice_are_one_observation_and_motion_stays_even(rate, taken) -> None:
    taken_at = np.arange(0.0, 2.0, 1.0 / taken)
    pixels = np.repeat((100.0 * taken_at)[:, None, None], 33, axis=1) * np.ones(2)
    track = without_repeats(shown_at(rate, taken_at, pixels))
    np.testing.assert_array_equal(track.pixels, pixels[: len(track.times)])
    speed = np.diff(track.pixels[:, 0, 0]) / np.diff(track.times)
    # 60 of 25 are shown three times and twice in turn.
    np.testing.assert_allclose(speed, 100.0, rtol=0.02 if (rate, taken) != (60.0, 25.0) else 0.1)


def test_who_is_at_rest_keeps_all_observations() -> None:
    track = track_of(behind_camera(), drill([("wait", 1.0)]), RATE)
    rest = replace(track, pixels=np.repeat(track.pixels[:1], len(track.times), axis=0))
    assert without_repeats(rest) is rest
    assert without_repeats(track) is track
