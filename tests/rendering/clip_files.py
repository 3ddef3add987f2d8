"""The files of a clip: video, truth and court."""

import json
from pathlib import Path
from typing import Any

from stance.video.writer import VideoWriter
from tests.rendering.clips import Clip
from tests.rendering.frames import frames
from tests.rendering.marked_court import marked_court
from tests.rendering.truth import clip_truth


def write_clip(clip: Clip, folder: Path, name: str) -> None:
    """Write NAME.mp4, NAME.truth.json and NAME.court.json into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.mp4"
    with VideoWriter(path, clip.camera.size, clip.frame_rate, crf=clip.finish.crf) as video:
        for image, time_s in zip(frames(clip), clip.frame_times, strict=True):
            video.write(image, float(time_s))
    write_truth(clip, folder, name)


def write_truth(clip: Clip, folder: Path, name: str) -> None:
    """Write NAME.truth.json and NAME.court.json into a folder."""
    _write_json(folder / f"{name}.truth.json", clip_truth(clip))
    _write_json(folder / f"{name}.court.json", marked_court(clip, 0.7, clip.seed))


def _write_json(path: Path, content: dict[str, Any]) -> None:
    path.write_text(json.dumps(content) + "\n", encoding="utf-8")
