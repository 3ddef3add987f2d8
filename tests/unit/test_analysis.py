"""The main job, whole: the sample clip against its truth, and a real person."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from stance.analysis import analyse
from stance.assessment.analysis_model import Analysis
from stance.assessment.options import AnalysisOptions
from stance.camera_motion.segments import estimate_camera_motions
from stance.court.calibration import FoundCourt
from stance.errors import InputError
from stance.reports.writing import write_analysis
from stance.results.json_format import read_result, to_json
from stance.types import CLASSES, NET_UNKNOWN, NOT_ASSESSED
from stance.video.frame import Frame
from stance.video.reader import read_frames
from stance.watching.watched_clip import CompressedCrop
from tests.evaluation.accuracy import overlap
from tests.evaluation.camera_motion import MARGIN, Sway, turned, write_moved
from tests.evaluation.real_recording.recording import video
from tests.paths import DATA
from tests.unit.video.shifting import write_shifted

CLIP = DATA / "rear_corner_drill.mp4"
COURT = DATA / "rear_corner_drill.court.json"
RIGHT = AnalysisOptions(hand="right")
TRUTH = json.loads((DATA / "rear_corner_drill.truth.json").read_text())


@pytest.fixture(scope="module")
def sample() -> Analysis:
    return analyse(CLIP, COURT, RIGHT)


@pytest.fixture(scope="module")
def pairs(sample: Analysis) -> list[tuple[dict, object]]:
    """True ready positions with the found one that overlaps each by at least a half."""
    positions = sample.result.players[0].ready_positions
    return [
        (true, next((p for p in positions if overlap(true, vars(p)) >= 0.5), None))
        for true in TRUTH["ready_positions"]
    ]


def test_every_ready_position_of_the_sample_is_found_and_hardly_another(
    sample: Analysis, pairs: list
) -> None:
    assert all(found is not None for _, found in pairs)
    # Between two strokes the player once stands still for little more than the shortest time that
    # counts.
    matched = [found for _, found in pairs]
    others = [p for p in sample.result.players[0].ready_positions if p not in matched]
    assert len(others) <= 1
    assert all(p.duration_s < 0.35 for p in others)


def test_the_player_is_followed_in_every_frame(sample: Analysis) -> None:
    assert sample.result.players[0].frames_seen == sample.result.clip.frames == 364


def test_all_classes_of_the_sample_but_one_are_right_and_that_is_the_next_one(pairs: list) -> None:
    right = [true["class"] == found.stance_class for true, found in pairs]
    assert sum(right) >= len(right) - 1
    for true, found in pairs:
        if found.stance_class != NOT_ASSESSED:
            assert abs(CLASSES.index(true["class"]) - CLASSES.index(found.stance_class)) <= 1


def test_truths_lie_within_three_standard_errors(pairs: list) -> None:
    for true, found in pairs:
        for name, se in (
            ("hip_yaw_deg", "hip_yaw_se_deg"),
            ("lead_angle_deg", "lead_angle_se_deg"),
            ("foot_stagger_m", "foot_stagger_se_m"),
        ):
            assert abs(true[name] - getattr(found, name)) < 3 * getattr(found, se), name


def test_measures_of_the_sample_are_as_near_as_docs_accuracy_says(pairs: list) -> None:
    def mean_error(name: str) -> float:
        return float(np.mean([abs(true[name] - getattr(found, name)) for true, found in pairs]))

    assert mean_error("lead_angle_deg") < 4.0
    assert mean_error("foot_stagger_m") < 0.04
    assert mean_error("hip_yaw_deg") < 12.0
    assert np.mean([np.hypot(*np.subtract(t["base_m"], f.base_m)) for t, f in pairs]) < 0.08


def test_the_folder_holds_whole_files(sample: Analysis, tmp_path: Path) -> None:
    (tmp_path / "report").mkdir()
    left = tmp_path / "report" / ".result.json.99999999.part"
    left.write_text("what a killed run left")
    write_analysis(sample, CLIP, tmp_path / "report", overlay=True)
    assert not left.exists()
    assert sorted(p.name for p in (tmp_path / "report").iterdir()) == [
        "overlay.mp4",
        "poses.npz",
        "positions.csv",
        "report.html",
        "result.json",
        "strokes.csv",
    ]
    assert read_result(tmp_path / "report").players[0].assessed == sample.result.players[0].assessed
    assert sum(1 for _ in read_frames(tmp_path / "report" / "overlay.mp4")) == 364
    rows = (tmp_path / "report" / "positions.csv").read_text("utf-8-sig").splitlines()
    assert len(rows) == 1 + len(sample.result.players[0].ready_positions)


def refused(*_: object, **__: object) -> None:
    """Stand for work that must not be done."""
    raise AssertionError


def test_a_second_run_needs_neither_the_pictures_nor_the_models(
    sample: Analysis, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_analysis(sample, CLIP, tmp_path)
    monkeypatch.setattr("stance.watching.clip_watching.watch_clip", refused)
    again = analyse(CLIP, COURT, replace(RIGHT, cache_folder=tmp_path))
    assert to_json(again.result) == to_json(sample.result)
    assert all((again.pictures[key] == sample.pictures[key]).all() for key in sample.pictures)


def test_a_second_run_loads_no_library_that_only_watching_needs(
    sample: Analysis, tmp_path: Path
) -> None:
    write_analysis(sample, CLIP, tmp_path)
    code = (
        "import sys; from stance.analysis import analyse; "
        "from stance.assessment.options import AnalysisOptions; "
        "from stance.reports.writing import write_analysis; "
        f"options = AnalysisOptions('right', cache_folder={str(tmp_path)!r}); "
        f"again = analyse({str(CLIP)!r}, {str(COURT)!r}, options); "
        f"write_analysis(again, {str(CLIP)!r}, {str(tmp_path)!r}); "
        "print([m for m in ('mediapipe', 'scipy.optimize', 'scipy.ndimage', 'scipy.cluster', "
        "'scipy.spatial', 'scipy.stats') if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(DATA.parent)},
    )
    assert run.stdout.strip() == "[]"


def test_a_second_run_does_not_search_the_court_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = analyse(CLIP, options=replace(RIGHT, cache_folder=tmp_path))
    assert first.result.court.source == "found"
    assert first.result.court.camera.distortion == first.cameras["A"].distortion != 0.0
    write_analysis(first, CLIP, tmp_path)
    kept = (tmp_path / "poses.npz").stat()
    for work in ("watch_clip", "search_court"):
        monkeypatch.setattr(f"stance.watching.clip_watching.{work}", refused)
    again = analyse(CLIP, options=replace(RIGHT, cache_folder=tmp_path))
    assert to_json(again.result) == to_json(first.result)
    write_analysis(again, CLIP, tmp_path)
    assert (tmp_path / "poses.npz").stat().st_ino == kept.st_ino


def test_key_pictures_show_their_frame_where_the_clip_does_not_start_at_zero(
    tmp_path: Path,
) -> None:
    shifted = tmp_path / "shifted.mp4"
    write_shifted(shifted, DATA / "pair.mp4", 100.0)
    analysis = analyse(shifted, DATA / "pair.court.json", RIGHT)
    crops = {
        frame: crop
        for player in analysis.watched_clip.players
        for frame, crop in player.key_crops.items()
    }
    positions = [p for player in analysis.result.players for p in player.ready_positions]
    assert positions and {p.key_frame for p in positions} <= crops.keys()
    assert min(p.start_s for p in positions) < 0.1
    # Which frame of the clip as it was each crop resembles most.
    unlike = {
        frame.index: {key: _unlike(crop, frame) for key, crop in crops.items()}
        for frame in read_frames(DATA / "pair.mp4")
    }
    for key in crops:
        assert min(unlike, key=lambda index: unlike[index][key]) == key


def _unlike(crop: CompressedCrop, frame: Frame) -> float:
    """How much a crop differs from the same part of a frame, levels of 256."""
    height, width = crop.image.shape[:2]
    part = frame.crop(crop.x, crop.y, crop.x + width, crop.y + height)
    return float(np.abs(crop.image.astype(int) - part).mean())


def test_the_result_does_not_depend_on_the_number_of_workers(sample: Analysis) -> None:
    assert to_json(analyse(CLIP, COURT, replace(RIGHT, workers=1)).result) == to_json(sample.result)


def test_a_player_who_is_not_there_is_refused(sample: Analysis, tmp_path: Path) -> None:
    write_analysis(sample, CLIP, tmp_path)
    with pytest.raises(InputError, match="no player B"):
        analyse(CLIP, COURT, replace(RIGHT, cache_folder=tmp_path, player="B"))


def test_a_real_person_is_found_in_every_frame_without_a_court() -> None:
    # Pose2Sim's demo recording (D. Pagnon et al., BSD-3), camera 3.
    result = analyse(video(2), options=RIGHT).result
    assert result.clip.frames == 100
    assert result.players[0].frames_seen == 100
    assert result.court.source == "assumed" and result.filming is None
    assert "court_assumed" in [w.code for w in result.warnings]


def test_without_a_court_a_class_is_given_only_where_it_is_said_where_the_phone_stood() -> None:
    said = analyse(video(2), options=replace(RIGHT, filmed_from="front")).result
    silent = analyse(video(2), options=RIGHT).result
    assert silent.court.filmed_from is None and said.court.filmed_from == "front"
    for position in silent.players[0].ready_positions:
        assert position.stance_class == NOT_ASSESSED and np.isnan(position.lead_angle_deg)
    for position in said.players[0].ready_positions:
        assert NET_UNKNOWN in position.remarks or position.hip_yaw_se_deg > 15
        assert np.isnan(position.base_m).all()


@pytest.fixture
def moved_court(tmp_path: Path) -> Path:
    """A court file of the sample from before the phone was turned a little."""
    court = json.loads(COURT.read_text())
    court["points"] = [
        {"court": point["court"], "pixel": [x + 40.0, y + 5.0]}
        for point in court["points"]
        for x, y in [point["pixel"]]
        if x + 40.0 < court["image_size"][0] and y + 5.0 < court["image_size"][1]
    ]
    file = tmp_path / "moved.court.json"
    file.write_text(json.dumps(court))
    return file


def test_a_court_file_from_before_the_phone_was_moved_is_replaced_by_the_found_court(
    sample: Analysis, moved_court: Path, tmp_path: Path
) -> None:
    analysis = analyse(CLIP, moved_court, RIGHT)
    assert analysis.result.court.source == "found"
    assert {"court_file_replaced", "court_found"} <= {n.code for n in analysis.result.warnings}
    (player,), (right,) = analysis.result.players, sample.result.players
    # The one short stand between strokes may count with one court and not with the other.
    classes, marked = (
        [p.stance_class for p in who.ready_positions if p.duration_s > 0.35]
        for who in (player, right)
    )
    assert classes == marked
    write_analysis(analysis, CLIP, tmp_path, overlay=False)
    again = analyse(CLIP, moved_court, replace(RIGHT, cache_folder=tmp_path))
    assert again.cached_in == tmp_path and to_json(again.result) == to_json(analysis.result)


def test_a_court_file_that_does_not_fit_is_refused_where_the_court_is_not_found(
    moved_court: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "stance.watching.court_place.find_court", lambda *_: FoundCourt(None, 0.0, "Not found.")
    )
    with pytest.raises(InputError, match="does not fit this clip"):
        analyse(CLIP, moved_court, RIGHT)


def test_a_swaying_camera_measures_what_one_at_rest_does(tmp_path: Path) -> None:
    clip, size = tmp_path / "sway.mp4", (1120, 560)
    sway = Sway((0.8, 0.6, 0.4), seed=2)
    # Knocked at the end, which ends the measured part.
    changes = write_moved(clip, lambda t: turned(4, 0, 0) if t > 7.5 else sway.turn(t), seconds=9.0)
    motion, *_ = estimate_camera_motions(clip, size)
    court = json.loads(COURT.read_text())
    points = []
    for point in court["points"]:
        shown = changes[motion.reference_frame] @ [*(np.array(point["pixel"]) - MARGIN), 1.0]
        pixel = shown[:2] / shown[2]
        if (pixel > 0).all() and (pixel < size).all():
            points.append({"court": point["court"], "pixel": pixel.tolist()})
    file = tmp_path / "sway.court.json"
    file.write_text(json.dumps(court | {"image_size": list(size), "points": points}))
    analysis = analyse(clip, file, RIGHT)
    assert {"camera_sways", "camera_moved"} <= {n.code for n in analysis.result.warnings}
    wanted = [t for t in TRUTH["ready_positions"] if t["end_s"] < 6.5]
    found = analysis.result.players[0].ready_positions
    assert len(wanted) >= 3 and all(p.end_s < 7.6 for p in found)
    for true in wanted:
        position = min(found, key=lambda p: abs(p.start_s - true["start_s"]))
        np.testing.assert_allclose(position.base_m, true["base_m"], atol=0.1)
        assert position.stance_class == true["class"]
