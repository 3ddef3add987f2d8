"""Two sets of results from paths: results are read, clips analysed."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from stance.academy.batch import analyse_jobs
from stance.academy.jobs import Job
from stance.academy.remote_files import is_url
from stance.academy.result_store import Store
from stance.comparison.choosing import ResultSets
from stance.court.court_file import court_file_beside
from stance.errors import InputError
from stance.results.json_format import RESULT_FILE, read_result
from stance.results.model import Result
from stance.runtime.language import gettext as _
from stance.runtime.progress import Progress, no_progress
from stance.types import FilmedFrom, Hand


@dataclass(frozen=True)
class ClipSettings:
    """How clips among the paths are analysed.

    Attributes
    ----------
    court
        court file for clips that have none of their own; None for none
    hand
        "right", "left" or None to see it from the clip
    filmed_from
        where the phone stood, for clips whose court is not known; None where nobody says
    blur_faces
        whether no face can be known in the pictures of the clips
    """

    court: str | None = None
    hand: Hand | None = None
    filmed_from: FilmedFrom | None = None
    blur_faces: bool = False


def read_result_sets(
    before: Sequence[str],
    after: Sequence[str],
    settings: ClipSettings,
    store: Store,
    progress: Progress = no_progress,
) -> ResultSets:
    """Read results, and analyse the clips that are among the paths.

    A result file that is damaged is left out and named, as long as each set has others.

    Parameters
    ----------
    before, after
        result files, result folders, and paths or URLs of clips
    settings
        for the clips; CLIP.court.json beside CLIP.mp4 is taken where it is there
    store
        where the clips' results are stored
    progress
        called with a stage, clips done and clips in all

    Raises
    ------
    InputError
        Something can't be read, or a clip can't be analysed.
    """
    paths = (*before, *after)
    jobs = {path: _make_job(path, settings) for path in paths if _is_clip(path)}
    results: dict[str, Result] = {}
    folders: dict[str, Path] = {}
    left_out: list[str] = []
    for path in dict.fromkeys(paths):
        if path not in jobs:
            _read_or_leave_out(path, results, left_out)
    for path, result in results.items():
        folders[result.clip.sha256] = Path(path) if Path(path).is_dir() else Path(path).parent
    if any(all(path not in {*jobs, *results} for path in side) for side in (before, after)):
        raise InputError("\n".join(left_out))
    outcomes = analyse_jobs(list(jobs.values()), store, progress=progress)
    reasons = []
    for path, job in jobs.items():
        outcome = outcomes[job]
        if outcome.result is None:
            reasons.append(str(outcome.reason))
        else:
            results[path] = outcome.result
            folders[outcome.result.clip.sha256] = store.folder_of(str(outcome.key))
    if reasons:
        raise InputError("\n".join(reasons))
    return ResultSets(
        [results[path] for path in before if path in results],
        [results[path] for path in after if path in results],
        tuple(left_out),
        folders,
    )


def _read_or_leave_out(path: str, results: dict[str, Result], left_out: list[str]) -> None:
    """Add a result file's content to the results, or why it has none; a missing file raises."""
    try:
        results[path] = read_result(path)
    except InputError as problem:
        if not Path(path).exists():
            raise
        place = Path(path)
        shown = Path(*place.parts[-2:]) if place.is_absolute() else place
        left_out.append(str(problem).replace(str(place), str(shown)))


def _is_clip(path: str) -> bool:
    """Whether a path is a clip's and not a result's."""
    if not is_url(path) and Path(path).is_dir():
        if not (Path(path) / RESULT_FILE).is_file():
            raise InputError(
                _(
                    "The folder {path} holds no {file}. Name a result folder, a result file "
                    "or a clip."
                ).format(path=path, file=RESULT_FILE)
            )
        return False
    return is_url(path) or Path(path).suffix.lower() != ".json"


def _make_job(clip: str, settings: ClipSettings) -> Job:
    beside = court_file_beside(clip)
    own = str(beside) if not is_url(clip) and beside.is_file() else None
    court = own or settings.court
    return Job(clip, court, settings.hand, settings.filmed_from, settings.blur_faces)
