"""What all cases share: a short clip, results, poses, academies, and what is written in peace."""

import itertools
import shutil
import sys
from collections.abc import Collection
from pathlib import Path

from tests.evaluation.faults import damage, runs, steps
from tests.evaluation.faults.steps import run_command
from tests.paths import SAMPLE_CLIPS

CLIP = SAMPLE_CLIPS / "rear_corner_rally.mp4"

# How long the short clip is, seconds.
CLIP_S = 2.0

# Clips with kept results, of a few players.
_KEPT_CLIPS = 6

# Frames of the clips that are screened anew.
_SCREENED_FRAMES = 45


def make_base(base: Path, needs: Collection[str]) -> None:
    """Make what some kinds of cases need, of: results, clip, steps, runs."""
    base.mkdir(parents=True, exist_ok=True)
    if "results" in needs or "steps" in needs:
        _make_results(base / "results")
    if "clip" in needs or "steps" in needs or "runs" in needs:
        damage.cut_clip(CLIP, base / "short.mp4", CLIP_S)
    if "runs" in needs:
        _make_runs(base)
    if "steps" in needs:
        _make_steps(base)


def _make_results(folder: Path) -> None:
    """Results of two players, with an index and poses."""
    from stance.academy.result_store import Store
    from stance.comparison.history import list_entries
    from stance.watching.pose_cache import write_poses
    from tests.unit.invented_history import write_history
    from tests.unit.watching.test_pose_cache import seen_in_a_clip

    write_history(folder)
    shutil.rmtree(folder / ".part")
    list_entries(folder)
    write_poses(folder / "poses.npz", "key", seen_in_a_clip(2))
    Store(folder).write_known_clips({})


def _make_steps(base: Path) -> None:
    """Poses of the short clip, an academy with kept results, and what each step writes."""
    from tests.evaluation.screening_speed import invented_academy

    whole = base / "whole" / "analysis"
    if not whole.exists():
        run_command("analyse", base / "short.mp4", "--out", whole)
    (base / "poses").mkdir()
    shutil.copy(whole / "poses.npz", base / "poses")
    invented_academy(base / "academy", _KEPT_CLIPS, of_each=2)
    shutil.copytree(base / "academy" / "screening", base / "kept")
    steps.write_expected(base)


def _make_runs(base: Path) -> None:
    """A small academy, and what each run writes."""
    from tests.evaluation.screening_speed import excerpt, small_academy

    folder = base / "small"
    folder.mkdir()
    excerpt(folder / "excerpt.mp4", _SCREENED_FRAMES)
    small_academy(folder, folder / "excerpt.mp4", 2, 1)
    runs.write_expected(base)


if __name__ == "__main__":
    # A process of its own, so that whoever forks from the command has loaded nothing.
    make_base(Path(sys.argv[1]), list(itertools.islice(sys.argv, 2, None)))
