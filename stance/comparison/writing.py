"""The files of a comparison, and the page of a season."""

from collections.abc import Mapping
from pathlib import Path

from stance.comparison.choosing import Season
from stance.comparison.clip_reports import ClipReports
from stance.comparison.json_format import to_content
from stance.comparison.model import Comparison
from stance.comparison.page import comparison_html
from stance.comparison.season_page import season_html
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


def write_season(season: Season, folder: str | Path) -> None:
    """Write report.html with each player's line over the season, whole or not at all.

    Parameters
    ----------
    season
        of at least one player
    folder
        made where needed

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    reports = ClipReports(season.folders, Path(folder))
    write_files(folder, {REPORT_FILE: season_html(season.players, reports)})
