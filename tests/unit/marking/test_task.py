"""What is marked: the command that comes next names the clip, and the court file where it must."""

from pathlib import Path

import numpy as np
import pytest

from stance.marking.task import MarkingTask

PICTURE = np.zeros((72, 128, 3), np.uint8)


@pytest.mark.parametrize(
    ("court_file", "command"),
    [
        ("clips/my drill.court.json", "stance analyse 'clips/my drill.mp4'"),
        ("hall.court.json", "stance analyse 'clips/my drill.mp4' --court hall.court.json"),
    ],
)
def test_the_next_command_can_be_pasted(court_file, command, monkeypatch):
    monkeypatch.setattr("sys.platform", "linux")
    task = MarkingTask(Path("clips/my drill.mp4"), PICTURE, Path(court_file))
    assert task.next_command == command
