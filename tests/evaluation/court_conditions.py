"""What can be wrong with a clip's court: files of rendered clips, spoilt in known ways.

Of each clip some seconds are cut out in which the defender stands ready most often. Its lines are
painted over, its picture jumps, its court file is that of a phone that was moved afterwards, or
another clip's.
"""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np

from stance.court.camera import project
from stance.court.dimensions import court_lines
from stance.types import FloatArray, ImageArray
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter
from tests.evaluation.accuracy import true_camera
from tests.rendering.play.sound import RATE, add_sound

EXCERPT_S = 4.0
# After which part of an excerpt its picture jumps: 2 s of a camera that stands are measured, less
# what is near the jump.
JUMP = 0.8
_BEFORE_S = 0.4
_CRF = 18.0
# What is painted over: lines and so much beside them, metres; and how much a picture may differ
# there from what stands still without showing somebody, of 255.
_BESIDE_M, _SAME = 0.03, 24


@dataclass(frozen=True)
class Excerpt:
    """Some seconds of a rendered clip.

    Attributes
    ----------
    name
        of the clip
    video, painted_over, knocked
        files: as it is, with no line of its court to be seen, with a picture that jumps
    truth
        of the whole clip
    court
        content of its court file
    first_frame
        of the whole clip in which the excerpt begins
    """

    name: str
    video: Path
    painted_over: Path
    knocked: Path
    truth: dict[str, Any]
    court: dict[str, Any]
    first_frame: int


def cut_excerpt(clip: Path, folder: Path) -> Excerpt:
    """Cut the excerpt of a rendered clip, and spoil it, unless that is done.

    Parameters
    ----------
    clip
        with its truth and court file beside it
    folder
        for the files that are made
    """
    truth = json.loads(clip.with_suffix(".truth.json").read_text())
    court = json.loads(clip.with_suffix(".court.json").read_text())
    rate = truth["frame_rate"]
    first = round(_find_start(truth) * rate)
    excerpt = Excerpt(
        clip.stem,
        *(folder / f"{clip.stem}{end}.mp4" for end in ("", ".painted_over", ".knocked")),
        truth,
        court,
        first,
    )
    missing = [p for p in (excerpt.video, excerpt.painted_over, excerpt.knocked) if not p.exists()]
    if missing:
        end = first + round(EXCERPT_S * rate)
        pictures = [f.image for f in read_frames(clip) if first <= f.index < end]
        sound = _read_sound(clip, first / rate)
        for path in missing:
            changed: Iterable[ImageArray] = pictures
            if path == excerpt.painted_over:
                changed = map(_prepare_paint(pictures, truth), pictures)
            elif path == excerpt.knocked:
                changed = _knock(pictures, np.random.default_rng(first))
            _write_video(path, iter(changed), rate)
            if sound.size:
                add_sound(path, sound)
    return excerpt


def draw_shift(rng: np.random.Generator, size: tuple[int, int]) -> FloatArray:
    """How a picture lies after its phone was moved, at random: shifted, rolled and zoomed, (2, 3).

    Shifted by a hundredth to a tenth of the long side, about evenly in its logarithm.
    """
    away = max(size) * 10 ** rng.uniform(-2.0, -1.0)
    towards = rng.uniform(0.0, 2 * np.pi)
    shift = _turn(size, rng.normal(0.0, 1.5), np.exp(rng.normal(0.0, 0.04)))
    shift[:, 2] += away * np.array([np.cos(towards), np.sin(towards)])
    return shift


def draw_roll(rng: np.random.Generator, size: tuple[int, int]) -> FloatArray:
    """How a picture lies after its phone was rolled by one degree, (2, 3)."""
    return _turn(size, float(rng.choice((-1.0, 1.0))), 1.0)


def move_marks(court: dict[str, Any], shift: FloatArray) -> dict[str, Any]:
    """The court file of a phone that was moved after its court was marked.

    Parameters
    ----------
    court
        content of the clip's own court file
    shift
        (2, 3) from the picture that was marked to the clip's
    """
    back = cv2.invertAffineTransform(shift)
    points = [
        {**point, "pixel": (back @ [*point["pixel"], 1.0]).tolist()} for point in court["points"]
    ]
    size = np.array(court["image_size"])
    inside = [p for p in points if (np.clip(p["pixel"], 0, size) == p["pixel"]).all()]
    return {**court, "points": inside}


