"""The whole way of the data: a clip in, a result with its pictures out."""

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.assessment.notices import court_search_notice, nobody_notice
from stance.assessment.players import lettered, measured_player, racket_hands
from stance.camera_motion.background import quick_pictures, still_pictures, without_people
from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.segments import camera_motion, motion_notices
from stance.court.calibration import CalibratedCourt, calibrate
from stance.court.court_file import read_court_file
from stance.court.detection.detect import FoundCourt, find_court
from stance.court.detection.feet import moving_feet
from stance.errors import InputError
from stance.measures.classes import DEFAULT_LIMITS, Limits
from stance.people.landmarker import prepare
from stance.reports.clip import write_report
from stance.reports.key_pictures import KeyPictures
from stance.reports.overlay import write_overlay
from stance.results.model import CourtSummary, PlayerResult, Result
from stance.results.writing import write_result
from stance.runtime.malloc import limit_malloc_arenas
from stance.runtime.progress import Progress, Timings, no_progress
from stance.statistics.shares import class_shares
from stance.statistics.statement import clip_statement
from stance.types import ImageArray
from stance.video.probe import ClipDescription, describe_clip
from stance.video.timing import summarise
from stance.watching.assumed_court import assume_court
from stance.watching.effort import QUICK, Effort
from stance.watching.options import ClipContext, WatchOptions
from stance.watching.pipeline import CameraMoved, watch
from stance.watching.pose_cache import POSES_FILE, WatchedClip, key_of, read_poses, write_poses
from stance.watching.trackers import frames_seen


def analyse(
    clip: str | Path,
    court: str | Path | None = None,
    hand: str | None = None,
    limits: Limits = DEFAULT_LIMITS,
    progress: Progress = no_progress,
    half: str | None = None,
    player: str | None = None,
    names: Mapping[str, str] | None = None,
    effort: Effort = QUICK,
    cache_folder: str | Path | None = None,
    timings: Timings | None = None,
    workers: int | None = None,
) -> Analysis:
    """Measure the ready positions of the defenders in a clip.

    Parameters
    ----------
    clip : path of the video
    court : path of the court file; without it a camera is assumed
    hand : "right", "left" or None to see it from the clip
    limits : limits of the classes
    progress : told how far the work is
    half : "near", "far" or "both"; None for the near half and, where that is empty, the far one
    player : letter of the only player to measure
    names : what the coach calls the players, by letter
    effort : how much to look at
    cache_folder : folder in which the poses of an earlier run may be kept
    timings : adds up where the time goes
    workers : threads that decode, and that look at poses; the result does not depend on it

    Returns
    -------
    Analysis; without players or ready positions it says why in its warnings

    Raises
    ------
    InputError
        If the clip or the court file can't be read or is not what it says it is, the camera
        keeps moving, or the player asked for was not found.
    OutputError
        If there is no room for a temporary file.
    """
    timings = timings or Timings()
    limit_malloc_arenas()
    with ThreadPoolExecutor(1) as beside, timings.of("decode"):
        if cache_folder is None or not os.path.exists(Path(cache_folder) / POSES_FILE):
            # What fails fails again where it is needed. It is waited for, since the terminal is
            # silent meanwhile.
            beside.submit(prepare, effort.model)
        description = describe_clip(clip)
    notices = list(description.notices)
    marks = None if court is None else read_court_file(court, description.size)
    key = key_of(description.sha256, marks, half, hand, effort)
    seen = None if cache_folder is None else read_poses(Path(cache_folder) / POSES_FILE, key)
    if seen is None:
        marked = None if marks is None else calibrate(marks)
        seen = _seen(clip, description, marked, half, hand, effort, progress, timings, workers)
    known = seen.marked
    if seen.found is not None:
        known = seen.found.court
        notices.append(court_search_notice(seen.found))
    watched = seen.players
    summary, timing_notices = summarise(description, seen.times)
    notices += [*timing_notices, *motion_notices(seen.motion)]
    if not watched:
        notices.append(nobody_notice(summary, None if known is None else known.source))
        court_summary = (
            CourtSummary("assumed", None, (), (), ()) if known is None else _court_summary(known)
        )
        result = Result(summary, court_summary, (), tuple(notices))
        return Analysis(result, {}, {}, {}, key, seen)
    calibrated = assume_court(watched[0].track, description.size) if known is None else known
    step = float(np.median(np.diff(seen.times)))
    with timings.of("measure"):
        measured = lettered(
            [
                measured_player(one, calibrated.camera, *hand_of, limits, step)
                for one, hand_of in zip(watched, seen.hands, strict=True)
            ]
        )
    if player is not None:
        if player not in measured:
            raise InputError(
                f"There is no player {player} in {summary.file}: found "
                f"{' and '.join(measured)}, left to right."
            )
        measured = {player: measured[player]}
    results = []
    for letter, one in measured.items():
        notices += one.notices(letter)
        results.append(
            PlayerResult(
                player=letter,
                half=one.watched.half,
                hand=one.hand,
                hand_source="given" if hand else "seen",
                ready_positions=one.positions,
                shares=class_shares(one.positions),
                frames_seen=frames_seen(one.watched.track),
                name=(names or {}).get(letter, ""),
                hand_confidence=one.hand_confidence,
            )
        )
    result = Result(
        summary,
        _court_summary(calibrated),
        tuple(results),
        tuple(notices),
        clip_statement(results),
        {
            "square_deg": limits.square_deg,
            "side_on_deg": limits.side_on_deg,
            "confidence": limits.confidence,
        },
    )
    return Analysis(
        result,
        KeyPictures(measured),
        {letter: one.watched.track for letter, one in measured.items()},
        {letter: one.camera for letter, one in measured.items()},
        key,
        seen,
    )


