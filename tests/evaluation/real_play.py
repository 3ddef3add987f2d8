"""How accurate the tool is on real rallies that were labelled by eye.

`python -m tests.evaluation.real_play CLIPS LABELS` analyses the labelled clips of a folder outside
the project as a user would (court found, hand seen, near half) and prints the figures of
`play_accuracy`, with the stance's width in parts of the body's height. LABELS holds contacts.json
and feet.json:

contacts.json: by the clip's path (its file name counts) `near` and `far`, the strokes of the near
and the far player as [frame, +- frames], the rally's first one its serve, and `whole`, whether the
labels cover all of the clip; where not, what lies outside of them is not judged.

feet.json: a list of strokes of the far player (`clip`, `contact`) with `set_frame`, the frame in
which the near player has both feet down, null where on the move; `hand`; `left` and `right`, null
or `heel` and `toe` in pixels (or `ball` where these can't be told apart). Where heel and toe of
both feet are known, the clip's own found court makes lead angle and stagger of them; `sigma_px` is
the marks' standard error.

Frame numbers become seconds by the clip's own frame times. With `--only LIST` the clips whose names
stand in a file, a line each, are judged: those that something was chosen on, or those kept apart.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np

from stance.court.camera import Camera, floor_point
from stance.measures.orientation import line_yaw
from stance.results.model import PlayerResult, Result
from stance.types import Hand
from tests.evaluation.accuracy import wrapped
from tests.evaluation.kept_analyses import KeptAnalysis, Task, analysis_arguments, score_clips
from tests.evaluation.stroke_tables import (
    HandRow,
    clip_table,
    hand_table,
    known_table,
    measure_table,
    met_table,
    notice_table,
    serve_table,
    spell_table,
    stroke_table,
)
from tests.evaluation.strokes import (
    FoundStroke,
    Row,
    Setting,
    TrueStroke,
    found_faced,
    found_own,
    pair_strokes,
)
from tests.evaluation.tables import Table, mean, report_tables

VIEW, OPPOSITE = "behind", "player"
# Strokes found so long before the first label and after the last one are judged all the same.
AROUND_LABELS_S = 0.5
# The next stroke is played from so much further back: the player moved to the rear court.
REARWARDS_M = 1.0


@dataclass(frozen=True)
class Labels:
    """What is known of one clip."""

    clip: Path
    near: list[int]
    far: list[int]
    whole: bool
    feet: dict[int, dict[str, Any]]


@dataclass(frozen=True)
class WidthRow:
    """A stance's width over the body's height, measured and marked, and whether it went back."""

    measured: float
    marked: float | None
    rearwards: bool


@dataclass(frozen=True)
class ClipScore:
    """What was found of one clip."""

    faced: list[Row]
    own: list[Row]
    hands: list[HandRow]
    widths: list[WidthRow]
    court: str


def read_labels(clips: Path, labels: Path, only: Path | None) -> list[Labels]:
    """The labelled clips that are in a folder."""
    contacts = json.loads((labels / "contacts.json").read_text())
    feet = json.loads((labels / "feet.json").read_text())
    listed = None if only is None else {Path(name).stem for name in only.read_text().split()}
    found = []
    for name, content in sorted(contacts.items()):
        clip = clips / Path(name).name
        if not clip.exists() or (listed is not None and clip.stem not in listed):
            continue
        marks = {entry["contact"]: entry for entry in feet if entry["clip"] == name}
        near, far = ([frame for frame, _ in content[side]] for side in ("near", "far"))
        found.append(Labels(clip, near, far, content["whole"], marks))
    return found


def score_clip(kept: KeptAnalysis, labels: Labels) -> ClipScore:
    """Compare a clip's analysis with its labels."""
    result, name = kept.result, labels.clip.stem
    times = kept.seen.times if kept.seen else read_times(labels.clip)
    player = _near_player(result)
    hands = {entry["hand"] for entry in labels.feet.values()}
    hand: Hand | None = hands.pop() if len(hands) == 1 else None
    hand_right = player is None or hand in (None, player.hand)
    camera = _found_camera(result)
    true = [_true_faced(labels, frame, times, hand, camera) for frame in labels.far]
    own = [TrueStroke(times[frame], serve=False) for frame in labels.near]
    setting = Setting(name, VIEW, OPPOSITE, hand_right)
    faced_rows = pair_strokes(setting, true, _labelled(found_faced(player), labels, times))
    own_rows = pair_strokes(setting, own, _labelled(found_own(player), labels, times))
    return ClipScore(
        faced_rows,
        own_rows,
        [HandRow(name, hand, player.hand, player.hand_confidence)] if player and hand else [],
        _widths(kept, player, faced_rows, own),
        "refused" if result is None else result.court.source,
    )


