"""How accurate the tool is on rendered clips whose truth is known.

`python -m tests.evaluation.accuracy FOLDER` analyses every clip of a folder as a user would (court
file given, hand given) and prints, per view and over all: errors of hip yaw, lead angle and foot
stagger, coverage of their 95 % intervals, ready positions found, classes, shares; beside them the
naive estimate (heavy model's world landmarks turned by the viewing ray, ankles through the
homography) in the same run and what perfect landmarks would leave (`limits.py`). `--plot PICTURE`
draws the errors against view, distance and true angle. A folder holds NAME.mp4, NAME.court.json
and NAME.truth.json, as `python -m tests.rendering clip` writes them.
"""

import argparse
import json
import multiprocessing
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.court.camera import Camera, camera_centre, floor_point
from stance.measures.classes import class_index, class_probabilities, classify
from stance.measures.orientation import line_yaw
from stance.people.landmarker import Landmarker
from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_HIP,
    RIGHT_ANKLE,
    RIGHT_HIP,
    box_around,
    side_indices,
)
from stance.results import measures_table
from stance.results.model import ReadyPosition
from stance.types import CLASSES, NOT_ASSESSED
from stance.video.reader import read_frames_at
from tests.evaluation.limits import MEAN_OF_NORMAL, seen_limit
from tests.evaluation.world_landmarks import world_in_court
from tests.rendering.cameras import VIEWS

MEASURE_OF = {measure.field: measure for measure in measures_table.MEASURES}
# Field, title and scale of the measures whose limit `seen_limit` tells, in its order.
MEASURES = tuple(
    (m.field, f"{m.name}, {'cm' if m.unit == 'metres' else m.unit}", m.card.scale)
    for m in map(MEASURE_OF.get, ("hip_yaw_deg", "lead_angle_deg", "foot_stagger_m"))
)
FARTHEST_DEG = 12.0
HEIGHTS_M = ((1.0, 2.0), (2.0, 4.0))
# So many times clips are read at the limit, to tell what it would leave of their shares.
LIMIT_DRAWS = 20
# So many times clips are drawn anew, to tell how far chance moves what their intervals hold.
CLIP_DRAWS = 4000


@dataclass(frozen=True)
class Found:
    """One true ready position and what was found of it; None where it was missed."""

    clip: str
    view: str
    height: float
    distance: float
    true: dict[str, float]
    true_class: str
    measured: dict[str, float] | None
    naive: dict[str, float] | None
    limit: dict[str, float]
    measured_class: str | None
    all_measures: dict[str, tuple[float, float, float]]  # heading to truth, value, standard error


def overlap(a: dict, b: dict) -> float:
    """Overlap of two spells in time over their union."""
    shared = min(a["end_frame"], b["end_frame"]) - max(a["start_frame"], b["start_frame"]) + 1
    union = max(a["end_frame"], b["end_frame"]) - min(a["start_frame"], b["start_frame"]) + 1
    return max(shared, 0) / union


def true_camera(truth: dict) -> Camera:
    """The camera that filmed a rendered clip, from its truth."""
    return Camera(
        *(np.array(truth["camera"][k]) for k in ("K", "R", "t")), tuple(truth["image_size"])
    )


def naive_measures(camera: Camera, pixels: np.ndarray, world: np.ndarray, hand: str) -> dict:
    """What landmarks alone say: hips from world landmarks, feet from ankles on the floor."""
    turned = world_in_court(camera, pixels, world)
    racket, other = side_indices(hand, LEFT_HIP, RIGHT_HIP)
    ankles = floor_point(camera, pixels[list(side_indices(hand, LEFT_ANKLE, RIGHT_ANKLE))])
    return {
        "hip_yaw_deg": float(line_yaw(turned[other], turned[racket], hand)),
        "lead_angle_deg": float(line_yaw(ankles[1], ankles[0], hand)),
        "foot_stagger_m": float(ankles[0, 1] - ankles[1, 1]),
    }


