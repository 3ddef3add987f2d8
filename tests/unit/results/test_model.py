"""What the result's dataclasses tell of themselves."""

from dataclasses import replace

from stance.results.model import StrokeFaced
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


def test_a_player_is_called_by_name_where_there_is_one():
    player = invented_player("B")
    assert player.title == "Player B"
    assert replace(player, name="J-07").title == "J-07 (B)"
