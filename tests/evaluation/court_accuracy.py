"""How well the court finds itself in rendered clips.

`python -m tests.evaluation.court_accuracy [--count N] [--split test] [--hall HALL]` renders nine
pictures of each of N clips, as the analysis would take them, leaves the court unmarked, and prints
per view: clips whose picture shows two lines along and two across the court, how many of their
courts are found, wrong courts, and the error of floor points in the defenders' half that are in the
picture. A court is wrong if any such point is off by more than 15 cm, after a turn by 180 degrees
where needed.
HALL is "laws", where the net hangs by the Laws; "nets", where it hangs up to 4 cm too high or low
and its middle up to 8 cm lower still; or "school", where the floor also has all lines of
volleyball, basketball and handball, and the net hangs so.

`python -m tests.evaluation.court_accuracy --clips FOLDER` analyses each clip of a folder twice,
with its marked court (NAME.court.json) and without it, and prints how often a ready position gets
the same class.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stance.analysis import analyse
from stance.assessment.analysis_model import Analysis
from stance.court.calibration import FoundCourt
from stance.court.camera import Camera, floor_parameter_jacobian, floor_point, project
from stance.court.detection.detect import find_court
from stance.court.detection.feet import find_moving_feet
from stance.court.dimensions import court_lines
from stance.results.model import ReadyPosition
from tests.evaluation.halls import hang_net, in_hall, paint_school
from tests.rendering.cameras import VIEWS, ViewCamera
from tests.rendering.clips import Clip, draw_clip
from tests.rendering.frames import as_coded, frames
from tests.rendering.hall import Hall

WRONG_M = 0.15
SHOWN_M = 1.0
PICTURES = 9
HALLS: dict[str, Callable[[Hall, np.random.Generator], Hall]] = {
    "laws": lambda hall, _: hall,
    "nets": hang_net,
    "school": lambda hall, rng: paint_school(hang_net(hall, rng), rng),
}


@dataclass(frozen=True)
class Outcome:
    """One clip: `shows` enough lines; `errors` (n,) metres of floor points where it was found.

    `spread` (n,) is the standard deviation, metres, that the found court claims for them.
    """

    view: str
    shows: bool
    found: FoundCourt
    errors: np.ndarray
    spread: np.ndarray

    @property
    def wrong(self) -> bool:
        """Whether a court was claimed that is not there."""
        return bool(len(self.errors) and self.errors.max() > WRONG_M)


@dataclass(frozen=True)
class Glimpses(Clip):
    """A clip of which only a few pictures are rendered."""

    pictures: int = PICTURES

    @property
    def frame_times(self) -> np.ndarray:
        times = super().frame_times
        return times[np.linspace(0, len(times) - 1, self.pictures).astype(int)]


def true_camera(camera: ViewCamera) -> Camera:
    """The renderer's camera as one of the tool's."""
    return Camera(
        camera.matrix, camera.rotation, camera.translation, camera.size, None, camera.distortion
    )


def lines_shown(camera: Camera) -> tuple[int, int]:
    """How many lines along and across show at least `SHOWN_M` of their length."""
    counts = [0, 0]
    for line in court_lines():
        share = np.linspace(0.0, 1.0, 200)[:, None]
        ends = np.array([[line.x[0], line.y[0], 0.0], [line.x[1], line.y[1], 0.0]])
        extent = np.ptp(ends[:, :2], axis=0)
        with np.errstate(invalid="ignore"):
            pixels = project(camera, ends[0] + share * (ends[1] - ends[0]))
            inside = ((pixels > 0) & (pixels < camera.image_size)).all(axis=1)
        counts[int(extent[0] > extent[1])] += inside.mean() * extent.max() >= SHOWN_M
    return counts[0], counts[1]


def floor_errors(true: Camera, found: Camera) -> tuple[np.ndarray, np.ndarray]:
    """Errors (n,) of points of the defenders' half in the picture, and the claimed spread."""
    grid = np.array([[x, y, 0.0] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.5, 0, 14)])
    with np.errstate(invalid="ignore"):
        pixels = project(true, grid)
        inside = ((pixels > 0) & (pixels < true.image_size)).all(axis=1)
    pixels, grid = pixels[inside], grid[inside, :2]
    places = floor_point(found, pixels)[:, :2]
    errors = [np.linalg.norm(places - sign * grid, axis=1) for sign in (1, -1)]
    best = min((np.nan_to_num(e, nan=99.0) for e in errors), key=np.median)
    by_camera = floor_parameter_jacobian(found, pixels)
    spread = np.einsum("nip,pq,niq->n", by_camera, found.covariance, by_camera)
    return best, np.sqrt(spread)


def pictures_of(clip: Clip, number: int = PICTURES) -> list[np.ndarray]:
    """Pictures spread over the clip, compressed about as the clip would be."""
    return [
        as_coded(image, clip.finish) for image in frames(Glimpses(**vars(clip), pictures=number))
    ]


