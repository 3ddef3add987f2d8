"""What the result's dataclasses tell of themselves."""

from dataclasses import replace

import pytest

from stance.results.model import StrokeCounts, StrokeFaced
from tests.unit.results.invented import invented_player, invented_position


def test_the_middle_frame_is_shown_where_none_is_chosen():
    assert invented_position(start_frame=12, end_frame=39, key_frame=-1).key_frame == 25
    assert invented_position(start_frame=12, end_frame=39, key_frame=14).key_frame == 14


def test_positions_with_and_without_a_class_are_counted_apart():
    player = invented_player()
    assert (player.assessed, player.not_assessed) == (7, 1)
    assert player.assessed + player.not_assessed == len(player.ready_positions)


def test_a_ready_position_for_a_serve_counts_in_no_share():
    strokes = (
        StrokeFaced(0.9, 0.03, ("seen",), serve=True, met="set", ready_position=0),
        StrokeFaced(3.0, 0.03, ("seen",), serve=False, met="set", ready_position=1),
        StrokeFaced(4.9, 0.03, ("seen",), serve=True, met="on_the_move"),
    )
    player = replace(invented_player(), strokes_faced=strokes)
    assert player.counted_positions == player.ready_positions[1:]
    assert (player.assessed, player.not_assessed) == (6, 1)
    assert player.stroke_of == {0: strokes[0], 1: strokes[1]}


@pytest.mark.parametrize(
    ("lead_deg", "hip_deg", "leads"),
    [(50, 0, True), (-50, 0, False), (-20, 60, True), (20, -60, False), (float("nan"), 60, True)],
)
def test_the_larger_angle_tells_which_side_leads(lead_deg, hip_deg, leads):
    position = invented_position(lead_deg, hip_deg, stance_class="over_side_on")
    assert position.racket_side_leads == leads
    side = "racket side leading" if leads else "racket side back"
    assert position.class_name == f"over-side-on, {side}"
    assert replace(position, stance_class="square").class_name == "square"


def test_strokes_are_counted_by_how_they_were_met_but_for_serves():
    met = ("set", "on_the_move", "on_the_move", "not_seen")
    strokes = [StrokeFaced(float(n), 0.1, ("moved",), met=m) for n, m in enumerate(met)]
    strokes.append(StrokeFaced(9.0, 0.1, ("seen",), serve=True, met="on_the_move"))
    player = replace(invented_player(), strokes_faced=tuple(strokes))
    assert player.stroke_counts == StrokeCounts(met_set=1, on_the_move=2, not_seen=1, serves=1)
    assert player.stroke_counts.in_play == 4
    assert player.stroke_counts + player.stroke_counts == StrokeCounts(2, 4, 2, 2)


def test_a_stroke_leads_to_its_ready_position_and_none_to_nowhere():
    player = invented_player()
    stroke = StrokeFaced(3.0, 0.1, ready_position=1)
    assert player.position_of(stroke) == player.ready_positions[1]
    assert player.position_of(replace(stroke, ready_position=None)) is None
    assert player.position_of(replace(stroke, ready_position=8)) is None


def test_a_player_is_called_by_name_where_there_is_one():
    player = invented_player("B")
    assert player.title == "Player B"
    assert replace(player, name="J-07").title == "J-07"
