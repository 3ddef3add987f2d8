"""Sharp onsets of the sound: hits are heard when they are, and a hall's noise is none."""

from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.errors import InputError
from stance.video.sound import find_onsets, read_onsets
from tests.rendering.play.sound import RATE as FILE_RATE
from tests.rendering.play.sound import add_sound
from tests.unit.video.clips import encode, shades

RATE = 22_050
HITS_S = [0.6, 1.3, 1.85, 2.7]


def hall(rate: int, lasts_s: float = 3.5, seed: int = 1) -> np.ndarray:
    """The noise of a hall, with a hum far louder than it."""
    times = np.arange(round(lasts_s * rate)) / rate
    noise = np.random.default_rng(seed).normal(0.0, 0.005, len(times))
    return noise + 0.2 * np.sin(2.0 * np.pi * 100.0 * times)


def with_hits(samples: np.ndarray, rate: int, hits_s: list[float], level: float) -> np.ndarray:
    """The samples with short clicks of 4 kHz that die away in a few thousandths of a second."""
    after = np.arange(round(0.03 * rate)) / rate
    click = level * np.exp(-after / 0.004) * np.sin(2.0 * np.pi * 4_000.0 * after)
    result = samples.copy()
    for time_s in hits_s:
        start = round(time_s * rate)
        result[start : start + len(click)] += click
    return result


@pytest.mark.parametrize("level", [0.1, 0.5])
def test_clicks_in_noise_are_heard_when_they_are(level: float) -> None:
    onsets = find_onsets(with_hits(hall(RATE), RATE, HITS_S, level))
    assert onsets.tolist() == pytest.approx(HITS_S, abs=0.01)


@given(loudness=st.floats(0.05, 3.0), seed=st.integers(0, 100))
@settings(max_examples=10)
def test_how_loud_all_is_recorded_changes_nothing(loudness: float, seed: int) -> None:
    samples = with_hits(hall(RATE, seed=seed), RATE, HITS_S, 0.3)
    np.testing.assert_array_equal(find_onsets(loudness * samples), find_onsets(samples))


def test_a_hum_a_thump_and_a_sound_that_swells_are_no_hits() -> None:
    samples = hall(RATE)
    times = np.arange(len(samples)) / RATE
    # A foot that stamps is heard below 500 Hz; a shout takes a third of a second to grow.
    stamp = np.exp(-np.abs(times - 1.0) / 0.05) * np.sin(2.0 * np.pi * 150.0 * times)
    swelling = 0.2 * np.clip((times - 2.0) / 1.5, 0.0, 1.0) ** 2
    shout = swelling * np.sin(2.0 * np.pi * 3_000.0 * times)
    assert find_onsets(samples + stamp + shout).size == 0


def test_one_hit_with_its_echo_is_one_onset() -> None:
    samples = with_hits(hall(RATE), RATE, [1.0], 0.5)
    onsets = find_onsets(with_hits(samples, RATE, [1.05], 0.2))
    assert onsets.tolist() == pytest.approx([1.0], abs=0.01)


@pytest.mark.parametrize("samples", [np.zeros(0), np.zeros(500), np.zeros(3 * RATE)])
def test_of_nothing_or_silence_nothing_is_heard(samples: np.ndarray) -> None:
    assert find_onsets(samples).size == 0


def test_a_files_onsets_are_told_in_its_pictures_time(tmp_path: Path) -> None:
    path = encode(tmp_path / "rally.mp4", shades(105))
    add_sound(path, with_hits(hall(FILE_RATE), FILE_RATE, HITS_S, 0.5))
    # AAC frames last 23 thousandths of a second.
    assert read_onsets(path).tolist() == pytest.approx(HITS_S, abs=0.015)


def test_pictures_that_start_late_shift_the_onsets(tmp_path: Path) -> None:
    # From half a second on.
    ticks = [45_000 + 3_000 * number for number in range(105)]
    path = encode(tmp_path / "late.mp4", shades(105), ticks=ticks)
    add_sound(path, with_hits(hall(FILE_RATE), FILE_RATE, HITS_S, 0.5))
    with av.open(str(path)) as clip:
        picture = clip.streams.video[0]
        starts_s = float(picture.start_time * picture.time_base)
    assert starts_s == pytest.approx(0.5)
    wanted = [time_s - starts_s for time_s in HITS_S]
    assert read_onsets(path).tolist() == pytest.approx(wanted, abs=0.015)


def test_a_clip_without_sound_has_no_onsets(tmp_path: Path) -> None:
    assert read_onsets(encode(tmp_path / "silent.mp4", shades(5))).size == 0


def test_a_file_that_is_no_clip_is_refused(tmp_path: Path) -> None:
    (tmp_path / "note.mp4").write_text("no clip")
    with pytest.raises(InputError):
        read_onsets(tmp_path / "note.mp4")
