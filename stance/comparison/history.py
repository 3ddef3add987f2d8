"""Earlier results: listed and chosen by player, date, session and view.

An index in SQLite (`history.sqlite` in the folder) holds a row for each player of each result
file, so that thousands of results are listed at once. It is brought up to date each time and can
be deleted; the result files are what counts.
"""

import math
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import astuple, dataclass, fields
from pathlib import Path
from typing import Any

import msgspec

from stance.court.viewpoint import filming_of
from stance.errors import InputError
from stance.results.json_format import RESULT_FILE, read_result
from stance.results.model import Result
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import printable
from stance.types import CLASSES, CourtSource, View

INDEX_FILE = "history.sqlite"

_VERSION = 3

# How long another run's writing of the index is waited for, seconds.
_LOCKED_S = 2.0


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
    view: View
    height_m: float | None
    distance_m: float | None
    court: CourtSource
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


@dataclass(frozen=True)
class History:
    """Entries by date, player and file, and why result files were left out, a sentence each.

    Entries without a date come last.
    """

    entries: list[Entry]
    left_out: tuple[str, ...] = ()


def list_entries(folder: str | Path, choice: Choice = Choice()) -> History:
    """Results under a folder; a result file that is damaged is left out and named.

    A player in a recording is listed once: of several results of the same recording, those that
    name the player are taken before others, and of these the one that was written last.

    Parameters
    ----------
    folder
        with results in it or below it
    choice
        which are wanted

    Raises
    ------
    InputError
        There is no such folder.
    """
    place = Path(folder)
    if not place.is_dir():
        raise InputError(
            _("There is no folder {place}. Name a folder with results.").format(place=place)
        )
    file = place / INDEX_FILE
    try:
        if _can_be_index(file):
            return _list_by_index(str(file), place, choice)
    except (sqlite3.Error, msgspec.ValidationError) as problem:
        if "locked" in str(problem):
            # Another run brings it up to date.
            return _list_by_index(":memory:", place, choice)
    # The index is damaged, or the folder can't be written to.
    with suppress(OSError, sqlite3.Error, msgspec.ValidationError):
        file.unlink()
        return _list_by_index(str(file), place, choice)
    return _list_by_index(":memory:", place, choice)


def read_results(folder: str | Path, choice: Choice) -> dict[Path, Result]:
    """The results that hold an entry of the choice by their folder, in the order of the entries.

    Parameters and errors as for `list_entries`.
    """
    files = dict.fromkeys(entry.file for entry in list_entries(folder, choice).entries)
    return {(Path(folder) / file).parent: read_result(Path(folder) / file) for file in files}


_COLUMNS = tuple(field.name for field in fields(Entry))

# Of which recording an entry is, and when its file was written.
_MORE_COLUMNS = ("recording", "written")

_ONCE = (
    "SELECT *, row_number() OVER (PARTITION BY recording, letter "
    "ORDER BY player = letter, written DESC, file) AS place FROM entries"
)


def _can_be_index(file: Path) -> bool:
    """Whether there is a plain file, or none yet: a pipe would keep SQLite waiting."""
    return file.is_file() or not os.path.lexists(file)


def _list_by_index(index_file: str, place: Path, choice: Choice) -> History:
    """Bring an index up to date and choose from it; errors are SQLite's and msgspec's."""
    with closing(sqlite3.connect(index_file, timeout=_LOCKED_S)) as index:
        _prepare(index)
        _update(index, place)
        conditions, values = _write_conditions(choice)
        index.row_factory = sqlite3.Row
        rows = index.execute(
            f"SELECT {', '.join(_COLUMNS)} FROM ({_ONCE}) WHERE place = 1 {conditions} "
            "ORDER BY date = '', date, player, file",
            values,
        ).fetchall()
        left_out = index.execute("SELECT fault FROM files WHERE fault <> '' ORDER BY file")
        return History(
            msgspec.convert([_read_row(row) for row in rows], list[Entry]),
            msgspec.convert([fault for (fault,) in left_out], tuple[str, ...]),
        )


def _read_row(row: sqlite3.Row) -> dict[str, Any]:
    """A row by column; a file's name is kept as the system's bytes, which need not be UTF-8."""
    content = dict(row)
    if isinstance(content["file"], bytes):
        content["file"] = os.fsdecode(content["file"])
    return content


def _prepare(index: sqlite3.Connection) -> None:
    """Make the tables; those of another version are made anew."""
    if index.execute("PRAGMA user_version").fetchone()[0] != _VERSION:
        index.executescript("DROP TABLE IF EXISTS entries; DROP TABLE IF EXISTS files;")
    index.execute(
        "CREATE TABLE IF NOT EXISTS files (file BLOB PRIMARY KEY, stamp TEXT, fault TEXT)"
    )
    columns = ", ".join((*_COLUMNS, *_MORE_COLUMNS))
    index.execute(f"CREATE TABLE IF NOT EXISTS entries ({columns})")
    index.execute(f"PRAGMA user_version = {_VERSION}")
    index.commit()


def _update(index: sqlite3.Connection, place: Path) -> None:
    """Bring the index up to date with the files."""
    known = dict(index.execute("SELECT file, stamp FROM files").fetchall())
    found = {os.fsencode(file): stamp for file, stamp in _list_files(place)}
    with index:
        for file in known.keys() - found.keys():
            _forget(index, file)
        for file, stamp in found.items():
            if known.get(file) == stamp:
                continue
            _forget(index, file)
            read = _read_entries(place, os.fsdecode(file))
            fault = printable(read.fault)
            index.execute("INSERT INTO files VALUES (?, ?, ?)", (file, stamp, fault))
            marks = ", ".join("?" * (len(_COLUMNS) + len(_MORE_COLUMNS)))
            written = int(stamp.rsplit("-", 1)[1])
            index.executemany(
                f"INSERT INTO entries VALUES ({marks})",
                [(file, *astuple(entry)[1:], read.recording, written) for entry in read.entries],
            )


def _forget(index: sqlite3.Connection, file: bytes) -> None:
    index.execute("DELETE FROM files WHERE file = ?", (file,))
    index.execute("DELETE FROM entries WHERE file = ?", (file,))


def _list_files(place: Path) -> Iterator[tuple[str, str]]:
    """Result files under a folder with what changes when they do."""
    for folder, folders, files in os.walk(place):
        # What a killed run left unfinished starts with a dot.
        folders[:] = sorted(f for f in folders if not f.startswith("."))
        if RESULT_FILE in files:
            file = Path(folder) / RESULT_FILE
            with suppress(OSError):
                state = file.stat()
                yield file.relative_to(place).as_posix(), f"{state.st_size}-{state.st_mtime_ns}"


@dataclass(frozen=True)
class _ReadFile:
    """A row for each player of a result, of which recording it is, and why it has none."""

    entries: list[Entry]
    recording: str = ""
    fault: str = ""


def _read_entries(place: Path, file: str) -> _ReadFile:
    """Read a result file; no rows, and why, where it is no result that holds together."""
    try:
        result = read_result(place / file)
    except InputError as problem:
        # The folder's own place is nobody's business who gets a comparison.
        return _ReadFile([], fault=str(problem).replace(str(place / file), file))
    filming = result.filming or filming_of(result)
    return _ReadFile(
        [
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
        ],
        result.clip.sha256,
    )


def _none_if_nan(value: float) -> float | None:
    return None if math.isnan(value) else value


def _write_conditions(choice: Choice) -> tuple[str, list[str]]:
    """Further conditions of a WHERE clause, and the values for their question marks."""
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
    return "".join(f" AND {test}" for test in wanted), list(wanted.values())
