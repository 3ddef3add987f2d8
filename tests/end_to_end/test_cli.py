"""The command line, run as a coach runs it: in a process of its own, on real files."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from stance.video.writer import VideoWriter
from tests.paths import ROOT

SAMPLE = ROOT / "sample_clips" / "rear_corner_drill.mp4"
COURT = ROOT / "sample_clips" / "rear_corner_drill.court.json"


def stance(*arguments: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command."""
    return subprocess.run(
        [sys.executable, "-m", "stance", *map(str, arguments)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def refused(code: int, *arguments: str | Path, cwd: Path) -> str:
    """Run the command, which must fail with one plain sentence and write nothing."""
    before = sorted(p.name for p in cwd.iterdir())
    run = stance(*arguments, cwd=cwd)
    assert run.returncode == code, run.stderr
    assert "Traceback" not in run.stderr
    assert run.stdout == ""
    assert sorted(p.name for p in cwd.iterdir()) == before
    assert run.stderr.strip().endswith(".")
    return run.stderr


def make_clip(path: Path, frames: int = 20, size: tuple[int, int] = (320, 240)) -> Path:
    """A clip of an empty hall."""
    width, height = size
    picture = np.full((height, width, 3), 90, np.uint8)
    picture[height // 2 :] = (60, 120, 70)
    with VideoWriter(path, size, 30.0) as writer:
        for i in range(frames):
            writer.write(picture, i / 30.0)
    return path


@pytest.mark.parametrize("arguments", [(), ("--help",), ("analyse", "--help")])
def test_help_speaks_of_clips_and_courts(arguments: tuple[str, ...]) -> None:
    run = stance(*arguments)
    assert "clip" in (run.stdout + run.stderr).lower()
    assert "Traceback" not in run.stderr


def test_help_loads_no_heavy_library() -> None:
    code = (
        "import sys, stance.cli; "
        "print([m for m in ('cv2', 'av', 'mediapipe', 'scipy', 'numpy', 'jinja2') "
        "if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    assert run.stdout.strip() == "[]"


def test_wrong_use_of_the_command_line_is_exit_code_2(tmp_path: Path) -> None:
    assert stance("analyse", cwd=tmp_path).returncode == 2
    assert stance("analyse", "a.mp4", "--hand", "both", cwd=tmp_path).returncode == 2


@pytest.mark.parametrize(
    ("content", "word"), [(None, "no file"), (b"", "empty"), (b"no video at all" * 99, "video")]
)
def test_what_is_no_clip_is_refused_with_a_sentence(
    tmp_path: Path, content: bytes | None, word: str
) -> None:
    clip = tmp_path / "drill.mp4"
    if content is not None:
        clip.write_bytes(content)
    assert word in refused(3, "analyse", clip, cwd=tmp_path).lower()


def test_a_folder_and_a_one_frame_clip_are_refused(tmp_path: Path) -> None:
    assert "folder" in refused(3, "analyse", tmp_path, cwd=tmp_path)
    assert "frame" in refused(3, "analyse", make_clip(tmp_path / "one.mp4", 1), cwd=tmp_path)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"image_size": [640, 480]}, "640"),
        ({"points": [{"court": [0, -3], "pixel": [5, 5]}] * 3}, "four"),
        ({"points": [{"court": [float("nan"), -3], "pixel": [5, 5]}] * 5}, "number"),
        ({"schema": "something-else/1"}, "stance-court/1"),
    ],
)
def test_a_wrong_court_file_is_refused_with_a_sentence(
    tmp_path: Path, change: dict[str, object], word: str
) -> None:
    clip = make_clip(tmp_path / "drill.mp4")
    court = {
        "schema": "stance-court/1",
        "image_size": [320, 240],
        "points": [
            {"court": [x, y], "pixel": [160 + 40 * x, 200 + 12 * y]}
            for x, y in ((-3, -6), (3, -6), (3, -2), (-3, -2))
        ],
    } | change
    path = tmp_path / "court.json"
    path.write_text(json.dumps(court))
    assert word in refused(3, "analyse", clip, "--court", path, cwd=tmp_path)


def test_a_mirrored_court_file_is_refused(tmp_path: Path) -> None:
    court = json.loads(COURT.read_text())
    for point in court["points"]:
        point["court"][0] *= -1
    path = tmp_path / "court.json"
    path.write_text(json.dumps(court))
    sentence = refused(3, "analyse", SAMPLE, "--court", path, cwd=tmp_path)
    assert "left" in sentence and "right" in sentence


def test_nobody_in_the_clip_is_exit_code_4_and_the_result_says_why(tmp_path: Path) -> None:
    clip = make_clip(tmp_path / "hall.mp4")
    run = stance("analyse", clip, "--json", "--no-overlay", cwd=tmp_path)
    assert run.returncode == 4
    written = json.loads((tmp_path / "hall_stance" / "result.json").read_text())
    assert json.loads(run.stdout) == written
    assert written["players"] == []
    assert "no_player" in [w["code"] for w in written["warnings"]]
    assert "No player" in (tmp_path / "hall_stance" / "report.html").read_text()


def test_name_date_and_session_are_kept_in_the_result(tmp_path: Path) -> None:
    clip = make_clip(tmp_path / "hall.mp4", 3)
    assert "year-month-day" in stance("analyse", clip, "--date", "14.3.", cwd=tmp_path).stderr
    stance(
        "analyse",
        clip,
        "--date",
        "2026-03-14",
        "--session",
        "week 3",
        "--name",
        "J-07",
        "--no-overlay",
        cwd=tmp_path,
    )
    written = json.loads((tmp_path / "hall_stance" / "result.json").read_text())
    assert (written["date"], written["session"]) == ("2026-03-14", "week 3")
    assert written["filming"]["view"] == "unknown"


def test_a_folder_that_cannot_be_made_is_refused_before_the_work(tmp_path: Path) -> None:
    clip = make_clip(tmp_path / "hall.mp4")
    (tmp_path / "taken").write_text("a file")
    assert "taken" in refused(
        3, "analyse", clip, "--out", tmp_path / "taken" / "report", cwd=tmp_path
    )
    assert "taken" in refused(3, "analyse", clip, "--out", tmp_path / "taken", cwd=tmp_path)


def test_ctrl_c_leaves_what_was_there(tmp_path: Path) -> None:
    folder = tmp_path / "report"
    folder.mkdir()
    (folder / "result.json").write_text("earlier")
    run = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "stance",
            "analyse",
            str(SAMPLE),
            "--court",
            str(COURT),
            "--out",
            str(folder),
        ],
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    time.sleep(4.0)
    run.send_signal(signal.SIGINT)
    _, messages = run.communicate(timeout=30)
    assert run.returncode == 130
    assert "Traceback" not in messages
    assert [p.name for p in folder.iterdir()] == ["result.json"]
    assert (folder / "result.json").read_text() == "earlier"