def evaluate(clip: Path) -> tuple[list[Found], int]:
    """Analyse one clip; return its true ready positions and how many found ones are false."""
    truth = json.loads(clip.with_suffix(".truth.json").read_text())
    hand = truth["player"]["hand"]
    analysis = analyse(clip, clip.with_suffix(".court.json"), AnalysisOptions(hand=hand))
    camera = true_camera(truth)
    centre = -camera.rotation.T @ camera.translation
    player = next(iter(analysis.result.players), None)
    positions = [] if player is None else list(player.ready_positions)
    naive = {}
    if positions:
        track = analysis.tracks["A"]
        look_of = {int(f): i for i, f in enumerate(track.frames)}
        with Landmarker("heavy") as heavy:
            for frame in read_frames_at(clip, [p.key_frame for p in positions]):
                pose = heavy.detect(frame.image, box_around(track.pixels[look_of[frame.index]]))
                if pose is not None:
                    naive[frame.index] = naive_measures(
                        analysis.cameras["A"], pose.pixels, pose.world, hand
                    )
    rows, used = [], set()
    for true in truth["ready_positions"]:
        measured, best = None, 0.5
        for i, position in enumerate(positions):
            shared = overlap(true, vars(position))
            if shared >= best and i not in used:
                measured, best, index = position, shared, i
        if measured is not None:
            used.add(index)
        base = np.append(true["base_m"], 0.0)
        rows.append(
            Found(
                clip.name,
                truth["view"],
                float(centre[2]),
                float(np.linalg.norm(centre - base)),
                {name: true[name] for name, _, _ in MEASURES},
                true["class"],
                None
                if measured is None
                else {
                    key: getattr(measured, key)
                    for name, _, _ in MEASURES
                    for key in (name, MEASURE_OF[name].error_field)
                },
                None if measured is None else naive.get(measured.key_frame),
                limits_of(camera, base, true, hand),
                None if measured is None else measured.stance_class,
                {} if measured is None else all_measures(true, measured),
            )
        )
    return rows, len(positions) - len(used)


def all_measures(true: dict, found: ReadyPosition) -> dict[str, tuple[float, float, float]]:
    """Truth, value and standard error of each measure in the table whose truth is known."""
    return {
        m.heading: (
            true[m.field] if m.part is None else true[m.field][m.part],
            m.value(found),
            m.error(found),
        )
        for m in measures_table.MEASURES
        if m.field in true
    }


def limits_of(camera: Camera, base: np.ndarray, true: dict, hand: str) -> dict[str, float]:
    """Mean absolute errors that perfect landmarks with a pixel of noise would leave."""
    away = camera_centre(camera) - base
    side = 1.0 if hand == "right" else -1.0
    values = seen_limit(
        float(np.arctan2(away[2], np.hypot(*away[:2]))),
        float(camera.matrix[0, 0] / np.linalg.norm(away)),
        float(np.degrees(np.arctan2(away[0], -away[1]))),
        side * true["hip_yaw_deg"],
        side * true["lead_angle_deg"],
    )
    return {name: value for (name, _, _), value in zip(MEASURES, values, strict=True)}


def wrapped(name: str, difference: np.ndarray) -> np.ndarray:
    """Differences of angles around the circle, of lengths as they are."""
    return (difference + 180) % 360 - 180 if name.endswith("deg") else difference


def print_table(rows: list[Found], false: int) -> None:
    """Print all figures."""
    found = [r for r in rows if r.measured is not None]
    print(
        f"{len(rows)} true ready positions, {len(found)} found, {false} false: recall "
        f"{len(found) / len(rows):.3f}, precision {len(found) / (len(found) + false):.3f}"
    )
    for name, title, unit in MEASURES:
        print(
            f"\n{title}\n{'':>16} {'n':>5} {'bias':>6} {'MAE':>6} {'95 %':>6} {'slope':>6} "
            f"{'cover':>6} {'by chance':>13} {'limit':>6} {'naive bias':>10} {'naive MAE':>10}"
        )
        for view in (*VIEWS, "all"):
            for title, low, high in (
                (view, 0.0, 9.0),
                *((f"{view} {low:g}-{high:g} m", low, high) for low, high in HEIGHTS_M),
            ):
                some = [r for r in found if view in (r.view, "all") and low <= r.height < high]
                if some and not (view == "all" and low > 0.0):
                    print(_line(title, some, name, unit))
    print_all_measures(found)
    over = sum(
        abs(wrapped("deg", np.array(r.measured["hip_yaw_deg"] - r.true["hip_yaw_deg"]))) > 60
        for r in found
    )
    print(f"\nflips (hip error over 60 degrees): {over} of {len(found)}")
    print_classes(found)
    print_shares(rows)


