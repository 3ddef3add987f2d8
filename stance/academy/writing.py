"""The files of a screening."""

from pathlib import Path

from stance.academy.csv_format import screening_csv
from stance.academy.json_format import to_content
from stance.academy.model import Screening
from stance.academy.page import PLAYERS_FOLDER, page_name, player_html, screening_html
from stance.reports.clip import REPORT_FILE
from stance.results.files import write_files
from stance.results.schema import json_text

SCREENING_FILE = "screening.json"

TABLE_FILE = "screening.csv"


def write_screening(screening: Screening, folder: str | Path) -> None:
    """Write the pages, the table and, last, screening.json; each file whole or not at all.

    Pages of players who are no longer on the roster are taken away.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    pages = {page_name(p): player_html(p) for p in screening.players}
    players = Path(folder) / PLAYERS_FOLDER
    write_files(players, pages)
    for old in {p.name for p in players.glob("*.html")} - set(pages):
        (players / old).unlink(missing_ok=True)
    write_files(
        folder,
        {
            REPORT_FILE: screening_html(screening),
            # Spreadsheets take a file for UTF-8 only where it starts with a byte order mark.
            TABLE_FILE: "\ufeff" + screening_csv(screening),
            SCREENING_FILE: json_text(to_content(screening)),
        },
    )
