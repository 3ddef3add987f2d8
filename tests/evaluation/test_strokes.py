"""True strokes and found ones: matched one to one, and counted as what they are."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.evaluation.stroke_tables import (
    class_tables,
    measure_table,
    met_table,
    serve_table,
    spell_table,
    stroke_table,
)
from tests.evaluation.strokes import (
    WITHIN_S,
    FoundStroke,
    Row,
    Setting,
    TrueStroke,
    match_times,
    pair_strokes,
)
from tests.unit.results.invented import invented_position

TIMES = st.lists(st.floats(0, 2), max_size=5)
SETTING = Setting("clip", "behind", "player")


@given(TIMES, TIMES)
def test_as_many_strokes_are_matched_as_can_be_and_those_that_are_nearest(found, true):
    pairs = match_times(found, true)
    assert len({f for f, _ in pairs}) == len({t for _, t in pairs}) == len(pairs)
    distances = [abs(found[f] - true[t]) for f, t in pairs]
    assert all(d <= WITHIN_S for d in distances)
    fewer, more = sorted((found, true), key=len)
    best = min(
        _cost(zip(fewer, chosen, strict=True))
        for chosen in itertools.permutations(more, len(fewer))
    )
    assert (-len(pairs), sum(distances)) == (best[0], pytest.approx(best[1]))


def _cost(pairs):
    """Minus the number of pairs within reach, and the sum of their distances."""
    near = [abs(a - b) for a, b in pairs if abs(a - b) <= WITHIN_S]
    return -len(near), sum(near)


def test_strokes_missed_and_strokes_invented_count_against_recall_and_precision():
    true = [TrueStroke(1.0, serve=True), TrueStroke(3.0, serve=False), TrueStroke(5.0, False)]
    found = [
        FoundStroke(1.06, 0.05, serve=True),
        FoundStroke(3.04, 0.01),
        FoundStroke(4.0, 0.05),
        FoundStroke(7.0, 0.05),
        FoundStroke(8.0, 0.05, serve=True),
    ]
    rows = pair_strokes(SETTING, true, found)
    lines = {line[""]: line for line in stroke_table(rows, "faced").lines}
    everything = lines["all"]
    assert (everything["true"], everything["found"], everything["reported"]) == (3, 2, 5)
    assert everything["recall"] == pytest.approx(2 / 3)
    assert everything["precision"] == pytest.approx(2 / 5)
    assert everything["error s"] == pytest.approx(0.05)
    assert everything["within 2 se"] == 0.5
    assert (lines["serves"]["recall"], lines["serves"]["precision"]) == (1.0, 0.5)
    assert lines["in play"]["recall"] == 0.5
    assert lines["in play"]["precision"] == pytest.approx(1 / 3)
    assert lines["view: behind"] == {**everything, "": "view: behind"}


def test_serves_taken_for_strokes_in_play_are_told():
    true = [TrueStroke(1.0, serve=True), TrueStroke(3.0, serve=False)]
    found = [FoundStroke(1.0, 0.05), FoundStroke(3.0, 0.05, serve=True)]
    serve, play = serve_table(pair_strokes(SETTING, true, found)).lines
    assert (serve["taken as serve"], serve["as in play"]) == (0, 1)
    assert (play["taken as serve"], play["as in play"]) == (1, 0)


def test_met_agrees_where_it_is_the_same_and_not_where_it_was_not_seen():
    true = [
        TrueStroke(1.0, False, "set"),
        TrueStroke(2.0, False, "set"),
        TrueStroke(3.0, False, "on_the_move"),
        TrueStroke(4.0, False, "set"),
        TrueStroke(5.0, False),
    ]
    found = [
        FoundStroke(1.0, 0.1, met="set"),
        FoundStroke(2.0, 0.1, met="not_seen"),
        FoundStroke(3.0, 0.1, met="on_the_move"),
        FoundStroke(5.0, 0.1, met="set"),
    ]
    lines = {line["true"]: line for line in met_table(pair_strokes(SETTING, true, found)).lines}
    assert lines["set"]["set"] == lines["set"]["not_seen"] == lines["set"]["no stroke found"] == 1
    assert lines["set"]["agrees, of found"] == 0.5
    assert lines["both"]["agrees, of found"] == pytest.approx(2 / 3)


def _ready_row(setting=SETTING, true_lead=-20.0, lead=-17.0, se=2.0, **fields):
    measures = {"lead_angle_deg": true_lead, "hip_yaw_deg": -10.0, "foot_stagger_m": -0.2}
    position = invented_position(lead, -10.0, lead_angle_se_deg=se, **fields)
    true = TrueStroke(1.0, False, "set", 1.1, 1.3, measures)
    return Row(setting, true, FoundStroke(1.0, 0.05, met="set", position=position))


def test_measures_are_compared_around_the_circle_and_by_view():
    rows = [_ready_row(), _ready_row(Setting("b", "side", "player"), true_lead=179.0, lead=-176.0)]
    lines = {
        line["view"]: line
        for line in measure_table(rows).lines
        if line["measure"].startswith("lead angle")
    }
    assert lines["behind"]["bias"] == pytest.approx(3.0)
    assert lines["side"]["bias"] == pytest.approx(5.0)
    assert lines["all"]["mean abs"] == pytest.approx(4.0)
    assert lines["all"]["95 % interval holds"] == 0.5


def test_positions_of_a_wrong_hand_are_left_out_and_counted():
    wrong = _ready_row(Setting("b", "side", "player", hand_right=False), lead=20.0)
    table = measure_table([_ready_row(), wrong])
    assert {line["n"] for line in table.lines} == {1}
    assert "1 positions left out" in table.title


def test_landing_and_leaving_are_compared_with_the_spell():
    rows = [_ready_row(start_s=1.12, end_s=1.25), _ready_row(start_s=1.06, end_s=1.33)]
    landing, leaving = spell_table(rows).lines
    assert landing["bias s"] == pytest.approx(-0.01)
    assert landing["mean abs s"] == pytest.approx(0.03)
    assert leaving["bias s"] == pytest.approx(-0.01)
    assert leaving["95th s"] == pytest.approx(0.049)


def test_classes_are_judged_by_the_true_angles_and_what_is_not_assessed_is_left_out():
    rows = [
        _ready_row(true_lead=-20.0, stance_class="slightly_racket_leg_back"),
        _ready_row(true_lead=-39.0, stance_class="over_side_on"),
        _ready_row(true_lead=-60.0, stance_class="over_side_on"),
        _ready_row(true_lead=-60.0, stance_class="not_assessed"),
    ]
    figures, confusion = class_tables(rows)
    everything, far = figures.lines
    assert everything["not assessed"] == 0.25
    assert everything["macro F1, assessed"] == pytest.approx(2 / 3)
    assert (far["n"], far["macro F1, assessed"]) == (3, 1.0)
    by_class = {line["true"]: line for line in confusion.lines}
    assert by_class["slightly_racket_leg_back"]["over_side_on"] == 1
    assert by_class["over_side_on"]["not_assessed"] == 1


def test_nothing_found_has_no_precision_and_no_error():
    rows = pair_strokes(SETTING, [TrueStroke(1.0, False)], [])
    line = stroke_table(rows, "faced").lines[0]
    assert line["recall"] == 0.0
    assert line["precision"] is None
    assert line["error s"] is None
    assert not np.any([line["found"], line["reported"]])
