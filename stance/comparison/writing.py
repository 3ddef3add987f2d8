"""The files of a comparison."""

from pathlib import Path

from stance.comparison.json_format import to_content
from stance.comparison.model import Comparison
from stance.comparison.page import comparison_html
from stance.reports.clip import REPORT_FILE
from stance.results.files import write_files
from stance.results.schema import json_text

COMPARISON_FILE = "comparison.json"


def write_comparison(comparison: Comparison, folder: str | Path) -> None:
    """Write comparison.json and report.html into a folder, whole or not at all.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    write_files(
        folder,
        {
            COMPARISON_FILE: json_text(to_content(comparison)),
            REPORT_FILE: comparison_html(comparison),
        },
    )
