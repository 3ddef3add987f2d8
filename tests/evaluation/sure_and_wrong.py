"""How often a class is said for sure and is wrong, whatever is the matter with the court.

`python -m tests.evaluation.sure_and_wrong FOLDER` takes 4 seconds of each rendered clip of a folder
(NAME.mp4, NAME.court.json and NAME.truth.json, as `python -m tests.rendering clip` and `play` write
them), spoils its court in each of the ways of `CONDITIONS`, analyses it with the racket hand given,
and prints for each way: what became of the court file; classes said, those said with more than
90 %, those of them that are wrong, and how many would be by what is said of them; and how often
nothing is said. A class is judged by the true joints of the same moments. A stopped run goes on
where it was; after a change of the tool delete the folder's `excerpts`.
"""

import argparse
import json
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Literal

import msgspec
import numpy as np

from stance.analysis import analyse
from stance.assessment.analysis_model import Analysis
from stance.assessment.options import AnalysisOptions
from stance.court.camera import camera_centre, project
from stance.errors import InputError
from stance.people.track import Track
from stance.results.model import ReadyPosition
from stance.types import NOT_ASSESSED, FilmedFrom
from stance.watching.pose_cache import POSES_FILE, write_poses
from tests.evaluation.accuracy import true_camera
from tests.evaluation.court_conditions import (
    Excerpt,
    cut_excerpt,
    draw_roll,
    draw_shift,
    move_marks,
    resize_marks,
)
from tests.rendering.measures import measure, stance_class

SURE = 0.9
# So many marks of a moved phone lie in its picture.
LEAST_MARKS = 6
# Who is nearer to a true defender's joints than this part of his height in the picture is he.
_SAME_PERSON = 0.35
# Where the phone may be said to stand, and in which direction from the player that is, degrees from
# straight behind to the right (docs/using.md).
_PLACES: dict[FilmedFrom, float] = {
    "behind": 0.0,
    "rear-right": 45.0,
    "right": 90.0,
    "front-right": 135.0,
    "front-left": -135.0,
    "front": 180.0,
    "left": -90.0,
    "rear-left": -45.0,
}


@dataclass(frozen=True)
class Condition:
    """What is the matter with a clip's court.

    Attributes
    ----------
    picture
        of which the excerpt's videos is analysed
    in_view
        whether the court is to be seen all along
    marks
        makes the court file's content from excerpt, all excerpts and random numbers; None where
        there is no court file
    said
        whether it is said where the phone stood
    """

    picture: Literal["video", "painted_over", "knocked"] = "video"
    in_view: bool = True
    marks: Callable[[Excerpt, Sequence[Excerpt], np.random.Generator], Any] | None = None
    said: bool = False


def _own(excerpt: Excerpt, _: Sequence[Excerpt], rng: np.random.Generator) -> Any:
    return excerpt.court


def _moved(excerpt: Excerpt, _: Sequence[Excerpt], rng: np.random.Generator) -> Any:
    size = tuple(excerpt.truth["image_size"])
    while len((moved := move_marks(excerpt.court, draw_shift(rng, size)))["points"]) < LEAST_MARKS:
        pass
    return moved


def _rolled(excerpt: Excerpt, _: Sequence[Excerpt], rng: np.random.Generator) -> Any:
    return move_marks(excerpt.court, draw_roll(rng, tuple(excerpt.truth["image_size"])))


def _foreign(excerpt: Excerpt, all_of_them: Sequence[Excerpt], rng: np.random.Generator) -> Any:
    size = excerpt.truth["image_size"]
    upright = size[0] < size[1]
    others = [
        other
        for other in all_of_them
        if other.name != excerpt.name
        and (other.truth["image_size"][0] < other.truth["image_size"][1]) == upright
    ]
    return resize_marks(others[rng.integers(len(others))].court, size)


CONDITIONS = {
    "own court file": Condition(marks=_own),
    "no court file": Condition(),
    "file from before the phone was moved": Condition(marks=_moved),
    "file from before the phone rolled by 1 degree": Condition(marks=_rolled),
    "another clip's file": Condition(marks=_foreign),
    "own file, the picture jumps": Condition("knocked", marks=_own),
    "lines painted over, no court file": Condition("painted_over", False),
    "the same, and said where the phone stood": Condition("painted_over", False, said=True),
    "lines painted over, own court file": Condition("painted_over", False, _own),
    "lines painted over, file from before the move": Condition("painted_over", False, _moved),
    "lines painted over, another clip's file": Condition("painted_over", False, _foreign),
}


