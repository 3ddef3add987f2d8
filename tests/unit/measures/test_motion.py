"""Feet's speed between observations, sides taken for each other and strays, of stick figures."""

from dataclasses import replace

import numpy as np
import pytest

from stance.measures.motion import correct_side_swaps, correct_strays, fastest_foot
from stance.measures.ready_positions import Spell, find_spells
from stance.people.floor import metres_per_pixel
from stance.people.landmarks import FEET, MIRRORED
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