def search_court(clip: Clip) -> FoundCourt:
    """Search the court in pictures of a clip as the analysis would."""
    pictures = pictures_of(clip)
    still = np.partition(np.stack(pictures), len(pictures) // 2, axis=0)[len(pictures) // 2]
    return find_court(still, find_moving_feet(pictures, still))


def evaluate(seed: int, split: str, hall: str) -> Outcome:
    """Search the court of one clip in one of `HALLS`."""
    clip = draw_clip(seed, split, positions=3)
    if hall != "laws":
        clip = in_hall(clip, HALLS[hall](clip.scene.hall, np.random.default_rng([seed, 1])))
    found = search_court(clip)
    true = true_camera(clip.camera)
    errors = spread = np.zeros(0)
    if found.court is not None:
        errors, spread = floor_errors(true, found.court.camera)
    return Outcome(clip.view, min(lines_shown(true)) >= 2, found, errors, spread)


def row(name: str, outcomes: list[Outcome]) -> str:
    """One line of the table."""
    showing = [o for o in outcomes if o.shows]
    right = [o for o in showing if len(o.errors) and not o.wrong]
    found = [o for o in outcomes if len(o.errors)]
    errors = np.concatenate([o.errors for o in found]) if found else np.array([np.nan])
    ratio = np.concatenate([o.errors / o.spread for o in found]) if found else np.array([np.nan])
    # Half of all places lie within 0.67 (errors along one direction) to 0.83 (along all alike).
    return (
        f"| {name} | {len(outcomes)} | {len(showing)} | "
        f"{100 * len(right) / max(len(showing), 1):.0f} % | {sum(o.wrong for o in found)} | "
        f"{100 * np.median(errors):.1f} | {100 * np.percentile(errors, 95):.1f} | "
        f"{100 * errors.max():.1f} | {np.median(ratio):.1f} |"
    )


@dataclass(frozen=True)
class Agreement:
    """Ready positions of a clip with the marked and with the found court.

    `marked`: those with the marked court; `paired`: those of them at a time at which the same
    player waits with the found court too; `other_hand`: pairs of players who are taken for
    right-handed with one court and for left-handed with the other, neither for sure; `assessed`:
    other pairs both of which have a class; `same`: pairs of these with the same class.
    """

    marked: int = 0
    paired: int = 0
    other_hand: int = 0
    assessed: int = 0
    same: int = 0


def pairs_of(
    marked: Analysis,
    found: Analysis,
) -> list[tuple[ReadyPosition, ReadyPosition, bool]]:
    """Ready positions of the same player that share most of their frames; whether one hand."""
    pairs = []
    for player in marked.result.players:
        track = marked.tracks[player.player]
        away = {
            other.player: np.nanmedian(
                np.abs(
                    found.tracks[other.player].between(track.frames, track.times).pixels
                    - track.pixels
                )
            )
            for other in found.result.players
        }
        if not away:
            continue
        same = min(away, key=lambda letter: away[letter])
        partner = next(p for p in found.result.players if p.player == same)
        others = partner.ready_positions
        for position in player.ready_positions:
            shared = [
                min(position.end_frame, other.end_frame)
                - max(position.start_frame, other.start_frame)
                for other in others
            ]
            if shared and max(shared) > 0.5 * (position.end_frame - position.start_frame):
                pairs.append(
                    (position, others[int(np.argmax(shared))], player.hand == partner.hand)
                )
    return pairs


def agreement(clip: Path) -> tuple[Agreement | None, str]:
    """How far the classes agree; None, and why, where no court is found."""
    found = analyse(clip)
    if found.result.court.source != "found":
        return None, next(n.text for n in found.result.warnings if n.code == "court_assumed")
    marked = analyse(clip, clip.with_suffix(".court.json"))
    pairs = pairs_of(marked, found)
    assessed = [
        (a, b)
        for a, b, one_hand in pairs
        if one_hand and "not_assessed" not in (a.stance_class, b.stance_class)
    ]
    return Agreement(
        sum(len(p.ready_positions) for p in marked.result.players),
        len(pairs),
        sum(not one_hand for *_, one_hand in pairs),
        len(assessed),
        sum(a.stance_class == b.stance_class for a, b in assessed),
    ), ""


def compare_classes(folder: Path) -> None:
    """Print the classes' agreement over the clips of a folder."""
    agreements = []
    clips = sorted(folder.glob("[!.]*.mp4"))
    for clip in clips:
        entry, reason = agreement(clip)
        print(f"{clip.name}: {entry or reason}", flush=True)
        agreements += [entry] if entry else []
    total = Agreement(
        *(
            sum(getattr(a, name) for a in agreements)
            for name in ("marked", "paired", "other_hand", "assessed", "same")
        )
    )
    print(
        f"court found in {len(agreements)} of {len(clips)} clips; of {total.marked} ready "
        f"positions with the marked court {total.paired} are there with the found one; "
        f"{total.other_hand} are of players whose hand is taken for the other one; "
        f"{total.assessed} of the rest have a class with both, {total.same} "
        f"({total.same / max(total.assessed, 1):.1%}) the same"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.court_accuracy", description=__doc__.splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--split", default="test", choices=("train", "tune", "test"))
    parser.add_argument("--hall", default="laws", choices=HALLS)
    parser.add_argument("--clips", type=Path, help="folder of clips whose classes to compare")
    options = parser.parse_args()
    if options.clips:
        compare_classes(options.clips)
        return
    outcomes = []
    for seed in range(options.first, options.first + options.count):
        outcome = evaluate(seed, options.split, options.hall)
        outcomes.append(outcome)
        if outcome.wrong or (outcome.shows and outcome.found.court is None):
            print(
                f"clip {seed}, {outcome.view}: {'WRONG' if outcome.wrong else 'not found'} "
                f"({outcome.found.confidence:.2f}) {outcome.found.reason} "
                f"{outcome.errors.round(2)} {outcome.spread.round(2)}",
                flush=True,
            )
    print(
        "\n| view | clips | show two lines each way | of these found | wrong | error, median cm "
        "| 95th percentile | largest | error by claimed standard deviation, median |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for view in VIEWS:
        print(row(view, [o for o in outcomes if o.view == view]))
    print(row("all", outcomes))


if __name__ == "__main__":
    main()