@dataclass(frozen=True)
class Said:
    """A class that was said of a moment: how sure, and the true class; places for a closer look."""

    stance_class: str
    probability: float
    true_class: str
    words: str

    @property
    def sure_and_wrong(self) -> bool:
        """Whether it is what must not be."""
        return self.probability > SURE and self.stance_class != self.true_class


@dataclass(frozen=True)
class Outcome:
    """A case: what became of the court, classes said, ready positions without one, and others'."""

    condition: str
    court: str
    said: tuple[Said, ...] = ()
    unsaid: int = 0
    strangers: int = 0


def run_case(name: str, excerpt: Excerpt, all_of_them: Sequence[Excerpt], folder: Path) -> Outcome:
    """Analyse an excerpt in one condition."""
    condition = CONDITIONS[name]
    court = None
    if condition.marks is not None:
        rng = np.random.default_rng([list(CONDITIONS).index(name), excerpt.first_frame])
        court = folder / f"{excerpt.name}.{list(CONDITIONS).index(name)}.court.json"
        court.write_text(json.dumps(condition.marks(excerpt, all_of_them, rng)))
    kept = folder / f"{excerpt.name}.poses"
    options = AnalysisOptions(
        hand=excerpt.truth["player"]["hand"],
        # From in front the half by the phone is the attackers'.
        half="both" if excerpt.truth["view"] == "front" else None,
        filmed_from=_find_place(excerpt)[0] if condition.said else None,
        cache_folder=kept if court is None and not condition.in_view else None,
        workers=1,
    )
    try:
        analysis = analyse(getattr(excerpt, condition.picture), court, options)
    except InputError as problem:
        return Outcome(name, f"refused: {problem}")
    if options.cache_folder is not None:
        # What is said of the phone changes nothing of what is seen.
        kept.mkdir(exist_ok=True)
        write_poses(kept / POSES_FILE, analysis.cache_key, analysis.watched_clip)
    return _judge(name, excerpt, analysis)


def _judge(name: str, excerpt: Excerpt, analysis: Analysis) -> Outcome:
    """Hold what was said of each moment against the truth."""
    said: list[Said] = []
    unsaid = strangers = 0
    for player in analysis.result.players:
        defender = _recognise(excerpt, analysis.tracks[player.player])
        if defender is None:
            strangers += len(player.ready_positions)
            continue
        for position in player.ready_positions:
            if position.stance_class == NOT_ASSESSED:
                unsaid += 1
            else:
                said.append(_compare(excerpt, defender, position))
    source = analysis.result.court.source
    fit = analysis.watched_clip.marked_fit
    return Outcome(name, source if fit == "agrees" else fit, tuple(said), unsaid, strangers)


def _recognise(excerpt: Excerpt, track: Track) -> dict[str, Any] | None:
    """The true defender whom a track follows; None where it is somebody else."""
    truth = excerpt.truth
    camera = true_camera(truth)
    for defender in (truth, *([truth["partner"]] if "partner" in truth else [])):
        seen = np.flatnonzero(track.seen)
        joints = np.array(defender["joints"])
        frames = np.minimum(track.frames[seen] + excerpt.first_frame, len(joints) - 1)
        shown = project(camera, joints[frames])
        tall = np.ptp(shown[..., 1], axis=1)
        away = np.linalg.norm(shown.mean(axis=1) - track.pixels[seen].mean(axis=1), axis=1)
        if float(np.median(away / tall)) < _SAME_PERSON:
            return defender
    return None


