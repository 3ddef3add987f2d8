"""Parts of a rally: the strokes that are in them are found, and none is invented."""

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.results.model import PlayerResult
from stance.types import ImageArray
from tests.end_to_end.edited_clips import read_pictures, write_pictures
from tests.paths import SAMPLE_CLIPS
from tests.rendering.play.sound import RATE as SOUND_RATE
from tests.rendering.play.sound import add_sound, draw_sound
from tests.rendering.sample import NAME, sample_play

CLIP = SAMPLE_CLIPS / f"{NAME}.mp4"
RATE = 30
# After the own stroke at 6.3 s, before the one faced at 7.5 s.
CUT = 205
BREAK_S = 6
SAME_S = 0.15


@pytest.fixture(scope="module")
def pictures() -> list[ImageArray]:
    return read_pictures(CLIP)


@pytest.fixture(scope="module")
def sound() -> np.ndarray:
    return draw_sound(sample_play())


def true_contacts(start: int, end: int) -> list[float]:
    """Contacts faced between two frames, seconds from the first."""
    truth = json.loads(CLIP.with_suffix(".truth.json").read_text(encoding="utf-8"))
    times = [stroke["time_s"] for stroke in truth["strokes"] if stroke["side"] == "faced"]
    return [time_s - start / RATE for time_s in times if start <= time_s * RATE < end]


def measure_clip(path: Path, pictures: Sequence[ImageArray], sound: np.ndarray) -> PlayerResult:
    """Write a clip with sound and measure its one player."""
    add_sound(write_pictures(path, pictures, RATE), sound)
    (player,) = analyse(
        path, CLIP.with_suffix(".court.json"), AnalysisOptions(hand="right")
    ).result.players
    return player


def in_samples(frame: int) -> int:
    """The sample of the sound track at a frame."""
    return round(frame / RATE * SOUND_RATE)


@pytest.mark.parametrize(("start", "end"), [(0, CUT), (CUT, None)])
def test_a_rally_cut_in_the_middle_gives_the_strokes_of_its_half(
    start: int,
    end: int | None,
    pictures: list[ImageArray],
    sound: np.ndarray,
    tmp_path: Path,
) -> None:
    last = end or len(pictures)
    player = measure_clip(
        tmp_path / "half.mp4", pictures[start:last], sound[in_samples(start) : in_samples(last)]
    )
    contacts = [stroke.time_s for stroke in player.strokes_faced]
    assert contacts == pytest.approx(true_contacts(start, last), abs=SAME_S)
    assert [stroke.serve for stroke in player.strokes_faced] == [
        start == 0 and number == 0 for number in range(len(contacts))
    ]
    assert sorted(player.stroke_of) == list(range(len(player.ready_positions)))


def test_in_a_still_break_between_two_rallies_nobody_strikes(
    pictures: list[ImageArray], sound: np.ndarray, tmp_path: Path
) -> None:
    still = [pictures[CUT]] * (BREAK_S * RATE)
    silence = np.zeros(BREAK_S * SOUND_RATE, sound.dtype)
    at = in_samples(CUT)
    player = measure_clip(
        tmp_path / "break.mp4",
        [*pictures[:CUT], *still, *pictures[CUT:]],
        np.concatenate([sound[:at], silence, sound[at:]]),
    )
    before = true_contacts(0, CUT)
    after = [CUT / RATE + BREAK_S + time_s for time_s in true_contacts(CUT, len(pictures))]
    contacts = [stroke.time_s for stroke in player.strokes_faced]
    assert contacts[: len(before)] == pytest.approx(before, abs=SAME_S)
    # The stroke that follows the still picture at once may be missed; none is invented.
    assert len(contacts) >= len(before + after) - 1
    for time_s in contacts[len(before) :]:
        assert min(abs(time_s - true_s) for true_s in after) < SAME_S
    own = [stroke.time_s for stroke in player.own_strokes]
    assert not [time_s for time_s in own if 0.2 < time_s - CUT / RATE < BREAK_S - 0.2]
