"""What is put aside comes back as it was; where it cannot be written, the coach is told why."""

import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from stance.errors import OutputError
from stance.runtime.spill_file import SpillFile


def test_what_threads_put_aside_at_the_same_time_comes_back_as_it_was() -> None:
    things = [np.full(number, number) for number in range(500)]
    with SpillFile() as aside, ThreadPoolExecutor(4) as threads:
        places = list(threads.map(aside.put, things))
        back = list(threads.map(aside.get, places))
    assert len(set(places)) == 500
    assert all(np.array_equal(one, two) for one, two in zip(back, things, strict=True))


def test_what_is_put_aside_later_leaves_what_was_as_it_is() -> None:
    with SpillFile() as aside:
        first = aside.put({"half": "near"})
        assert aside.get(first) == {"half": "near"}
        second = aside.put(["a long story"] * 1000)
        assert aside.get(first) == {"half": "near"}
        assert len(aside.get(second)) == 1000


@pytest.mark.parametrize("told", [True, False])
def test_a_coach_is_told_where_there_is_no_folder_to_put_things(
    told: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    missing = str(tmp_path / "missing")
    monkeypatch.setattr(tempfile, "tempdir", missing if told else None)
    monkeypatch.setattr(tempfile, "_candidate_tempdir_list", lambda: [missing])
    with pytest.raises(OutputError, match=r"can't be used \(No .* Make room on the disk"):
        SpillFile()


def test_a_coach_is_told_where_a_disk_is_full(monkeypatch: pytest.MonkeyPatch) -> None:
    class FullDisk(tempfile.SpooledTemporaryFile):  # type: ignore[type-arg]
        def write(self, data):
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(tempfile, "TemporaryFile", FullDisk)
    with SpillFile() as aside, pytest.raises(OutputError, match="No space left on device"):
        aside.put(np.zeros(100_000))
