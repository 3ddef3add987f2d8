"""All files of one analysis, written into a folder."""

from contextlib import suppress
from pathlib import Path

from stance.assessment.analysis_model import Analysis
from stance.reports.cards import OVERLAY_FILE
from stance.reports.clip import write_report
from stance.reports.drawn_court import draw_court_of_clip
from stance.results.temporary import sweep_leftovers
from stance.results.writing import write_result
from stance.runtime.progress import Progress, Timings, no_progress
from stance.watching.pose_cache import POSES_FILE, write_poses


def write_analysis(
    analysis: Analysis,
    clip: str | Path,
    folder: str | Path,
    overlay: bool = False,
    progress: Progress = no_progress,
    timings: Timings | None = None,
) -> None:
    """Write the result, the report, the poses and, if wanted, the overlay video into a folder.

    The result comes first and the video last; each file takes its place only when complete. What
    killed runs left in the folder is taken away.

    Parameters
    ----------
    analysis
        of the clip
    clip
        path of the video
    folder
        made where needed
    overlay
        whether to write the clip again with the measures drawn on it
    progress
        told how far the work is
    timings
        adds up where the time goes

    Raises
    ------
    OutputError
        If the folder can't be made or written to.
    """
    timings = timings or Timings()
    sweep_leftovers(folder)
    with timings.of("draw"):
        write_result(analysis.result, folder)
        court_picture = draw_court_of_clip(clip, analysis)
        write_report(analysis.result, analysis.pictures, folder, overlay, court_picture)
    poses = Path(folder) / POSES_FILE
    # Without kept poses the next run only takes longer.
    with suppress(OSError):
        if analysis.faces_blurred:
            # They hold pictures in which faces can be seen.
            poses.unlink(missing_ok=True)
        elif analysis.cached_in is None or Path(analysis.cached_in) != Path(folder):
            write_poses(poses, analysis.cache_key, analysis.watched_clip)
    if overlay:
        from stance.reports.overlay import write_overlay

        write_overlay(clip, analysis, Path(folder) / OVERLAY_FILE, progress, timings)