def print_all_measures(found: list[Found]) -> None:
    """Print bias, error and coverage of each measure whose truth is known, over all views."""
    print(f"\n{'bias':>8} {'MAE':>8} {'cover':>6}  all measures, over all views")
    for heading in dict.fromkeys(heading for row in found for heading in row.all_measures):
        true, value, se = np.array([r.all_measures[heading] for r in found]).T
        error = wrapped("deg" if "in degrees" in heading else heading, value - true)
        cover = np.mean(np.abs(error) <= 1.96 * se)
        print(f"{error.mean():8.3f} {np.abs(error).mean():8.3f} {cover:6.3f}  {heading}")


def _line(view: str, rows: list[Found], name: str, unit: float) -> str:
    true = np.array([r.true[name] for r in rows])
    error = wrapped(name, np.array([r.measured[name] for r in rows]) - true) * unit
    se = np.array([r.measured[MEASURE_OF[name].error_field] for r in rows]) * unit
    naive = [(r.naive[name], r.true[name]) for r in rows if r.naive]
    naive_error = wrapped(name, np.array([a - b for a, b in naive])) * unit
    near = np.abs(error) < 60 if name.endswith("deg") else np.ones(len(error), bool)
    slope = np.polyfit(true[near], (true + error / unit)[near], 1)[0] if near.sum() > 2 else np.nan
    limit = np.mean([r.limit[name] for r in rows]) * unit
    held = np.abs(error) <= 1.96 * se
    low, high = chance_interval([r.clip for r in rows], held)
    return (
        f"{view:>16} {len(rows):5d} {error.mean():6.2f} {np.abs(error).mean():6.2f} "
        f"{np.percentile(np.abs(error), 95):6.2f} {slope:6.2f} "
        f"{held.mean():6.3f} {low:.3f} to {high:.3f} {limit:6.2f} {naive_error.mean():10.2f} "
        f"{np.abs(naive_error).mean():10.2f}"
    )


def chance_interval(clips: Sequence[str], held: np.ndarray) -> tuple[float, float]:
    """95 % interval of a rate over ready positions of which those of one clip belong together.

    The bootstrap by percentiles, with whole clips drawn (A. C. Davison and D. V. Hinkley,
    Bootstrap Methods and their Application, 1997, section 3.8).
    """
    names, clip = np.unique(clips, return_inverse=True)
    drawn = np.random.default_rng(0).multinomial(
        len(names), np.full(len(names), 1 / len(names)), CLIP_DRAWS
    )
    rates = drawn @ np.bincount(clip, held) / (drawn @ np.bincount(clip))
    low, high = np.percentile(rates, (2.5, 97.5))
    return float(low), float(high)


def limit_distance(true: dict[str, float]) -> float:
    """Degrees by which lead angle and hip yaw must change together for another class.

    To half a degree, and no more than `FARTHEST_DEG`.
    """
    steps = np.arange(-FARTHEST_DEG, FARTHEST_DEG + 0.5, 0.5)
    lead, hips = np.meshgrid(steps, steps)
    around = class_index(
        wrapped("deg", true["lead_angle_deg"] + lead), wrapped("deg", true["hip_yaw_deg"] + hips)
    )
    other = around != class_index(true["lead_angle_deg"], true["hip_yaw_deg"])
    return float(np.hypot(lead, hips)[other].min(initial=FARTHEST_DEG))


def print_classes(found: list[Found]) -> None:
    """Print confusion, F1 and the share not assessed."""
    for title, rows in (
        ("all", found),
        (
            "5 degrees or more from where the class changes",
            [r for r in found if limit_distance(r.true) >= 5],
        ),
    ):
        assessed = [r for r in rows if r.measured_class != NOT_ASSESSED]
        confusion = np.array(
            [
                [
                    sum(r.true_class == t and r.measured_class == s for r in assessed)
                    for s in CLASSES
                ]
                for t in CLASSES
            ]
        )
        with np.errstate(invalid="ignore"):
            f1 = 2 * np.diag(confusion) / (confusion.sum(0) + confusion.sum(1))
        print(
            f"\nclasses, {title}: macro F1 {np.nanmean(f1):.3f}, not assessed "
            f"{1 - len(assessed) / max(len(rows), 1):.3f} of {len(rows)}"
        )
        for name, line in zip(CLASSES, confusion, strict=True):
            print(f"  true {name:<26}" + " ".join(f"{n:5d}" for n in line))


