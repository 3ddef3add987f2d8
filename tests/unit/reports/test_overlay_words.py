"""What the overlay says: the caption always has as many lines, tags name and class."""

from dataclasses import replace

import pytest

from stance.reports.overlay_words import Tag, caption_lines, position_at, tags_at
from stance.results.model import OwnStroke, StrokeFaced
from tests.unit.results.invented import invented_player, invented_result

PLAYER = replace(
    invented_player(),
    strokes_faced=(
        StrokeFaced(2.0, 0.02, serve=True, met="set"),
        StrokeFaced(5.0, 0.02, met="on_the_move"),
        StrokeFaced(7.0, 0.02, serve=True, met="on_the_move"),
    ),
    own_strokes=(OwnStroke(6.0, 0.02),),
)
POSITION = PLAYER.ready_positions[2]


def test_a_frame_is_part_of_the_position_between_its_ends():
    assert position_at(POSITION.start_frame, PLAYER) is POSITION
    assert position_at(POSITION.end_frame, PLAYER) is POSITION
    assert position_at(POSITION.end_frame + 1, PLAYER) is None


def test_contacts_are_written_while_they_are_near_and_the_class_while_the_player_is_set():
    assert tags_at(2.05, PLAYER, POSITION, True) == [
        Tag("over_side_on", "set, over-side-on"),
        Tag("theirs", "their serve"),
    ]
    assert tags_at(4.95, PLAYER, None, True) == [Tag("theirs", "their contact, on the move")]
    assert tags_at(7.1, PLAYER, None, True) == [Tag("theirs", "their serve, on the move")]
    assert tags_at(6.1, PLAYER, None, True) == [Tag("own", "own contact")]
    assert tags_at(3.0, PLAYER, None, True) == []


def test_where_no_stroke_could_be_told_the_class_stands_alone():
    assert tags_at(1.0, invented_player(), POSITION, True) == [Tag("over_side_on", "over-side-on")]


@pytest.mark.parametrize(("name", "shown"), [("Zoë", "Zoë"), ("", "A"), ("渡辺", "A")])
def test_one_of_two_players_is_named_all_the_time(name, shown):
    player = replace(PLAYER, name=name)
    assert tags_at(3.0, player, None, False) == [Tag("name", shown)]
    assert tags_at(3.0, player, POSITION, False) == [
        Tag("over_side_on", f"{shown}: set, over-side-on")
    ]


def test_the_caption_of_one_player_says_class_and_measures():
    result = invented_result(PLAYER)
    between = caption_lines(0.51, result, {"A": None})
    assert between == ["0.5 s   between ready positions", ""]
    assert caption_lines(5.84, result, {"A": POSITION}) == [
        "5.8 s   ready position 3: over-side-on, racket side back",
        "feet 52 degrees back, hips 47 degrees back",
    ]


def test_a_name_a_day_and_a_session_stand_in_a_line_of_their_own():
    result = replace(
        invented_result(replace(PLAYER, name="Mia")), date="2026-03-14", session="week 3"
    )
    assert caption_lines(0.5, result, {"A": None})[0] == "Mia   2026-03-14   week 3"


def test_the_caption_of_two_players_has_a_line_for_each():
    other = replace(invented_player(), player="B", name="Mia")
    result = replace(invented_result(PLAYER, other), session="week 3")
    lines = caption_lines(5.84, result, {"A": POSITION, "B": None})
    assert lines == [
        "5.8 s   week 3",
        "A: ready position 3, feet 52 degrees back, hips 47 degrees back",
        "Mia: between ready positions",
    ]
