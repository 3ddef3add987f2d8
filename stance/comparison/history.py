"""Earlier results: listed and chosen by player, date, session and view.

An index in SQLite (`history.sqlite` in the folder) holds a row for each player of each result
file, so that thousands of results are listed at once. It is brought up to date each time and can
be deleted; the result files are what counts.
"""

import math
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import astuple, dataclass, fields
from pathlib import Path

import msgspec

from stance.court.viewpoint import filming_of
from stance.errors import InputError
from stance.results.json_format import RESULT_FILE, read_result
from stance.results.model import Result
from stance.types import CLASSES

INDEX_FILE = "history.sqlite"

_VERSION = 1


@dataclass(frozen=True)
class Entry:
    """One player in one result; the columns of the index.

    Attributes
    ----------
    file
        of the result, relative to the folder
    player
        name, or letter where there is none
    letter
        the player's in the clip
    date, session
        of the result; empty where not known
    clip
        name of its file
    view, height_m, distance_m
        how it was filmed; None where not known
    court
        where the camera model comes from
    assessed
        ready positions
    square, slightly_racket_leg_back, over_side_on
        how many of them are of each class
    """

    file: str
    player: str
    letter: str
    date: str
    session: str
    clip: str
    view: str
    height_m: float | None
    distance_m: float | None
    court: str
    assessed: int
    square: int
    slightly_racket_leg_back: int
    over_side_on: int


@dataclass(frozen=True)
class Choice:
    """Which entries are wanted; what is None does not matter.

    `since` and `until` are dates, year-month-day, both included.
    """

    player: str | None = None
    since: str | None = None
    until: str | None = None
    session: str | None = None
    view: str | None = None


def list_entries(folder: str | Path, choice: Choice = Choice()) -> list[Entry]:
    """Results under a folder, by date, player and file.

    Parameters
    ----------
    folder
        with results in it or below it
    choice
        which are wanted

    Raises
    ------
    InputError
        There is no such folder, or its index is damaged.
    """
    place = Path(folder)
    if not place.is_dir():
        raise InputError(f"There is no folder {place}. Name a folder with results.")
    with closing(_open_index(place)) as index:
        _update(index, place)
        conditions, values = _write_conditions(choice)
        index.row_factory = sqlite3.Row
        rows = index.execute(
            f"SELECT {', '.join(_COLUMNS)} FROM entries {conditions} ORDER BY date, player, file",
            values,
        ).fetchall()
    try:
        return msgspec.convert([dict(row) for row in rows], list[Entry])
    except msgspec.ValidationError:
        raise InputError(
            f"The index {place / INDEX_FILE} is damaged. Delete it; it is made anew from the "
            "results."
        ) from None


def read_results(folder: str | Path, choice: Choice) -> list[Result]:
    """The results that hold an entry of the choice, in the order of the entries.

    Parameters and errors as for `list_entries`.
    """
    files = dict.fromkeys(entry.file for entry in list_entries(folder, choice))
    return [read_result(Path(folder) / file) for file in files]


_COLUMNS = tuple(field.name for field in fields(Entry))


def _open_index(place: Path) -> sqlite3.Connection:
    """Open the index, or one in memory where the folder can't be written to."""
    for file in (str(place / INDEX_FILE), ":memory:"):
        index = sqlite3.connect(file)
        try:
            _prepare(index)
        except sqlite3.DatabaseError:
            # Not writable, or damaged: the results are read anew instead.
            index.close()
        else:
            return index
    raise AssertionError("SQLite can always open a database in memory")


def _prepare(index: sqlite3.Connection) -> None:
    """Make the tables; those of another version are made anew."""
    if index.execute("PRAGMA user_version").fetchone()[0] != _VERSION:
        index.executescript("DROP TABLE IF EXISTS entries; DROP TABLE IF EXISTS files;")
    index.execute("CREATE TABLE IF NOT EXISTS files (file TEXT PRIMARY KEY, stamp TEXT)")
    index.execute(f"CREATE TABLE IF NOT EXISTS entries ({', '.join(_COLUMNS)})")
    index.execute(f"PRAGMA user_version = {_VERSION}")
    index.commit()


def _update(index: sqlite3.Connection, place: Path) -> None:
    """Bring the index up to date with the files."""
    known = dict(index.execute("SELECT file, stamp FROM files").fetchall())
    found = dict(_list_files(place))
    with index:
        for file in known.keys() - found.keys():
            _forget(index, file)
        for file, stamp in found.items():
            if known.get(file) == stamp:
                continue
            _forget(index, file)
            index.execute("INSERT INTO files VALUES (?, ?)", (file, stamp))
            marks = ", ".join("?" * len(_COLUMNS))
            index.executemany(
                f"INSERT INTO entries VALUES ({marks})",
                [astuple(entry) for entry in _read_entries(place, file)],
            )


def _forget(index: sqlite3.Connection, file: str) -> None:
    index.execute("DELETE FROM files WHERE file = ?", (file,))
    index.execute("DELETE FROM entries WHERE file = ?", (file,))


def _list_files(place: Path) -> Iterator[tuple[str, str]]:
    """Result files under a folder with what changes when they do."""
    for folder, folders, files in os.walk(place):
        # What a killed run left unfinished starts with a dot.
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        if RESULT_FILE in files:
            file = Path(folder) / RESULT_FILE
            state = file.stat()
            yield file.relative_to(place).as_posix(), f"{state.st_size}-{state.st_mtime_ns}"


def _read_entries(place: Path, file: str) -> list[Entry]:
    """A row for each player; none where the file is no result."""
    try:
        result = read_result(place / file)
    except InputError:
        return []
    filming = result.filming or filming_of(result)
    return [
        Entry(
            file,
            p.name or p.player,
            p.player,
            result.date,
            result.session,
            result.clip.file,
            filming.view,
            _none_if_nan(filming.height_m),
            _none_if_nan(filming.distance_m),
            result.court.source,
            p.assessed,
            *(p.shares[name].count for name in CLASSES),
        )
        for p in result.players
    ]


def _none_if_nan(value: float) -> float | None:
    return None if math.isnan(value) else value


def _write_conditions(choice: Choice) -> tuple[str, list[str]]:
    """A WHERE clause, and the values for its question marks."""
    tests = {
        "player = ?": choice.player,
        "date >= ?": choice.since,
        "date <= ?": choice.until,
        "session = ?": choice.session,
        "view = ?": choice.view,
    }
    wanted = {test: value for test, value in tests.items() if value is not None}
    if choice.since is not None or choice.until is not None:
        # A result without a date lies in no span of dates.
        wanted["date <> ?"] = ""
    return (f"WHERE {' AND '.join(wanted)}" if wanted else ""), list(wanted.values())
