"""How accurate the tool is on rendered clips of play.

`python -m tests.evaluation.play_accuracy FOLDER` analyses every clip of a folder from clip to
report (court file given, hand seen) and prints: strokes faced and own strokes found, one to one
with the true ones (`strokes.match_times`), and errors of their times; met set or on the move; times
of landing and leaving; errors of hip yaw, lead angle and foot stagger and what their intervals
hold; classes; racket hands; where nobody is seen or heard to strike, the ready positions found. A
folder holds NAME.mp4, NAME.court.json and NAME.truth.json, as `python -m tests.rendering play`
writes them.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import linear_sum_assignment

from stance.court.camera import camera_centre
from stance.results.model import PlayerResult, ReadyPosition, Result
from tests.evaluation.accuracy import overlap, true_camera
from tests.evaluation.kept_analyses import KeptAnalysis, Task, analysis_arguments, score_clips
from tests.evaluation.stroke_tables import (
    HandRow,
    class_tables,
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
    JUDGED,
    Row,
    Setting,
    TrueStroke,
    found_faced,
    found_own,
    pair_strokes,
)
from tests.evaluation.tables import Table, report_tables, share
from tests.rendering.play.attacker import NOBODY, OUT

# Who is further than this from a true defender on average is somebody else.
FARTHEST_M = 1.5
WAIT_OVERLAP = 0.5


@dataclass(frozen=True)
class ClipScore:
    """What was found of one clip."""

    faced: list[Row]
    own: list[Row]
    hands: list[HandRow]
    waits: tuple[int, int, int]  # true, found, reported
    strangers: int
    unseen: int


def score_clip(kept: KeptAnalysis, truth: dict[str, Any]) -> ClipScore:
    """Compare a clip's analysis with its truth."""
    defenders = [truth, *([truth["partner"]] if "partner" in truth else [])]
    players = who_is_who(kept, defenders, truth["frame_rate"])
    faced, own, hands = [], [], []
    waits = np.zeros(3, int)
    for defender, player in zip(defenders, players, strict=True):
        hand = defender["player"]["hand"]
        hand_right = player is None or player.hand == hand
        setting = Setting(kept.task.clip.stem, truth["view"], truth["opposite"], hand_right)
        faced += pair_strokes(setting, true_faced(defender), found_faced(player))
        own += pair_strokes(setting, true_own(defender), found_own(player))
        if player is not None:
            hands.append(HandRow(kept.task.clip.stem, hand, player.hand, player.hand_confidence))
        if truth["opposite"] == NOBODY or (truth["opposite"] == OUT and not truth["sound"]):
            waits += match_waits(defender["ready_positions"], player)
    reported = 0 if kept.result is None else len(kept.result.players)
    known = sum(player is not None for player in players)
    counts = (int(waits[0]), int(waits[1]), int(waits[2]))
    return ClipScore(faced, own, hands, counts, reported - known, len(players) - known)


def true_faced(defender: dict[str, Any]) -> list[TrueStroke]:
    """The strokes that a defender faces."""
    return [
        TrueStroke(
            stroke["time_s"],
            stroke["serve"],
            "set" if stroke["set"] else "on_the_move",
            stroke.get("planted_start_s"),
            stroke.get("planted_end_s"),
            {name: stroke[name] for name in JUDGED if name in stroke},
        )
        for stroke in defender["strokes"]
        if stroke["side"] == "faced"
    ]


def true_own(defender: dict[str, Any]) -> list[TrueStroke]:
    """A defender's own strokes; the report does not tell serves among them."""
    own = [stroke for stroke in defender["strokes"] if stroke["side"] == "own"]
    return [TrueStroke(stroke["time_s"], serve=False) for stroke in own]


