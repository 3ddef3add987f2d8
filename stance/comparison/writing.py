"""The files of a comparison."""

from collections.abc import Mapping
from pathlib import Path

from stance.comparison.clip_reports import ClipReports
from stance.comparison.json_format import to_content
from stance.comparison.model import Comparison
from stance.comparison.page import comparison_html
from stance.reports.clip import REPORT_FILE
from stance.results.files import write_files
from stance.results.schema import json_text

COMPARISON_FILE = "comparison.json"


def write_comparison(
    comparison: Comparison, folder: str | Path, result_folders: Mapping[str, Path] | None = None
) -> None:
    """Write comparison.json and report.html into a folder, whole or not at all.

    Parameters
    ----------
    comparison
        what was found
    folder
        made where needed
    result_folders
        of the results, by the checksum of the clip; the page shows pictures from the reports there
        and links to them

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    write_files(
        folder,
        {
            COMPARISON_FILE: json_text(to_content(comparison)),
            REPORT_FILE: comparison_html(
                comparison, ClipReports(result_folders or {}, Path(folder))
            ),
        },
    )
