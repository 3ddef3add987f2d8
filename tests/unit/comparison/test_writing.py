"""The files of a comparison."""

import json

import pytest

from stance.comparison.compare import compare
from stance.comparison.page import comparison_html
from stance.comparison.writing import write_comparison
from stance.errors import OutputError
from tests.unit.comparison.invented_sets import draw_sets


def test_the_files_are_written_into_a_new_folder(tmp_path):
    comparison = compare(*draw_sets(9, 1))
    write_comparison(comparison, tmp_path / "out")
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        "comparison.json",
        "report.html",
    ]
    data = json.loads((tmp_path / "out" / "comparison.json").read_text(encoding="utf-8"))
    assert data["statement"] == comparison.whole.statement
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert page == comparison_html(comparison)


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="taken"):
        write_comparison(compare(*draw_sets(9, 1)), tmp_path / "taken")
