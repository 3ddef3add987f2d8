"""The way of the data on a page: probe, court, watch, measure and class, result.

What was analysed is written with `stance.reports.writing.write_analysis`.
"""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from stance.assessment.analysis_model import Analysis
from stance.assessment.assemble import assemble_result
from stance.assessment.crops import keep_needed_crops
from stance.assessment.options import DEFAULT_OPTIONS, AnalysisOptions
from stance.assessment.players import MeasuredPlayer, select_player
from stance.assessment.replays import measure_first_showings
from stance.assessment.withholding import withhold_rest, withhold_unknown_angles
from stance.court.calibration import CalibratedCourt, calibrate
from stance.court.court_file import read_court_file
from stance.reports.key_pictures import KeyPictures
from stance.runtime.malloc import limit_malloc_arenas
from stance.runtime.progress import Progress, Timings, no_progress
from stance.types import FilmedFrom
from stance.video.probe import ClipDescription, describe_clip
from stance.watching.assumed_court import assume_court_or_refuse
from stance.watching.pose_cache import POSES_FILE, poses_key, read_poses
from stance.watching.watched_clip import WatchedClip


def analyse(
    clip: str | Path,
    court: str | Path | None = None,
    options: AnalysisOptions = DEFAULT_OPTIONS,
    progress: Progress = no_progress,
    timings: Timings | None = None,
) -> Analysis:
    """Measure the ready positions of the defenders in a clip.

    Parameters
    ----------
    clip
        path of the video
    court
        path of the court file; without it the court is searched
    options
        whom to measure, and how
    progress
        told how far the work is
    timings
        adds up where the time goes

    Returns
    -------
    Analysis; without ready positions its result says why in its warnings

    Raises
    ------
    InputError
        If a file can't be read or is not one, the camera keeps moving, or the player is not found.

    Examples
    --------
    >>> import stance
    >>> analysis = stance.analyse(
    ...     "sample_clips/rear_corner_rally.mp4", "sample_clips/rear_corner_rally.court.json"
    ... )
    >>> analysis.result.players[0].hand
    'left'
    """
    timings = timings or Timings()
    description = _probe(clip, options, timings)
    marks = None if court is None else read_court_file(court, description.size)
    key = poses_key(description.sha256, marks, options.watching)
    watched = _read_cache(options, key)
    cached_in = None if watched is None else options.cache_folder
    if watched is None:
        # Most of the package is loaded for watching alone, and a known clip isn't watched again.
        from stance.watching.clip_watching import watch_clip

        marked = None if marks is None else calibrate(marks)
        watched = watch_clip(clip, description, marked, options.watching, progress, timings)
    calibrated = _choose_court(watched, description.size, options.filmed_from)
    players = _measure(watched, calibrated, options, timings)
    watched = keep_needed_crops(watched, players.values())
    players = select_player(players, options.player, description.file)
    result = assemble_result(description, watched, calibrated, players, options)
    pictures = KeyPictures(players, watched.tracks if options.blur_faces else None)
    return Analysis(result, pictures, players, key, cached_in, watched, options.blur_faces)


def _probe(clip: str | Path, options: AnalysisOptions, timings: Timings) -> ClipDescription:
    """Read a clip's head; load the pose model meanwhile, where it will be needed."""
    limit_malloc_arenas()
    with ThreadPoolExecutor(1) as beside, timings.of("decode"):
        folder = options.cache_folder
        if folder is None or not (Path(folder) / POSES_FILE).exists():
            from stance.people.landmarker import prepare

            # What fails fails again where it is needed. It is waited for, since the terminal is
            # silent meanwhile.
            beside.submit(prepare, options.effort.model)
        return describe_clip(clip)


def _read_cache(options: AnalysisOptions, key: str) -> WatchedClip | None:
    """What an earlier run saw in the same clip; None where that is not known."""
    if options.cache_folder is None:
        return None
    return read_poses(Path(options.cache_folder) / POSES_FILE, key)


def _measure(
    clip: WatchedClip, court: CalibratedCourt | None, options: AnalysisOptions, timings: Timings
) -> dict[str, MeasuredPlayer]:
    """The players of a clip by letter, with what is known of their ready positions."""
    with timings.of("measure"):
        players = withhold_rest(measure_first_showings(clip, court, options.limits))
        return withhold_unknown_angles(players, court, options.filmed_from)


def _choose_court(
    clip: WatchedClip, image_size: tuple[int, int], filmed_from: FilmedFrom | None
) -> CalibratedCourt | None:
    """The marked or found court, or one assumed from a player; None where there is nobody."""
    if clip.court is None and clip.players:
        return assume_court_or_refuse(clip.players[0].track, image_size, filmed_from)
    return clip.court
