"""The files of a screening."""

from pathlib import Path

from stance.academy.csv_format import screening_csv
from stance.academy.json_format import to_content
from stance.academy.model import Screening
from stance.academy.page import PLAYERS_FOLDER, screening_html
from stance.academy.player_page import family_html, page_name, player_html
from stance.academy.result_store import STORE_FOLDER
from stance.comparison.clip_reports import ClipReports
from stance.reports.clip import REPORT_FILE
from stance.results.files import write_files
from stance.results.schema import json_text

SCREENING_FILE = "screening.json"

TABLE_FILE = "screening.csv"

FAMILIES_FOLDER = "families"


def write_screening(screening: Screening, folder: str | Path) -> None:
    """Write the pages, the table and, last, screening.json; each file whole or not at all.

    Pages of players who are no longer on the roster are taken away.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    folders = {
        clip.result.clip.sha256: Path(folder) / STORE_FOLDER / clip.key
        for player in screening.players
        for clip in player.clips
    }
    for name, make_page in ((PLAYERS_FOLDER, player_html), (FAMILIES_FOLDER, family_html)):
        place = Path(folder) / name
        reports = ClipReports(folders, place)
        for player in screening.players:
            # One by one: with its pictures a page takes some hundred kilobytes.
            write_files(place, {page_name(player): make_page(player, reports)})
        for old in {p.name for p in place.glob("*.html")} - {*map(page_name, screening.players)}:
            (place / old).unlink(missing_ok=True)
    write_files(
        folder,
        {
            REPORT_FILE: screening_html(screening),
            # Spreadsheets take a file for UTF-8 only where it starts with a byte order mark.
            TABLE_FILE: "\ufeff" + screening_csv(screening),
            SCREENING_FILE: json_text(to_content(screening)),
        },
    )
