"""Analyses of many clips, kept one by one so that a stopped run goes on where it was.

An analysis is kept under a checksum of clip, court file and the tool's own source
(`stance.academy.result_store`), so it never outlives a change of the tool.
"""

import argparse
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TypeVar

import msgspec
import numpy as np

from stance.academy.result_store import Store, make_key
from stance.analysis import analyse
from stance.assessment.analysis_model import Analysis
from stance.assessment.options import AnalysisOptions
from stance.court.camera import Camera, camera_centre, viewing_ray
from stance.errors import InputError
from stance.people.floor import base_on_floor
from stance.results.json_format import RESULT_FILE, result_text
from stance.results.model import Result
from stance.runtime.regular_files import hash_file
from stance.types import FloatArray

Truth = TypeVar("Truth")
Score = TypeVar("Score")

SEEN_FILE = "seen.json"
# Landmarks of the eyes, and how high these are in parts of the stature (D. A. Winter, Biomechanics
# and Motor Control of Human Movement, 4th edition 2009, figure 4.1, after Drillis and Contini).
EYES = [2, 5]
EYES_OF_STATURE = 0.936
# Who stands tallest is seen in the best of many frames; the very best has errors of the pose.
TALLEST_PERCENTILE = 95


@dataclass(frozen=True)
class Task:
    """One clip to analyse: its court file, None to find the court, and the half to measure."""

    clip: Path
    court: Path | None
    half: str | None


@dataclass(frozen=True)
class Seen:
    """What an evaluation needs beside the result.

    `times` of the clip's frames, seconds; by the player's letter, `places` of the base (time, x,
    y), seconds and metres in the frame of the player's half, and the body's height `heights_m`.
    """

    times: list[float]
    places: dict[str, list[tuple[float, float, float]]]
    heights_m: dict[str, float]


@dataclass(frozen=True)
class KeptAnalysis:
    """The analysis of a clip; both None where the tool refuses the clip, and why."""

    task: Task
    result: Result | None
    seen: Seen | None
    refused: str = ""


def analyse_all(tasks: Sequence[Task], store: Path, jobs: int) -> Iterator[KeptAnalysis]:
    """Analyse clips that are not kept yet, some at a time, in the order of the tasks."""
    with ProcessPoolExecutor(jobs, get_context("spawn")) as pool:
        yield from pool.map(_analyse_or_read, tasks, [store] * len(tasks), [jobs] * len(tasks))


def score_clips(
    tasks: Sequence[Task],
    truths: Sequence[Truth],
    score: Callable[[KeptAnalysis, Truth], Score],
    store: Path,
    arguments: argparse.Namespace,
) -> tuple[list[Score], list[Result | None]]:
    """Score clips one after the other, with what `analysis_arguments` asks for; name each.

    Returns
    -------
    Scores and results of the clips
    """
    scores, results = [], []
    kept = analyse_all(tasks, store, arguments.jobs)
    for truth, analysis in zip(truths, kept, strict=True):
        scores.append(score(analysis, truth))
        results.append(analysis.result)
        print(f"{analysis.task.clip.name} {analysis.refused}", flush=True)
    return scores, results


def analysis_arguments(module: str, description: str) -> argparse.ArgumentParser:
    """A parser with what all commands take that judge many clips."""
    parser = argparse.ArgumentParser(
        prog=f"python -m {module}", description=description.split("\n\n")[0]
    )
    parser.add_argument("--jobs", type=int, default=2, help="clips at a time")
    parser.add_argument("--json", type=Path, help="write the figures into this file too")
    return parser


def body_height_m(camera: Camera, pixels: FloatArray) -> float:
    """The height of a body from when it stands tallest.

    In each frame the middle of the eyes is taken to be above the base; their height there, the
    95th percentile over the frames, is a known part of the stature. Who never stands upright comes
    out too short.

    Parameters
    ----------
    camera
        in the frame of the player's half
    pixels
        (frames, 33, 2) pixels, NaN where not seen
    """
    seen = pixels[np.isfinite(pixels).all(axis=(1, 2))]
    base = base_on_floor(camera, seen)
    centre, ray = camera_centre(camera), viewing_ray(camera, seen[:, EYES].mean(axis=1))
    along = np.sum((base - centre[:2]) * ray[:, :2], axis=1) / np.sum(ray[:, :2] ** 2, axis=1)
    heights = centre[2] + along * ray[:, 2]
    known = heights[np.isfinite(heights)]
    return float(np.percentile(known, TALLEST_PERCENTILE)) / EYES_OF_STATURE if len(known) else 0.0


def _analyse_or_read(task: Task, folder: Path, jobs: int) -> KeptAnalysis:
    """The kept analysis of a clip, or else a new one, which is then kept."""
    store = Store(folder)
    court = None if task.court is None else hash_file(task.court)
    key = make_key(f"{hash_file(task.clip)} {task.half}", court, None)
    result = store.read(key)
    if result is not None:
        text = (store.folder_of(key) / SEEN_FILE).read_bytes()
        return KeptAnalysis(task, result, msgspec.json.decode(text, type=Seen))
    start = time.perf_counter()
    options = AnalysisOptions(half=task.half, workers=1 if jobs > 1 else None)
    try:
        analysis = analyse(task.clip, task.court, options)
    except InputError as problem:
        return KeptAnalysis(task, None, None, str(problem))
    seen = _what_was_seen(analysis)
    files = {
        RESULT_FILE: result_text(analysis.result).encode(),
        SEEN_FILE: msgspec.json.encode(seen),
    }
    store.save(key, files, time.perf_counter() - start)
    return KeptAnalysis(task, analysis.result, seen)


def _what_was_seen(analysis: Analysis) -> Seen:
    places, heights = {}, {}
    for letter, track in analysis.tracks.items():
        camera = analysis.cameras[letter]
        base = base_on_floor(camera, track.pixels)
        rows = np.column_stack([track.times, base])
        places[letter] = [(float(t), float(x), float(y)) for t, x, y in rows if np.isfinite(x + y)]
        heights[letter] = body_height_m(camera, track.pixels)
    return Seen(analysis.watched_clip.times.tolist(), places, heights)