def who_is_who(
    kept: KeptAnalysis, defenders: Sequence[dict[str, Any]], rate: float
) -> list[PlayerResult | None]:
    """The reported player of each defender, by where both are; None for who was not found."""
    if kept.result is None or kept.seen is None or not kept.result.players:
        return [None] * len(defenders)
    away = np.array(
        [
            [_median_distance(d, kept.seen.places[p.player], rate) for p in kept.result.players]
            for d in defenders
        ]
    )
    found: list[PlayerResult | None] = [None] * len(defenders)
    # Places are not known where the court is not.
    farthest = np.inf if kept.result.court.source == "assumed" else FARTHEST_M
    for d, p in zip(*linear_sum_assignment(away), strict=True):
        if away[d, p] <= farthest:
            found[d] = kept.result.players[p]
    return found


def match_waits(true: Sequence[dict[str, Any]], player: PlayerResult | None) -> np.ndarray:
    """True waits, those that a reported one overlaps by half or more, and reported ones."""
    found: Sequence[ReadyPosition] = () if player is None else player.ready_positions
    shared = np.array([[overlap(t, vars(f)) for f in found] for t in true])
    shared = shared.reshape(len(true), len(found))
    pairs = linear_sum_assignment(shared, maximize=True)
    return np.array([len(true), (shared[pairs] >= WAIT_OVERLAP).sum(), len(found)])


def _median_distance(
    defender: dict[str, Any], places: Sequence[tuple[float, float, float]], rate: float
) -> float:
    """How far a player's base is from between a defender's ankles, metres."""
    if not places:
        return 1e3
    times, *place = np.array(places).T
    ankles = [defender["joint_names"].index(f"{side}_ankle") for side in ("left", "right")]
    true = np.array(defender["joints"])[:, ankles, :2].mean(axis=1)
    frames = np.clip(np.round(times * rate).astype(int), 0, len(true) - 1)
    return float(np.median(np.linalg.norm(np.stack(place, axis=1) - true[frames], axis=1)))


def _tables(scores: Sequence[ClipScore], results: Sequence[Result | None]) -> list[Table]:
    faced = [row for score in scores for row in score.faced]
    own = [row for score in scores for row in score.own]
    waits = np.sum([score.waits for score in scores], axis=0).tolist()
    return [
        stroke_table(faced, "strokes faced"),
        known_table(faced),
        serve_table(faced),
        stroke_table(own, "own strokes"),
        met_table(faced),
        spell_table(faced),
        measure_table(faced),
        *class_tables(faced),
        hand_table([hand for score in scores for hand in score.hands]),
        Table(
            "ready positions where nobody is seen or heard to strike, overlapped by half or more",
            [
                {
                    "true": waits[0],
                    "found": waits[1],
                    "reported": waits[2],
                    "recall": share(waits[1], waits[0]),
                    "precision": share(waits[1], waits[2]),
                }
            ],
        ),
        Table(
            "players",
            [
                {
                    "clips": len(scores),
                    "defenders not found": sum(score.unseen for score in scores),
                    "others reported": sum(score.strangers for score in scores),
                }
            ],
        ),
        notice_table(results),
    ]


def _task(clip: Path, truth: dict[str, Any], find_court: bool) -> Task:
    """A marked court has the defender on its near half; a found one's is that by the phone."""
    if not find_court:
        return Task(clip, clip.with_suffix(".court.json"), "near")
    return Task(clip, None, "near" if camera_centre(true_camera(truth))[1] < 0 else "far")


def main() -> None:
    """Run as a command."""
    parser = analysis_arguments("tests.evaluation.play_accuracy", __doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--find-court", action="store_true", help="leave out the court files")
    arguments = parser.parse_args()
    clips = sorted(arguments.folder.glob("*.mp4"))
    truths = [json.loads(clip.with_suffix(".truth.json").read_text()) for clip in clips]
    tasks = [_task(c, t, arguments.find_court) for c, t in zip(clips, truths, strict=True)]
    scores, results = score_clips(tasks, truths, score_clip, arguments.folder / "kept", arguments)
    report_tables(_tables(scores, results), arguments.json)


if __name__ == "__main__":
    main()
