"""One pass over a clip ends where the camera turns out not to stand."""

from pathlib import Path

import pytest

from stance.watching.options import ClipContext, WatchOptions
from stance.watching.pipeline import CameraMoved, watch
from tests.evaluation.camera_motion import turned, write_moved


def test_a_camera_that_is_taken_to_stand_and_moves_is_told(tmp_path: Path) -> None:
    clip, size = tmp_path / "knock.mp4", (1120, 560)
    frames = write_moved(clip, lambda t: turned(6 * (t > 0.5), 0, 0), seconds=1.5, size=size)
    with pytest.raises(CameraMoved):
        watch(ClipContext(clip, size, len(frames)), options=WatchOptions(hand="right"))