def marked_measures(camera: Camera, mark: dict[str, Any], hand: Hand) -> dict[str, float]:
    """Lead angle, stagger and width of feet marked by hand; empty where a heel or toe is not.

    Parameters
    ----------
    camera : Camera
        In the frame of the player's half.
    mark : dict
        An entry of feet.json.
    hand : {"right", "left"}
        The racket hand.
    """
    sides = (hand, "left" if hand == "right" else "right")
    if any(not mark[side] or "heel" not in mark[side] for side in sides):
        return {}
    racket, other = (
        floor_point(camera, [mark[side]["heel"], mark[side]["toe"]])[:, :2].mean(axis=0)
        for side in sides
    )
    return {
        "lead_angle_deg": float(line_yaw(other, racket, hand)),
        "foot_stagger_m": float(racket[1] - other[1]),
        "stance_width_m": float(np.linalg.norm(racket - other)),
    }


def marked_errors(camera: Camera, mark: dict[str, Any], hand: Hand) -> dict[str, float]:
    """Standard errors of `marked_measures` from that of the marks, `sigma_px`, each way.

    Of first order: what each coordinate, moved by its standard error, changes, added in squares.
    """
    measures = marked_measures(camera, mark, hand)
    squares = dict.fromkeys(measures, 0.0)
    for side, point, axis in product(("left", "right"), ("heel", "toe"), (0, 1)):
        if not measures:
            break
        moved = list(mark[side][point])
        moved[axis] += mark["sigma_px"]
        changed = marked_measures(camera, mark | {side: mark[side] | {point: moved}}, hand)
        for name, value in measures.items():
            change = float(wrapped(name, np.array(changed[name] - value)))
            squares[name] += change**2
    return {name: square**0.5 for name, square in squares.items()}


def read_times(clip: Path) -> list[float]:
    """Times of a clip's frames, seconds."""
    from stance.video.reader import read_frames

    return [frame.time_s for frame in read_frames(clip)]


def _true_faced(
    labels: Labels, frame: int, times: Sequence[float], hand: Hand | None, camera: Camera | None
) -> TrueStroke:
    """A stroke of the far player, with what is known of how the near player met it."""
    serve = frame == labels.far[0] and frame < min(labels.near, default=frame + 1)
    mark = labels.feet.get(frame)
    if mark is None:
        return TrueStroke(times[frame], serve)
    if mark["set_frame"] is None:
        return TrueStroke(times[frame], serve, "on_the_move")
    known = camera is not None and hand is not None
    measures = marked_measures(camera, mark, hand) if known else {}
    errors = marked_errors(camera, mark, hand) if known else {}
    # The labels say nothing earlier than three frames before the contact, so a landing is known
    # only where it is not at that edge.
    landing = times[mark["set_frame"]] if mark["set_frame"] > frame - 3 else None
    return TrueStroke(times[frame], serve, "set", landing, None, measures, errors)


def _near_player(result: Result | None) -> PlayerResult | None:
    players = [] if result is None else [p for p in result.players if p.half == "near"]
    return players[0] if players else None


