"""The time line: each ready position and stroke in its place."""

from dataclasses import replace
from xml.etree import ElementTree

import pytest

from stance.reports.time_line import time_line
from stance.results.model import StrokeFaced
from tests.unit.results.invented import invented_defender, invented_player, invented_position


def titles(root):
    return [e.text for e in root.iter("{http://www.w3.org/2000/svg}title")]


def test_each_ready_position_stands_on_the_time_line_with_its_number():
    player = invented_player("<b>&")
    root = ElementTree.fromstring(time_line(player, 22.0, "player-1"))
    numbers = [int(words.split(":")[0]) for words in titles(root)]
    assert list(dict.fromkeys(numbers)) == list(range(1, 9))
    assert root.get("aria-label") == "Time line of Player <b>&: 8 ready positions"


def test_strokes_of_both_sides_stand_on_the_time_line_with_how_they_were_met():
    player = invented_defender()
    root = ElementTree.fromstring(time_line(player, 34.0, "player-1"))
    words = titles(root)
    assert "serve faced, 2.0 s: met set" in words
    assert "stroke faced, 7.6 s: met on the move" in words
    assert "stroke faced, 13.0 s: not seen well enough" in words
    assert sum(w.startswith("own stroke") for w in words) == len(player.own_strokes)
    assert root.get("aria-label") == (
        "Time line of Player A: 10 strokes faced: 7 met set, 2 on the move, 1 not seen well "
        "enough; 9 ready positions; 11 own strokes"
    )


def test_a_stroke_stands_where_its_time_is():
    player = replace(
        invented_player(), ready_positions=(), strokes_faced=(StrokeFaced(25.0, 0.02),)
    )
    root = ElementTree.fromstring(time_line(player, 30.0, "p"))
    (mark,) = [
        e
        for e in root.iter("{http://www.w3.org/2000/svg}svg")
        if e.find("*") is not None and e.find("{http://www.w3.org/2000/svg}title") is not None
    ]
    # Two rows of 15 seconds each.
    assert float(mark.get("x").rstrip("%")) == pytest.approx(100 * 10 / 15, abs=0.01)
    assert 104 < float(mark.get("y")) < 208


@pytest.mark.parametrize("duration", [0.0, 0.9, 20.0, 61.0, 3600.0])
def test_a_time_line_of_any_length_holds_its_bars(duration):
    positions = tuple(
        invented_position(start_s=duration * part, end_s=duration * (part + 0.1))
        for part in (0.0, 0.45, 0.9)
    )
    player = replace(invented_player(), ready_positions=positions)
    root = ElementTree.fromstring(time_line(player, duration, "p"))
    assert float(root.get("height")) <= 12 * 78
    for bar in root.iter("{http://www.w3.org/2000/svg}rect"):
        if "%" in bar.get("width") and bar.get("x") != "0":
            begin, width = (float(bar.get(name).rstrip("%")) for name in ("x", "width"))
            assert begin >= 0 and begin + width <= 100.5 and width >= 0
