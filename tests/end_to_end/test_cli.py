"""The command line, run as a coach runs it: in a process of its own, on real files."""

import json
import signal
import subprocess
import time
from pathlib import Path

import pytest

from tests.end_to_end.clips import make_clip
from tests.end_to_end.command import ENVIRONMENT, list_command, run_stance
from tests.paths import SAMPLE_CLIPS

SAMPLE = SAMPLE_CLIPS / "rear_corner_rally.mp4"
COURT = SAMPLE_CLIPS / "rear_corner_rally.court.json"


def refused(code: int, *arguments: str | Path, cwd: Path) -> str:
    """Run the command, which must fail with one plain sentence and write nothing."""
    before = sorted(p.name for p in cwd.iterdir())
    run = run_stance(*arguments, cwd=cwd)
    assert run.returncode == code, run.stderr
    assert "Traceback" not in run.stderr
    assert run.stdout == ""
    assert sorted(p.name for p in cwd.iterdir()) == before
    assert run.stderr.strip().endswith(".")
    return run.stderr


@pytest.mark.parametrize("arguments", [("--help",), ("analyse", "--help"), ("--version",)])
def test_help_and_version_are_printed(arguments: tuple[str, ...]) -> None:
    run = run_stance(*arguments)
    assert run.returncode == 0 and run.stderr == ""
    assert "stance " in run.stdout


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
    run = run_stance("analyse", clip, "--json", "--no-overlay", cwd=tmp_path)
    assert run.returncode == 4
    written = json.loads((tmp_path / "hall_stance" / "result.json").read_text())
    assert json.loads(run.stdout) == written
    assert written["players"] == []
    assert "no_player" in [w["code"] for w in written["warnings"]]
    assert "No player" in (tmp_path / "hall_stance" / "report.html").read_text()


def test_several_clips_are_analysed_without_a_command_and_each_gets_its_folder(
    tmp_path: Path,
) -> None:
    clips = [make_clip(tmp_path / f"{name}.mp4", 3) for name in ("one", "two")]
    run = run_stance(clips[0], tmp_path / "none.mp4", clips[1], "--no-overlay", cwd=tmp_path)
    assert run.returncode == 3 and "There is no file" in run.stderr
    for clip in clips:
        assert (tmp_path / f"{clip.stem}_stance" / "report.html").is_file()
        assert f"{clip}: nothing to assess" in run.stdout
    assert "0 of 3 clips measured:" in run.stdout and not (tmp_path / "none_stance").exists()


def test_name_date_and_session_are_kept_in_the_result(tmp_path: Path) -> None:
    clip = make_clip(tmp_path / "hall.mp4", 3)
    assert "year-month-day" in run_stance("analyse", clip, "--date", "14.3.", cwd=tmp_path).stderr
    run_stance(
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
        list_command("analyse", SAMPLE, "--court", COURT, "--out", folder),
        cwd=tmp_path,
        stderr=subprocess.PIPE,
        text=True,
        env=ENVIRONMENT,
    )
    time.sleep(4.0)
    run.send_signal(signal.SIGINT)
    _, messages = run.communicate(timeout=30)
    assert run.returncode == 130
    assert "Traceback" not in messages
    assert [p.name for p in folder.iterdir()] == ["result.json"]
    assert (folder / "result.json").read_text() == "earlier"
