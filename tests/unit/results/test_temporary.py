"""Temporary files are their owner's alone, and what killed processes left is swept."""

import os
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from stance.errors import OutputError
from stance.results.files import write_files
from stance.results.temporary import (
    name_temporary,
    open_private,
    sweep_leftovers,
    temporary_folder,
)

needs_unix = pytest.mark.skipif(sys.platform == "win32", reason="modes and processes are Unix's")


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@needs_unix
def test_what_is_written_is_for_its_owner_alone(tmp_path):
    write_files(tmp_path / "new" / "folder", {"result.json": "{}"})
    with open_private(tmp_path / "video.mp4") as file:
        file.write(b"1")
    with temporary_folder(tmp_path / "store") as folder:
        assert mode(folder) == mode(tmp_path / "store") == 0o700
    assert mode(tmp_path / "new" / "folder") == 0o700
    assert mode(tmp_path / "new" / "folder" / "result.json") == 0o600
    assert mode(tmp_path / "video.mp4") == 0o600


@needs_unix
def test_what_a_killed_process_left_is_swept_and_all_else_stays(tmp_path):
    leave = (
        "import os, sys; from pathlib import Path; from stance.results.temporary import *;"
        "place = Path(sys.argv[1]); open_private(place / name_temporary('result.json'));"
        "(place / name_temporary('kept')).mkdir();"
        "context = temporary_folder(place); (context.__enter__() / 'a.jpg').touch(); os._exit(9)"
    )
    subprocess.run([sys.executable, "-c", leave, tmp_path], check=False)
    assert len(list(tmp_path.iterdir())) == 3
    own = {name_temporary("overlay.mp4"), "result.json", ".hidden", ".notes.part", "a.1.part"}
    for name in own:
        (tmp_path / name).touch()
    sweep_leftovers(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == own


@pytest.mark.skipif(sys.platform != "linux", reason="other systems do not list semaphores")
def test_semaphores_of_a_killed_process_are_swept_with_its_folder(tmp_path):
    leave = (
        "import os, sys; from pathlib import Path; from _multiprocessing import SemLock;"
        "from stance.results.temporary import *;"
        "context = temporary_folder(Path(sys.argv[1])); context.__enter__();"
        "SemLock(1, 1, 1, f'/loky-{os.getpid()}-a', False); print(os.getpid(), flush=True);"
    )
    end = subprocess.run(
        [sys.executable, "-c", leave + "os._exit(9)", tmp_path], capture_output=True
    )
    semaphore = Path(f"/dev/shm/sem.loky-{int(end.stdout)}-a")
    assert semaphore.exists()
    wait = [sys.executable, "-c", leave + "sys.stdin.read()", tmp_path / "running"]
    with subprocess.Popen(wait, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as running:
        process = int(running.stdout.readline())
        kept = Path(f"/dev/shm/sem.loky-{process}-a")
        sweep_leftovers(tmp_path)
        sweep_leftovers(tmp_path / "running")
        assert not semaphore.exists()
        assert kept.exists()
    kept.unlink()


def test_what_has_the_number_of_a_running_process_is_swept_a_day_later(tmp_path):
    file = tmp_path / name_temporary("result.json")
    file.touch()
    os.utime(file, (time.time() - 90_000,) * 2)
    sweep_leftovers(tmp_path)
    assert not file.exists()


def test_a_folder_that_is_not_there_is_swept_in_silence(tmp_path):
    sweep_leftovers(tmp_path / "none")


def test_a_folder_that_cannot_be_made_gets_a_sentence(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(OutputError, match="make room"), temporary_folder(tmp_path / "file" / "x"):
        pass