def _compare(excerpt: Excerpt, defender: dict[str, Any], position: ReadyPosition) -> Said:
    """A class said of a moment, and the true one: that of the median angles of its frames."""
    first = excerpt.first_frame
    joints = np.array(defender["joints"])[first + position.start_frame :][
        : position.end_frame - position.start_frame + 1
    ]
    each = [measure(frame, defender["player"]["hand"]) for frame in joints]
    lead, hips = (
        float(np.median([getattr(m, angle) for m in each]))
        for angle in ("lead_angle_deg", "hip_yaw_deg")
    )
    words = (
        f"{excerpt.name} at {position.start_s:.1f} s: {position.stance_class}; lead angle "
        f"{position.lead_angle_deg:.0f} +- {position.lead_angle_se_deg:.0f}, true {lead:.0f}; hips "
        f"{position.hip_yaw_deg:.0f} +- {position.hip_yaw_se_deg:.0f}, true {hips:.0f}"
    )
    probability = position.probabilities[position.stance_class]
    return Said(position.stance_class, probability, stance_class(lead, hips), words)


def _find_place(excerpt: Excerpt) -> tuple[FilmedFrom, float]:
    """What somebody would say where the phone stood, and how far off that is, degrees."""
    base = np.array(excerpt.truth["joints"]).mean(axis=(0, 1))[:2]
    across, along = camera_centre(true_camera(excerpt.truth))[:2] - base
    direction = np.degrees(np.arctan2(across, -along))

    def away(place: FilmedFrom) -> float:
        return abs((direction - _PLACES[place] + 180.0) % 360.0 - 180.0)

    best = min(_PLACES, key=away)
    return best, away(best)


def _print_table(outcomes: Sequence[Outcome]) -> None:
    titles = (
        "court",
        "cases",
        "taken, replaced, refused",
        "classes said",
        "with more than 90 %",
        "of them wrong",
        "to be expected",
        "cases with nothing said",
        "ready positions not assessed",
    )
    print(f"| {' | '.join(titles)} |")
    print("|" + "---|" * len(titles))
    in_view = [o for o in outcomes if CONDITIONS[o.condition].in_view]
    rows = {name: [o for o in outcomes if o.condition == name] for name in CONDITIONS}
    rows |= {"all with the court in view": in_view, "all": list(outcomes)}
    for name, row in rows.items():
        courts = Counter(outcome.court.split(":")[0] for outcome in row)
        said = [s for outcome in row for s in outcome.said]
        sure = [s for s in said if s.probability > SURE]
        wrong = sum(s.sure_and_wrong for s in sure)
        expected = sum(1.0 - s.probability for s in sure)
        silent = sum(not outcome.said for outcome in row)
        unsaid = sum(outcome.unsaid for outcome in row)
        print(
            f"| {name} | {len(row)} | {', '.join(f'{n} {c}' for c, n in courts.most_common())} "
            f"| {len(said)} | {len(sure)} | {wrong} | {expected:.1f} "
            f"| {silent} ({silent / max(len(row), 1):.0%}) "
            f"| {unsaid} of {unsaid + len(said)} |"
        )
    for outcome in outcomes:
        for one in outcome.said:
            if one.sure_and_wrong:
                print(f"{outcome.condition}, {outcome.court}: {one.words}, {one.probability:.1%}")


def _run_all(excerpt: Excerpt, all_of_them: Sequence[Excerpt], folder: Path) -> list[Outcome]:
    """The outcomes of an excerpt in all conditions; what was done before a stop is kept."""
    file = folder / f"{excerpt.name}.outcomes.json"
    done = msgspec.json.decode(file.read_bytes(), type=list[Outcome]) if file.exists() else []
    for name in list(CONDITIONS)[len(done) :]:
        done.append(run_case(name, excerpt, all_of_them, folder))
        file.write_bytes(msgspec.json.encode(done))
        print(f"{excerpt.name}, {name}: {done[-1].court}", flush=True)
    return done


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.sure_and_wrong", description=__doc__.splitlines()[0]
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    arguments = parser.parse_args()
    made = arguments.folder / "excerpts"
    made.mkdir(exist_ok=True)
    clips = sorted(arguments.folder.glob("*.mp4"))
    with ProcessPoolExecutor(arguments.workers, get_context("spawn")) as pool:
        excerpts = list(pool.map(cut_excerpt, clips, [made] * len(clips)))
        run = partial(_run_all, all_of_them=excerpts, folder=made)
        outcomes = [outcome for row in pool.map(run, excerpts) for outcome in row]
    _print_table(outcomes)


if __name__ == "__main__":
    main()
