"""The table for a spreadsheet."""

import csv
import io
from dataclasses import replace

import pytest

from stance.results.csv_format import csv_table, positions_csv, strokes_csv
from stance.results.model import StrokeFaced
from tests.unit.results.invented import UNKNOWN, invented_player, invented_result


def test_the_table_has_a_row_per_ready_position():
    text = positions_csv(invented_result(invented_player("A"), invented_player("Ødegård, B")))
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 16
    assert rows[8]["player"] == "Ødegård, B" and rows[8]["ready position"] == "1"
    assert rows[1]["class"] == "slightly racket-leg-back"
    assert rows[1]["lead angle in degrees (negative: racket foot back)"] == "-22.0"
    assert rows[1]["probability of slightly racket-leg-back"] == "0.970"
    assert rows[6]["remarks"] == "racket foot leading"


@pytest.mark.parametrize("table", [positions_csv, strokes_csv])
def test_each_row_says_whose_it_is_and_of_which_day_and_session(table):
    player = replace(with_strokes(), name="Mia")
    result = replace(invented_result(player), date="2026-03-14", session="week 3")
    rows = list(csv.DictReader(io.StringIO(table(result))))
    assert rows and {(r["player"], r["name"], r["date"], r["session"]) for r in rows} == {
        ("A", "Mia", "2026-03-14", "week 3")
    }


def test_each_row_says_what_the_angles_rest_on():
    result = invented_result(source="assumed")
    said = replace(result, court=replace(result.court, filmed_from="left"))
    for shown, words in (
        (invented_result(), "marked"),
        (result, "assumed"),
        (said, "assumed, filmed from left"),
    ):
        rows = csv.DictReader(io.StringIO(positions_csv(shown)))
        assert {row["court"] for row in rows} == {words}


def with_strokes():
    """A player whose second ready position is a serve's and whose third belongs to a stroke."""
    strokes = (
        StrokeFaced(3.3, 0.04, ("seen", "heard"), True, "set", 1, 99),
        StrokeFaced(5.48, 0.02, ("moved",), False, "set", 2, 164),
        StrokeFaced(7.5, 0.05, ("seen",), False, "on_the_move", None, 225),
    )
    return replace(invented_player(), strokes_faced=strokes)


def test_a_ready_position_has_its_stroke_and_says_which_side_leads():
    rows = list(csv.DictReader(io.StringIO(positions_csv(invented_result(with_strokes())))))
    down = "both feet down in seconds after the contact"
    assert (rows[0]["contact in seconds"], rows[0]["serve"], rows[0][down]) == ("", "", "")
    assert (rows[1]["contact in seconds"], rows[1]["serve"], rows[1][down]) == (
        "3.300",
        "yes",
        "-0.200",
    )
    assert (rows[2]["known by"], rows[2]["serve"], rows[2][down]) == ("moved", "no", "0.120")
    side = "side that leads where over-side-on"
    assert [row[side] for row in rows[1:4]] == ["", "racket side back", "racket side leading"]
    assert [row["racket foot leading"] for row in rows[5:7]] == ["no", "yes"]


def test_every_stroke_faced_has_a_row_that_says_how_it_was_met():
    player = with_strokes()
    first = replace(player.strokes_faced[0], attacker_m=(-1.25, 5.5))
    player = replace(player, strokes_faced=(first, *player.strokes_faced[1:]))
    rows = list(csv.DictReader(io.StringIO(strokes_csv(invented_result(player)))))
    assert [list(row.values())[-2:] for row in rows] == [["-1.25", "5.50"], ["", ""], ["", ""]]
    assert [row["stroke faced"] for row in rows] == ["1", "2", "3"]
    assert rows[0]["known by"] == "seen; heard" and rows[0]["serve"] == "yes"
    assert [row["met"] for row in rows] == ["set", "set", "on the move"]
    assert [row["ready position"] for row in rows] == ["2", "3", ""]
    assert rows[1]["both feet down in seconds after the contact"] == "0.120"
    assert rows[1]["first foot leaves in seconds after the contact"] == "1.420"
    assert rows[2]["both feet down in seconds after the contact"] == ""


def test_what_is_unknown_is_an_empty_cell():
    player = replace(invented_player(), ready_positions=(UNKNOWN,))
    (row,) = csv.DictReader(io.StringIO(positions_csv(invented_result(player))))
    assert row["lead angle in degrees (negative: racket foot back)"] == ""
    assert "nan" not in "".join(row.values()).lower()


@pytest.mark.parametrize("cell", ["=1+1", "+cmd|x", "-2+3", "@SUM(A1)", "\tx", "\rx", "\uff1d1"])
def test_a_cell_that_a_spreadsheet_would_run_is_text(cell):
    read = list(csv.reader(io.StringIO(csv_table(["a"], [[cell]]), newline="")))
    assert read == [["a"], ["'" + cell]]


@pytest.mark.parametrize("cell", ["-12.3", "+4", "0.5", "", "Mia", "J-07", 7, None])
def test_numbers_and_plain_texts_stay(cell):
    read = list(csv.reader(io.StringIO(csv_table(["a", "b"], [[cell, "x"]]), newline="")))
    assert read[1] == ["" if cell is None else str(cell), "x"]
