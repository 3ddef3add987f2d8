"""The clock of a clip: its rate, gaps, slow motion."""

import numpy as np
import pytest

from stance.errors import InputError
from stance.video.probe import ClipDescription, describe_clip
from stance.video.timing import summarise
from tests.unit.video.clips import TICKS, Encoding, encode, shades, times_of


def description(packets: int = 100, capture_rate: float | None = None) -> ClipDescription:
    return ClipDescription("drill.mp4", "0", (96, 64), packets, capture_rate, ())


def codes(times: np.ndarray, capture_rate: float | None = None) -> set[str]:
    _, notices = summarise(description(len(times), capture_rate), times)
    assert all(notice.text.endswith(".") for notice in notices)
    return {notice.code for notice in notices}


@pytest.mark.parametrize("rate", [24, 25, 60, 120, 240])
def test_true_rates_from_24_to_240_are_kept_without_a_notice(tmp_path, rate):
    clip = encode(tmp_path / "clip.mp4", shades(60), Encoding(rate=rate))
    times = np.array(times_of(clip))
    np.testing.assert_allclose(times, np.arange(60) / rate, atol=0.5 / TICKS)
    clip_description = describe_clip(clip)
    summary, notices = summarise(clip_description, times)
    assert summary.frame_rate == pytest.approx(rate, rel=1e-3)
    assert summary.duration_s == pytest.approx(60 / rate, rel=1e-3)
    assert (summary.frames, summary.size, notices) == (60, (96, 64), ())
    assert clip_description.notices == ()


def test_a_stretched_clock_is_said_where_the_phone_tells(tmp_path):
    clip = encode(
        tmp_path / "clip.mp4",
        shades(30),
        Encoding(movflags="use_metadata_tags", metadata={"com.android.capture.fps": "240.000000"}),
    )
    described = describe_clip(clip)
    assert described.capture_rate == 240
    _, notices = summarise(described, np.array(times_of(clip)))
    assert [notice.code for notice in notices] == ["slow_motion"]
    assert "8 times" in notices[0].text
    assert codes(np.arange(90) / 240, capture_rate=240) == set()


def test_a_slow_motion_ramp_is_said():
    fast, slow = np.full(60, 1 / 240), np.full(60, 1 / 30)
    assert codes(np.cumsum(np.concatenate([fast, slow, fast]))) == {"slow_motion"}


def test_an_unsteady_rate_is_said_and_is_no_slow_motion():
    steps = np.concatenate([np.full(60, 1 / 60), np.full(60, 1 / 30)])
    assert codes(np.cumsum(steps)) == {"variable_frame_rate"}
    jitter = 1 / 30 + np.random.default_rng(2).normal(0, 0.001, 300)
    assert codes(np.cumsum(jitter)) == set()


def test_a_gap_is_said_with_its_place():
    times = np.concatenate([np.arange(60) / 30, 3.5 + np.arange(60) / 30])
    _, notices = summarise(description(120), times)
    assert [notice.code for notice in notices] == ["gap"]
    assert "1.5 s" in notices[0].text
    assert "from 2.0 s" in notices[0].text


def test_one_readable_picture_is_not_summed_up():
    with pytest.raises(InputError, match="one frame shows no waiting"):
        summarise(description(), np.array([0.0]))
