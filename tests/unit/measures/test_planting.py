"""When both feet are down, told from stick figures who hop, step, slide and run."""

import numpy as np
import pytest

from stance.measures.planting import find_planted_spells
from stance.people.floor import metres_per_pixel
from stance.people.landmarks import FEET, LEFT_ANKLE, LEFT_HEEL, LEFT_KNEE, LEFT_TOE
from tests.unit.figures import behind_camera, figure, track_of

CAMERA = behind_camera()
RATES = [30.0, 60.0, 120.0]
LEFT_FOOT = [LEFT_HEEL, LEFT_TOE, LEFT_ANKLE, LEFT_KNEE]


def standing(seconds: float, rate: float) -> np.ndarray:
    """(frames, 33, 3): a player who stands still."""
    return np.stack([figure((0.0, -4.0))] * (round(seconds * rate) + 1))


def spells_s(joints: np.ndarray, rate: float) -> list[tuple[float, float]]:
    """Start and end of each planted spell, seconds."""
    track = track_of(CAMERA, joints, rate)
    spells = find_planted_spells(track, metres_per_pixel(CAMERA, track.pixels))
    return [(float(track.times[s.start]), float(track.times[s.end])) for s in spells]


def rise(times: np.ndarray, start_s: float, lasts_s: float, height_m: float) -> np.ndarray:
    """Height over the floor of what leaves it once, as a body thrown up, metres."""
    share = np.clip((times - start_s) / lasts_s, 0.0, 1.0)
    return 4.0 * height_m * share * (1.0 - share)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("height_m", [0.15, 0.2, 0.3])
def test_a_hop_ends_one_spell_and_its_landing_starts_another(rate: float, height_m: float) -> None:
    joints = standing(2.0, rate)
    times = np.arange(len(joints)) / rate
    # A body thrown up comes down again after 2 sqrt(2 h / g).
    in_air_s = 2.0 * np.sqrt(2.0 * height_m / 9.81)
    joints[:, :, 2] += rise(times, 0.8, in_air_s, height_m)[:, None]
    first, *_, last = spells_s(joints, rate)
    assert first == (0.0, pytest.approx(0.8, abs=0.05))
    assert last == (pytest.approx(0.8 + in_air_s, abs=0.05), pytest.approx(2.0, abs=0.02))


@pytest.mark.parametrize("rate", RATES)
def test_who_lands_one_foot_after_the_other_is_planted_from_the_second_one_on(rate: float) -> None:
    joints = standing(1.6, rate)
    times = np.arange(len(joints)) / rate
    # The right foot lands at 0.5 s, the left one at 0.65 s.
    for landmarks, lands_s in ((FEET, 0.5), (LEFT_FOOT, 0.65)):
        before = times < lands_s
        height = 2.5 * np.maximum(lands_s - times, 0.0)
        joints[np.ix_(before, list(landmarks), [2])] = (
            standing(1.6, rate)[np.ix_(before, list(landmarks), [2])] + height[before, None, None]
        )
    (spell,) = spells_s(joints, rate)
    assert spell == (pytest.approx(0.65, abs=0.05), pytest.approx(1.6, abs=0.02))


@pytest.mark.parametrize("rate", RATES)
def test_feet_that_creep_stay_planted(rate: float) -> None:
    joints = standing(1.0, rate)
    joints[:, list(FEET), 0] += 0.3 * (np.arange(len(joints)) / rate)[:, None]
    assert spells_s(joints, rate) == [(0.0, pytest.approx(1.0, abs=0.02))]


@pytest.mark.parametrize("rate", RATES)
def test_who_runs_is_never_planted(rate: float) -> None:
    joints = standing(1.0, rate)
    joints[..., 0] += 2.5 * (np.arange(len(joints)) / rate)[:, None]
    assert spells_s(joints, rate) == []


@pytest.mark.parametrize("rate", RATES)
def test_who_sinks_with_both_feet_down_is_planted(rate: float) -> None:
    joints = standing(1.0, rate)
    upper = [number for number in range(joints.shape[1]) if number not in FEET]
    joints[:, upper, 2] -= 0.5 * (np.arange(len(joints)) / rate)[:, None]
    assert spells_s(joints, rate) == [(0.0, pytest.approx(1.0, abs=0.02))]


def test_a_foot_seen_elsewhere_for_a_moment_parts_nothing() -> None:
    joints = standing(1.0, 120.0)
    joints[60, list(FEET[::2]), 0] += 0.15
    assert spells_s(joints, 120.0) == [(0.0, pytest.approx(1.0, abs=0.02))]


@pytest.mark.parametrize("rate", RATES)
def test_a_short_slow_step_ends_a_spell(rate: float) -> None:
    joints = standing(1.3, rate)
    times = np.arange(len(joints)) / rate
    # One foot goes 0.3 m aside in 0.35 s, no faster than planted feet may seem to be.
    joints[:, list(FEET[::2]), 0] += 0.3 * np.clip((times - 0.5) / 0.35, 0.0, 1.0)[:, None]
    first, second = spells_s(joints, rate)
    assert first == (0.0, pytest.approx(0.5, abs=0.06))
    assert second == (pytest.approx(0.85, abs=0.06), pytest.approx(1.3, abs=0.02))


def test_feet_that_stand_elsewhere_after_a_short_gap_have_stepped() -> None:
    joints = standing(1.0, 30.0)
    joints[15:, :, 0] += 0.3
    assert len(spells_s(joints, 30.0)) == 2


def test_nothing_is_told_of_who_is_not_seen_or_seen_twice_only() -> None:
    track = track_of(CAMERA, standing(1.0, 30.0), 30.0)
    track.pixels[10:20] = np.nan
    spells = find_planted_spells(track, metres_per_pixel(CAMERA, track.pixels))
    assert all(spell.end < 10 or spell.start > 19 for spell in spells)
    assert len(spells) == 2
    assert spells_s(standing(0.03, 30.0), 30.0) == []


@pytest.mark.parametrize("rate", RATES)
def test_feet_that_still_slide_have_not_landed(rate: float) -> None:
    joints = standing(2.0, rate)
    times = np.arange(len(joints)) / rate
    # Slower and slower for half a second, from 3 m/s to nothing, and faster again at the end.
    slides = 3.0 * (np.maximum(0.5 - times, 0.0) ** 2 - np.maximum(times - 1.5, 0.0) ** 2)
    joints[..., 0] += slides[:, None]
    (spell,) = spells_s(joints, rate)
    speed = np.abs(np.gradient(slides, 1.0 / rate))
    start, end = np.searchsorted(times, spell)
    assert speed[[start, end]] == pytest.approx(0.7, abs=0.25)


@pytest.mark.parametrize("rate", RATES)
def test_who_has_one_foot_down_is_not_planted(rate: float) -> None:
    joints = standing(0.5, rate)
    joints[:, LEFT_FOOT, 0] -= 2.0 * (np.arange(len(joints)) / rate)[:, None]
    assert spells_s(joints, rate) == []
