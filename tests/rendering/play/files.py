"""The files of a clip of play: video with sound, truth, court, joints."""

import json
from pathlib import Path
from typing import Any

import numpy as np

from stance.video.writer import VideoWriter
from tests.rendering.frames import frames
from tests.rendering.marked_court import marked_court
from tests.rendering.play.clip import Play, play_clip
from tests.rendering.play.sound import add_sound, draw_sound
from tests.rendering.play.truth import play_arrays, play_truth

MARKS_PX = 0.7


def write_play(play: Play, folder: Path, name: str, crf: float | None = None) -> None:
    """Write NAME.mp4, NAME.truth.json, NAME.court.json and NAME.joints.npz into a folder.

    The video is compressed as drawn for the clip, or by a constant rate factor that is given.
    """
    write_motion(play, folder, name)
    clip = play_clip(play)
    path = folder / f"{name}.mp4"
    with VideoWriter(path, clip.camera.size, clip.frame_rate, crf=crf or clip.finish.crf) as video:
        for image, time_s in zip(frames(clip), clip.frame_times, strict=True):
            video.write(image, float(time_s))
    if not play.silent:
        add_sound(path, draw_sound(play))
    court = marked_court(clip, MARKS_PX * clip.camera.size[0] / 1280, clip.seed)
    _write_json(folder / f"{name}.court.json", court)


def write_motion(play: Play, folder: Path, name: str) -> None:
    """Write NAME.truth.json and NAME.joints.npz into a folder: all that needs no picture."""
    folder.mkdir(parents=True, exist_ok=True)
    _write_json(folder / f"{name}.truth.json", play_truth(play))
    np.savez_compressed(folder / f"{name}.joints.npz", **play_arrays(play))


def _write_json(path: Path, content: dict[str, Any]) -> None:
    path.write_text(json.dumps(content) + "\n", encoding="utf-8")