def print_shares(rows: list[Found]) -> None:
    """Print how far the shares per clip are from the truth, and would be at the limit."""
    off = share_error(rows, [r.measured_class for r in rows])
    rng = np.random.default_rng(0)
    limit = np.mean([share_error(rows, limit_classes(rows, rng)) for _ in range(LIMIT_DRAWS)])
    print(
        f"\nshare per clip: {100 * off:.1f} points from the truth on average; {100 * limit:.1f} "
        "with every ready position found and perfect landmarks"
    )


def share_error(rows: list[Found], classes: Sequence[str | None]) -> float:
    """Mean distance of a clip's share of a class from the truth, as a part of 1."""
    off = []
    for clip in sorted({r.clip for r in rows}):
        mine = [
            (r.true_class, measured)
            for r, measured in zip(rows, classes, strict=True)
            if r.clip == clip
        ]
        assessed = [measured for _, measured in mine if measured not in (None, NOT_ASSESSED)]
        if assessed:
            off += [
                abs(
                    np.mean([measured == c for measured in assessed])
                    - np.mean([true == c for true, _ in mine])
                )
                for c in CLASSES
            ]
    return float(np.mean(off))


def limit_classes(rows: list[Found], rng: np.random.Generator) -> list[str]:
    """Classes of true ready positions at the errors that perfect landmarks leave."""
    measured = []
    for r in rows:
        lead_se, hip_se = (
            r.limit[name] / MEAN_OF_NORMAL for name in ("lead_angle_deg", "hip_yaw_deg")
        )
        lead = r.true["lead_angle_deg"] + lead_se * rng.standard_normal()
        hips = r.true["hip_yaw_deg"] + hip_se * rng.standard_normal()
        measured.append(classify(lead, class_probabilities(lead, lead_se, hips, hip_se))[0])
    return measured


def draw_errors(rows: list[Found], path: Path) -> None:
    """Draw errors against the true angle, the distance and the view."""
    from matplotlib.figure import Figure

    found = [r for r in rows if r.measured is not None]
    figure = Figure(figsize=(12, 9), layout="constrained")
    axes = figure.subplots(len(MEASURES), 3)
    for line, (name, title, unit) in zip(axes, MEASURES, strict=True):

        def errors(some: list[Found], name: str = name, unit: float = unit) -> np.ndarray:
            return wrapped(name, np.array([r.measured[name] - r.true[name] for r in some])) * unit

        for view in VIEWS:
            some = [r for r in found if r.view == view]
            if some:
                line[0].plot([r.true[name] * unit for r in some], errors(some), ".", label=view)
                line[1].plot([r.distance for r in some], errors(some), ".", label=view)
        line[2].boxplot([np.abs(errors([r for r in found if r.view == view])) for view in VIEWS])
        line[2].set_xticks(range(1, len(VIEWS) + 1), VIEWS)
        line[0].set(xlabel=f"true {title}", ylabel=f"error of {title}")
        line[1].set(xlabel="distance of the phone, m", ylabel="error")
        line[2].set(ylabel="absolute error")
        for plot in line[:2]:
            plot.axhline(0.0, color="grey", linewidth=0.8)
    axes[0, 0].legend()
    figure.savefig(path, dpi=75)


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.accuracy", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--plot", type=Path, help="draw the errors into this picture")
    parser.add_argument("--save", type=Path, help="write the rows as JSON, to plot")
    arguments = parser.parse_args()
    clips = sorted(arguments.folder.glob("*.mp4"))
    with multiprocessing.get_context("spawn").Pool(arguments.workers) as pool:
        parts = pool.map(evaluate, clips, chunksize=1)
    rows = [row for part, _ in parts for row in part]
    if arguments.save:
        arguments.save.write_text(json.dumps([asdict(row) for row in rows]))
    if arguments.plot:
        draw_errors(rows, arguments.plot)
    print_table(rows, sum(false for _, false in parts))


if __name__ == "__main__":
    main()