def _found_camera(result: Result | None) -> Camera | None:
    """The found court's camera; None where the court was not found."""
    if result is None or result.court.source != "found" or result.court.camera is None:
        return None
    found = result.court.camera
    K, R, t = (np.array(part) for part in (found.K, found.R, found.t))
    return Camera(K, R, t, result.clip.size, distortion=found.distortion)


def _labelled(
    strokes: Sequence[FoundStroke], labels: Labels, times: Sequence[float]
) -> list[FoundStroke]:
    """The found strokes in the part of the clip that the labels cover."""
    if labels.whole:
        return list(strokes)
    frames = [*labels.near, *labels.far]
    first = times[min(frames)] - AROUND_LABELS_S
    last = times[max(frames)] + AROUND_LABELS_S
    return [stroke for stroke in strokes if first <= stroke.time_s <= last]


def _widths(
    kept: KeptAnalysis,
    player: PlayerResult | None,
    faced: Sequence[Row],
    own: Sequence[TrueStroke],
) -> list[WidthRow]:
    """Widths at strokes that were found and met set, where the court was found."""
    if player is None or kept.seen is None or kept.result.court.source != "found":
        return []
    height = kept.seen.heights_m[player.player]
    times, _, depth = np.array(kept.seen.places[player.player]).T
    rows = []
    for row in faced:
        if row.true is None or row.found is None or row.found.position is None:
            continue
        later = [stroke.time_s for stroke in own if stroke.time_s > row.true.time_s]
        here, there = np.interp([row.true.time_s, min(later, default=0.0)], times, depth)
        marked = row.true.measures.get("stance_width_m")
        rows.append(
            WidthRow(
                row.found.position.stance_width_m / height,
                None if marked is None else marked / height,
                bool(later) and here - there > REARWARDS_M,
            )
        )
    return rows


def _width_table(rows: Sequence[WidthRow]) -> Table:
    lines = []
    for name, mine in (
        ("all", rows),
        (f"next stroke {REARWARDS_M:g} m or more further back", [r for r in rows if r.rearwards]),
    ):
        measured = np.array([row.measured for row in mine])
        marked = [row.marked for row in mine if row.marked is not None]
        lines.append(
            {
                "": name,
                "n": len(mine),
                "measured": mean(measured),
                "SD": float(measured.std(ddof=1)) if len(mine) > 1 else None,
                "n marked": len(marked),
                "marked": mean(marked),
            }
        )
    return Table("stance width over body height (of when the player stands tallest)", lines)


def _tables(scores: Sequence[ClipScore], results: Sequence[Result | None]) -> list[Table]:
    faced = [row for score in scores for row in score.faced]
    own = [row for score in scores for row in score.own]
    courts = [score.court for score in scores]
    return [
        clip_table(faced, "strokes faced"),
        stroke_table(faced, "strokes faced"),
        known_table(faced),
        serve_table(faced),
        stroke_table(own, "own strokes"),
        met_table(faced),
        spell_table(faced),
        measure_table(faced),
        _width_table([row for score in scores for row in score.widths]),
        hand_table([hand for score in scores for hand in score.hands]),
        Table(
            "courts", [{"clips": len(courts)} | {c: courts.count(c) for c in sorted(set(courts))}]
        ),
        notice_table(results),
    ]


def main() -> None:
    """Run as a command."""
    parser = analysis_arguments("tests.evaluation.real_play", __doc__)
    parser.add_argument("clips", type=Path, help="a folder outside the project")
    parser.add_argument("labels", type=Path, help="the folder of contacts.json and feet.json")
    parser.add_argument("--only", type=Path, metavar="LIST", help="a file of names of clips")
    arguments = parser.parse_args()
    labels = read_labels(arguments.clips, arguments.labels, arguments.only)
    tasks = [Task(each.clip, None, "near") for each in labels]
    scores, results = score_clips(tasks, labels, score_clip, arguments.clips / "kept", arguments)
    report_tables(_tables(scores, results), arguments.json)


if __name__ == "__main__":
    main()
