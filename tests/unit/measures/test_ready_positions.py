"""Ready positions of stick figures whose waiting and moving is known."""

import numpy as np
import pytest

from stance.measures.ready_positions import Spell, find_spells, has_bent_knees, speeds
from stance.people.floor import metres_per_pixel
from stance.people.landmarks import FEET, RIGHT_WRIST
from tests.unit.figures import behind_camera, track_of
from tests.unit.measures.drills import RATE, drill


def spells_of(
    parts: list[tuple[str, float]], rate: float = RATE, noise: float = 0.0
) -> tuple[Spell, ...]:
    camera = behind_camera()
    track = track_of(camera, drill(parts, rate), rate)
    track.pixels[:] += np.random.default_rng(3).normal(0, noise, track.pixels.shape)
    return find_spells(track, metres_per_pixel(camera, track.pixels), "right")


@pytest.mark.parametrize("rate", [25.0, 30.0, 60.0])
def test_waiting_between_runs_is_found_to_two_frames(rate: float) -> None:
    spells = spells_of(
        [("run", 0.6), ("wait", 1.0), ("run", 0.6), ("wait", 0.8), ("run", 0.6)], rate
    )
    expected = [(0.6, 1.6), (2.2, 3.0)]
    assert len(spells) == 2
    slack = max(2.0, 0.07 * rate)
    for spell, (start, end) in zip(spells, expected, strict=True):
        assert abs(spell.start - start * rate) <= slack
        assert abs(spell.end - (end * rate - 1)) <= slack


def test_pose_noise_neither_splits_nor_invents_a_ready_position() -> None:
    # A pixel of noise on landmarks of a player 150 pixels tall.
    parts = [("run", 0.6), ("wait", 2.0), ("run", 0.6), ("wait", 1.0), ("run", 0.5)]
    assert len(spells_of(parts, noise=1.0)) == 2


def test_shorter_than_a_fifth_of_a_second_does_not_count() -> None:
    assert spells_of([("run", 0.6), ("wait", 0.12), ("run", 0.6)]) == ()


def test_a_stroke_ends_the_ready_position() -> None:
    spells = spells_of([("wait", 1.0), ("swing", 0.6), ("wait", 0.8)])
    assert len(spells) == 2
    assert spells[0].end <= 1.0 * RATE + 2
    assert spells[1].start >= 1.6 * RATE - 4


def test_standing_with_straight_knees_is_not_waiting() -> None:
    assert has_bent_knees(np.array([5.0, 30.0]))
    assert not has_bent_knees(np.array([6.0, 9.0]))


def test_a_player_who_never_stops_never_waits() -> None:
    assert spells_of([("run", 2.0)]) == ()


def test_an_unseen_player_is_not_waiting() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 2.0)]), RATE)
    track.pixels[20:40] = np.nan
    spells = find_spells(track, metres_per_pixel(camera, track.pixels), "right")
    assert all(not (s.start <= 30 <= s.end) for s in spells)


def test_a_foot_seen_in_a_wrong_place_does_not_part_a_ready_position() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 1.0)]), RATE)
    scale = metres_per_pixel(camera, track.pixels)
    whole = find_spells(track, scale, "right")
    # From half way on the right foot is seen 20 cm off, nothing else moves.
    track.pixels[15:, FEET[1::2], 0] += 0.2 / scale[0]
    assert find_spells(track, scale, "right") == whole
    # A step takes the hips along.
    track.pixels[15:, 23:25, 0] += 0.1 / scale[0]
    assert len(find_spells(track, scale, "right")) == 2


def test_both_feet_seen_elsewhere_under_resting_hips_do_not_part_a_ready_position() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 1.6)]), RATE)
    scale = metres_per_pixel(camera, track.pixels)
    for side, metres in ((0, 0.5), (1, -0.4)):
        track.pixels[24:, FEET[side::2], 0] += metres / scale[0]
    assert find_spells(track, scale, "right") == (Spell(0, 47),)


def test_a_foot_that_trembles_in_its_place_does_not_part_a_ready_position() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("wait", 2.0)]), RATE)
    scale = metres_per_pixel(camera, track.pixels)
    # For half a second the left foot is seen 5 cm to and fro.
    for start in range(20, 36, 4):
        track.pixels[start : start + 2, FEET[::2], 0] += 0.05 / scale[0]
    # Now and then a landmark is further astray.
    track.pixels[28, FEET[::2], 0] += 0.15 / scale[0]
    assert list(find_spells(track, scale, "right")) == [Spell(0, len(track.times) - 1)]


def test_two_stops_of_a_moment_are_no_ready_position() -> None:
    camera = behind_camera()
    track = track_of(camera, drill([("run", 0.6), ("wait", 0.36), ("run", 0.6)], 60.0), 60.0)
    scale = metres_per_pixel(camera, track.pixels)
    assert len(find_spells(track, scale, "right")) == 1
    # A stroke in the middle, shorter than what is bridged.
    track.pixels[45:49, RIGHT_WRIST, 0] += 0.08 / scale[0]
    assert find_spells(track, scale, "right") == ()


def test_a_hop_on_the_spot_parts_two_ready_positions() -> None:
    assert len(spells_of([("wait", 0.8), ("hop", 0.3), ("wait", 0.8)])) == 2


def test_speed_of_a_straight_walk_is_its_speed() -> None:
    times = np.arange(20) / 30.0
    points = np.stack([1.5 * times, -2.0 * times], axis=-1)
    np.testing.assert_allclose(speeds(points, times), 2.5, rtol=1e-9)
