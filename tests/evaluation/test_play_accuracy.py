"""Rendered play: a result that says the truth has no errors."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from stance.results.model import OwnStroke, StrokeFaced
from stance.statistics.shares import class_shares
from tests.evaluation.kept_analyses import KeptAnalysis, Seen, Task
from tests.evaluation.play_accuracy import score_clip
from tests.evaluation.stroke_tables import measure_table, met_table, stroke_table
from tests.rendering.play.attacker import NOBODY
from tests.rendering.play.clip import Options, draw_play
from tests.rendering.play.truth import play_truth
from tests.unit.results.invented import invented_player, invented_position, invented_result


def true_player(letter, defender):
    """The player that a tool without errors would report."""
    positions, faced, own = [], [], []
    for stroke in defender["strokes"]:
        if stroke["side"] == "own":
            own.append(OwnStroke(stroke["time_s"], 0.02))
            continue
        if stroke["set"]:
            positions.append(_position(stroke, "planted_"))
        index = len(positions) - 1 if stroke["set"] else None
        met = "set" if stroke["set"] else "on_the_move"
        faced.append(StrokeFaced(stroke["time_s"], 0.02, ("seen",), stroke["serve"], met, index))
    if not faced:
        positions = [_position(position, "") for position in defender["ready_positions"]]
    return replace(
        invented_player(letter, defender["player"]["hand"]),
        ready_positions=tuple(positions),
        shares=class_shares(positions),
        strokes_faced=tuple(faced),
        own_strokes=tuple(own),
    )


def _position(true, prefix):
    return invented_position(
        true["lead_angle_deg"],
        true["hip_yaw_deg"],
        foot_stagger_m=true["foot_stagger_m"],
        stance_class=true["class"],
        **{name: true[prefix + name] for name in ("start_s", "end_s", "start_frame", "end_frame")},
    )


def kept(truth, defenders):
    """An analysis without errors; players come in the given order."""
    ankles = [truth["joint_names"].index(f"{side}_ankle") for side in ("left", "right")]
    players, places = [], {}
    for letter, defender in zip("AB", defenders, strict=False):
        players.append(true_player(letter, defender))
        base = np.array(defender["joints"])[:, ankles, :2].mean(axis=1)
        times = np.arange(len(base)) / truth["frame_rate"]
        places[letter] = np.column_stack([times, base]).tolist()
    task = Task(Path("clip.mp4"), None, "near")
    heights = dict.fromkeys(places, 1.8)
    return KeptAnalysis(task, invented_result(*players), Seen([], places, heights))


def truth_of(seed, **options):
    """The truth as it is read from its file."""
    play = draw_play(seed, "tune", Options(strokes=4, **options))
    return json.loads(json.dumps(play_truth(play)))


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_result_that_says_the_truth_has_no_errors(seed):
    truth = truth_of(seed)
    score = score_clip(kept(truth, [truth]), truth)
    for rows in (score.faced, score.own):
        line = stroke_table(rows, "")
        assert line.lines[0]["F1"] in ((1.0,) if rows else (None,))
    assert met_table(score.faced).lines[-1]["agrees, of found"] in (1.0, None)
    errors = [line["mean abs"] for line in measure_table(score.faced).lines]
    assert errors == pytest.approx([0.0] * len(errors))
    assert all(row.true == row.found for row in score.hands)
    assert (score.strangers, score.unseen) == (0, 0)


def test_two_defenders_are_told_apart_by_where_they_are():
    truth = truth_of(1, pair=True)
    score = score_clip(kept(truth, [truth["partner"], truth]), truth)
    assert stroke_table(score.own, "").lines[0]["F1"] == 1.0
    assert all(row.true == row.found for row in score.hands)
    assert len(score.hands) == 2


def test_who_is_not_reported_misses_every_stroke_and_who_is_a_stranger_is_counted():
    truth = truth_of(1, pair=True)
    alone = kept(truth, [truth])
    score = score_clip(alone, truth)
    assert score.unseen == 1
    assert stroke_table(score.faced, "").lines[0]["recall"] == 0.5
    far = {"A": [(t, x + 5.0, y) for t, x, y in alone.seen.places["A"]]}
    moved = replace(alone, seen=replace(alone.seen, places=far))
    assert score_clip(moved, truth).strangers == 1


def test_ready_positions_count_where_nobody_strikes_or_is_seen_or_heard_to():
    seed = next(s for s in range(100) if draw_play(s, "tune").opposite == NOBODY)
    truth = truth_of(seed)
    score = score_clip(kept(truth, [truth]), truth)
    count = len(truth["ready_positions"])
    assert count > 0
    assert score.waits == (count, count, count)
    assert score.faced == []
    out = truth | {"opposite": "out"}
    assert score_clip(kept(out, [out]), out | {"sound": False}).waits == (count, count, count)
    assert score_clip(kept(out, [out]), out | {"sound": True}).waits == (0, 0, 0)


def test_a_clip_that_is_refused_counts_as_nothing_found():
    truth = truth_of(1)
    refused = KeptAnalysis(Task(Path("clip.mp4"), None, "near"), None, None, "No.")
    score = score_clip(refused, truth)
    assert score.unseen == 1
    assert stroke_table(score.faced, "").lines[0]["found"] == 0
