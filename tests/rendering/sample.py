"""The sample clip in sample_clips/: an invented rally, seen from the rear corner."""

from pathlib import Path

from tests.rendering.play.clip import Options, Play, draw_play
from tests.rendering.play.files import write_play

NAME = "rear_corner_rally"
SEED = 5053
OPTIONS = Options(view="corner", size=(1280, 720), frame_rate=30.0, strokes=7)
# Larger than what is drawn for other clips: the file stays under a megabyte.
COMPRESSION = 30.0


def sample_play() -> Play:
    """The rally: a left-hander faces a serve and six strokes, the last but one on the move."""
    return draw_play(SEED, "test", OPTIONS)


def write_sample(folder: Path) -> None:
    """Write the sample clip, its court file and its truth."""
    write_play(sample_play(), folder, NAME, COMPRESSION)
    (folder / f"{NAME}.joints.npz").unlink()
