"""Writes the files of a result into a folder."""

from pathlib import Path

from stance.results.csv_format import POSITIONS_FILE, STROKES_FILE, positions_csv, strokes_csv
from stance.results.files import write_files
from stance.results.json_format import RESULT_FILE, result_text
from stance.results.model import Result


def write_result(result: Result, folder: str | Path) -> None:
    """Write `result.json`, `positions.csv` and `strokes.csv` into a folder, whole or not at all.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    # Spreadsheets take a file for UTF-8 only where it starts with a byte order mark.
    write_files(
        folder,
        {
            RESULT_FILE: result_text(result),
            POSITIONS_FILE: "\ufeff" + positions_csv(result),
            STROKES_FILE: "\ufeff" + strokes_csv(result),
        },
    )