def _seen(
    clip: str | Path,
    description: ClipDescription,
    marked: CalibratedCourt | None,
    half: str | None,
    hand: str | None,
    effort: Effort,
    progress: Progress,
    timings: Timings,
    workers: int | None,
) -> WatchedClip:
    """Watch a clip; its court is searched first where none is marked.

    The camera is taken to stand, so that the clip is decoded once only; where it turns out not to,
    its motion is followed and all is done again.
    """

    def watched(motion: CameraMotion | None, found: FoundCourt | None) -> WatchedClip | None:
        court = found.court if found is not None else marked
        camera = None if court is None else court.camera
        try:
            seen = watch(
                ClipContext(clip, description.size, description.packets, camera),
                motion,
                WatchOptions(half, hand, effort, workers),
                progress,
                timings,
            )
        except CameraMoved:
            return None
        with timings.of("measure"):
            hands = racket_hands(seen.players, court, description.size, hand)
        return WatchedClip(seen.motion, seen.times, seen.players, hands, marked, found)

    with timings.of("court"):
        pictures = quick_pictures(clip, description.size) if marked is None else []
        found = _searched(pictures) if pictures else None
    if marked is not None or found is not None:
        seen = watched(None, found)
        if seen is not None:
            return seen
    with timings.of("camera"):
        motion = camera_motion(clip, description.size)
    if marked is None:
        with timings.of("court"):
            found = _searched(still_pictures(clip, motion))
    seen = watched(motion, found)
    assert seen is not None
    return seen


def _court_summary(calibrated: CalibratedCourt) -> CourtSummary:
    """Return what the result says of the court."""
    camera = calibrated.camera
    return CourtSummary(
        calibrated.source,
        calibrated.error_px,
        K=tuple(tuple(map(float, row)) for row in camera.matrix),
        R=tuple(tuple(map(float, row)) for row in camera.rotation),
        t=tuple(map(float, camera.translation)),
        distortion=float(camera.distortion),
    )


def _searched(pictures: Sequence[ImageArray]) -> FoundCourt:
    """Search the court in what stands still in pictures of the clip."""
    still = without_people(pictures)
    return find_court(still, moving_feet(pictures, still))


def write_all(
    analysis: Analysis,
    clip: str | Path,
    folder: str | Path,
    overlay: bool,
    progress: Progress = no_progress,
    timings: Timings | None = None,
) -> None:
    """Write the result, the report and, if wanted, the overlay video into a folder.

    The result comes first and the video last; each file takes its place only when complete.

    Parameters
    ----------
    analysis : of the clip
    clip : path of the video
    folder : made where needed
    overlay : whether to write overlay.mp4
    progress : told how far the work is
    timings : adds up where the time goes

    Raises
    ------
    OutputError
        If the folder can't be made or written to.
    """
    timings = timings or Timings()
    with timings.of("draw"):
        write_result(analysis.result, folder)
        write_report(analysis.result, analysis.pictures, folder, overlay)
    with suppress(OSError):
        write_poses(Path(folder) / POSES_FILE, analysis.cache_key, analysis.watched_clip)
    if overlay:
        write_overlay(clip, analysis, Path(folder) / "overlay.mp4", progress, timings)