def resize_marks(court: dict[str, Any], size: Sequence[int]) -> dict[str, Any]:
    """A court file as if its picture had another size."""
    grow = np.array(size) / court["image_size"]
    points = [{**p, "pixel": (grow * p["pixel"]).tolist()} for p in court["points"]]
    return {**court, "image_size": list(size), "points": points}


def _find_start(truth: dict[str, Any]) -> float:
    """From when on the defender stands ready most often, seconds."""
    spells = truth["ready_positions"]
    end_s = len(truth["joints"]) / truth["frame_rate"]
    starts = [max(0.0, min(s["start_s"] - _BEFORE_S, end_s - EXCERPT_S)) for s in spells]

    def count(start: float) -> int:
        return sum(start <= s["start_s"] and s["end_s"] <= start + EXCERPT_S for s in spells)

    return max(starts, key=count, default=0.0)


def _knock(pictures: Sequence[ImageArray], rng: np.random.Generator) -> Iterator[ImageArray]:
    """Pictures of a phone that is moved at one moment."""
    height, width = pictures[0].shape[:2]
    shift = draw_shift(rng, (width, height))
    for number, picture in enumerate(pictures):
        yield picture if number < JUMP * len(pictures) else _warp(picture, shift)


def _read_sound(clip: Path, start_s: float) -> FloatArray:
    """The excerpt's sound, (samples,); empty where the clip has none."""
    with av.open(str(clip)) as source:
        if not source.streams.audio:
            return np.empty(0)
        change = av.AudioResampler(format="flt", layout="mono", rate=RATE)
        parts = [
            part.to_ndarray().ravel()
            for frame in source.decode(audio=0)
            for part in change.resample(frame)
        ]
    begin = round(start_s * RATE)
    return np.concatenate(parts)[begin : begin + round(EXCERPT_S * RATE)].astype(float)


def _write_video(path: Path, pictures: Iterator[ImageArray], rate: float) -> None:
    first = next(pictures)
    with VideoWriter(path, (first.shape[1], first.shape[0]), rate, crf=_CRF) as video:
        video.write(first, 0.0)
        for number, picture in enumerate(pictures, 1):
            video.write(picture, number / rate)


def _prepare_paint(
    pictures: Sequence[ImageArray], truth: dict[str, Any]
) -> Callable[[ImageArray], ImageArray]:
    """A change of pictures after which the court's lines are floor; who stands on them stays."""
    still = np.median(pictures[:: max(1, len(pictures) // 15)], axis=0).astype(np.uint8)
    lines = np.zeros(still.shape[:2], np.uint8)
    camera = true_camera(truth)
    for line in court_lines():
        # In short pieces: a line may begin behind the camera.
        steps = [
            np.linspace(low - _BESIDE_M, high + _BESIDE_M, max(2, round((high - low) / 0.2)))
            for low, high in (line.x, line.y)
        ]
        grid = np.stack(np.meshgrid(*steps, [0.0], indexing="ij"), axis=-1)[:, :, 0]
        with np.errstate(invalid="ignore"):
            shown = project(camera, grid.reshape(-1, 3)).reshape(*grid.shape[:2], 2)
        for i in range(len(steps[0]) - 1):
            for j in range(len(steps[1]) - 1):
                corners = shown[[i, i + 1, i + 1, i], [j, j, j + 1, j + 1]]
                if np.isfinite(corners).all() and (np.abs(corners) < 3 * max(still.shape)).all():
                    cv2.fillConvexPoly(lines, corners.round().astype(np.int32), 1)
    lines = cv2.dilate(lines, np.ones((3, 3), np.uint8))
    floor = cv2.inpaint(still, lines, 5, cv2.INPAINT_TELEA)

    def paint(picture: ImageArray) -> ImageArray:
        nobody = cv2.absdiff(picture, still).max(axis=2) < _SAME
        return np.where((nobody & (lines > 0))[:, :, None], floor, picture)

    return paint


def _turn(size: tuple[int, int], degrees: float, zoom: float) -> FloatArray:
    """A roll and zoom about a picture's middle, (2, 3)."""
    return np.asarray(cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), degrees, zoom))


def _warp(picture: ImageArray, shift: FloatArray) -> ImageArray:
    size = (picture.shape[1], picture.shape[0])
    return np.asarray(
        cv2.warpAffine(picture, shift, size, borderMode=cv2.BORDER_REPLICATE), np.uint8
    )
