"""Clips that were edited: what does not show the court is left out, and named."""

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.results.model import ReadyPosition, Result
from tests.end_to_end.edited_clips import close_up, read_pictures, slowed, write_pictures
from tests.paths import DATA

CLIP = DATA / "rear_corner_drill.mp4"
RATE = 30.0
CLOSE_UP_S = 3.0
REPLAYED_S, SLOWER = 3.0, 3
RIGHT = AnalysisOptions(hand="right")


@pytest.fixture(scope="module")
def whole() -> Result:
    return analyse(CLIP, CLIP.with_suffix(".court.json"), RIGHT).result


def _waits(result: Result) -> list[ReadyPosition]:
    """The ready positions but for a stand so short that it may count or not."""
    return [p for p in result.players[0].ready_positions if p.duration_s > 0.35]


def _quiet_moment(result: Result) -> float:
    """The middle of the longest time between two ready positions, seconds.

    Only later than what is replayed there.
    """
    positions = _waits(result)
    gaps = [
        (after.start_s - before.end_s, (after.start_s + before.end_s) / 2)
        for before, after in pairwise(positions)
    ]
    return max(gap for gap in gaps if gap[1] > REPLAYED_S)[1]


@pytest.fixture(scope="module")
def cut(whole: Result, tmp_path_factory: pytest.TempPathFactory) -> tuple[Result, float]:
    """The result of the clip with a close-up in a quiet moment, its court not given, and when."""
    pictures = read_pictures(CLIP)
    number = round(_quiet_moment(whole) * RATE)
    close = close_up(pictures[: round(CLOSE_UP_S * RATE)], (0.5, 0.55), 0.35)
    edited = [*pictures[:number], *close, *pictures[number:]]
    path: Path = tmp_path_factory.mktemp("cut") / "cut.mp4"
    return analyse(write_pictures(path, edited, RATE), None, RIGHT).result, number / RATE


def test_both_parts_that_show_the_court_are_measured_and_the_close_up_is_named(
    whole: Result, cut: tuple[Result, float]
) -> None:
    result, cut_s = cut
    assert result.court.source == "found"
    assert len(result.players) == 1
    expected, found = _waits(whole), _waits(result)
    assert len(found) == len(expected)
    for before, after in zip(expected, found, strict=True):
        later = CLOSE_UP_S if before.start_s > cut_s else 0.0
        assert after.start_s == pytest.approx(before.start_s + later, abs=0.15)
        assert after.stance_class == before.stance_class
        np.testing.assert_allclose(after.base_m, before.base_m, atol=0.1)
    (notice,) = (w for w in result.warnings if w.code == "camera_moved")
    from_s, to_s = map(float, re.findall(r"From (\d+\.\d) to (\d+\.\d) s", notice.text)[0])
    assert from_s == pytest.approx(cut_s, abs=0.15)
    assert to_s == pytest.approx(cut_s + CLOSE_UP_S, abs=0.15)


def test_a_replay_in_slow_motion_counts_nothing_twice(whole: Result, tmp_path: Path) -> None:
    pictures = read_pictures(CLIP)
    number = round(_quiet_moment(whole) * RATE)
    again = slowed(pictures[number - round(REPLAYED_S * RATE) : number], SLOWER)
    edited = [*pictures[:number], *again, *pictures[number:]]
    clip = write_pictures(tmp_path / "replay.mp4", edited, RATE)
    result = analyse(clip, CLIP.with_suffix(".court.json"), RIGHT).result
    expected, found = _waits(whole), _waits(result)
    assert [p.stance_class for p in found] == [p.stance_class for p in expected]
    (notice,) = (w for w in result.warnings if w.code == "replay")
    shown_again = f"shows again, {SLOWER} times slower, what it showed from"
    assert shown_again in notice.text
    times = [float(time) for time in re.findall(r"(\d+\.\d)", notice.text)]
    cut_s = number / RATE
    expected_s = (cut_s, cut_s + SLOWER * REPLAYED_S, cut_s - REPLAYED_S, cut_s)
    assert times == pytest.approx(expected_s, abs=0.7)
