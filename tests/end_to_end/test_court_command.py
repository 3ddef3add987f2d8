"""`stance court`, run as a coach runs it: the check, the page's server, and what is refused."""

import http.client
import json
import os
import shlex
import signal
import subprocess
import sys
import time
from urllib.parse import urlsplit

import pytest
from PIL import Image

from stance.court.court_file import read_court_file
from stance.errors import InputError
from stance.marking.check import draw_court_check
from stance.marking.task import prepare_marking
from tests.end_to_end.clips import make_clip
from tests.paths import DATA, ROOT

CLIP = DATA / "rear_corner_drill.mp4"
COURT = DATA / "rear_corner_drill.court.json"
SIZE = (1280, 720)


def stance(*arguments, cwd):
    return subprocess.run(
        [sys.executable, "-m", "stance", *map(str, arguments)],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def test_a_check_draws_the_court_and_prints_its_error(tmp_path):
    run = stance("court", CLIP, "--check", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "error 0.6 pixels" in run.stdout
    drawn = Image.open(tmp_path / "rear_corner_drill_court.png")
    assert drawn.size == SIZE
    assert [p.name for p in tmp_path.iterdir()] == ["rear_corner_drill_court.png"]


def test_what_cannot_be_checked_or_marked_is_refused(tmp_path):
    with pytest.raises(InputError, match="no court file"):
        draw_court_check(CLIP, tmp_path / "none.court.json", tmp_path / "x.png")
    hall = make_clip(tmp_path / "hall.mp4")
    with pytest.raises(InputError, match="Or mark it with"):
        draw_court_check(hall, None, tmp_path / "x.png")
    assert prepare_marking(hall, tmp_path / "hall.court.json").start is None
    other = tmp_path / "drill.court.json"
    other.write_text("{}")
    with pytest.raises(InputError, match="overwritten"):
        prepare_marking(CLIP, other)
    assert stance("court", CLIP, "--court", COURT, cwd=tmp_path).returncode == 2
    assert stance("court", tmp_path / "none.mp4", cwd=tmp_path).returncode == 3
    assert other.read_text() == "{}"


def test_the_command_serves_saves_and_ends(tmp_path):
    out = tmp_path / "new.court.json"
    run = subprocess.Popen(
        [sys.executable, "-u", "-m", "stance", "court", CLIP, "--out", out, "--no-browser"],
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    address = next(
        word for line in run.stderr for word in line.split() if word.startswith("http://")
    )
    parts = urlsplit(address)
    for part, body in (("save", {"points": json.loads(COURT.read_text())["points"]}), ("done", {})):
        connection = http.client.HTTPConnection(parts.hostname, parts.port, timeout=10)
        connection.request("POST", parts.path + part, json.dumps(body))
        assert json.loads(connection.getresponse().read())["ok"]
        connection.close()
    output, _ = run.communicate(timeout=20)
    assert run.returncode == 0
    assert (
        output
        == f"Saved: {out}\nNext: {shlex.join(('stance', 'analyse', str(CLIP)))} --court {out}\n"
    )
    read_court_file(out, SIZE)


def test_ctrl_c_ends_without_a_file(tmp_path):
    out = tmp_path / "new.court.json"
    run = subprocess.Popen(
        [sys.executable, "-u", "-m", "stance", "court", CLIP, "--out", out, "--no-browser"],
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )
    for line in run.stderr:
        if "http://" in line:
            break
    time.sleep(0.3)
    run.send_signal(signal.SIGINT)
    _, messages = run.communicate(timeout=20)
    assert run.returncode == 130 and "Traceback" not in messages and not out.exists()
