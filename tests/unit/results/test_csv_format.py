"""The table for a spreadsheet."""

import csv
import io
from dataclasses import replace

from stance.results.csv_format import positions_csv
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


def test_what_is_unknown_is_an_empty_cell():
    player = replace(invented_player(), ready_positions=(UNKNOWN,))
    (row,) = csv.DictReader(io.StringIO(positions_csv(invented_result(player))))
    assert row["lead angle in degrees (negative: racket foot back)"] == ""
    assert "nan" not in "".join(row.values()).lower()
