"""The roster of a screening: a table of players and their clips, checked before any work."""

import csv
import datetime
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated, Any

import msgspec

from stance.academy.dates import First, find_first, read_date
from stance.academy.jobs import Job
from stance.academy.remote_files import is_url
from stance.court.court_file import court_file_beside, read_court_file
from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.runtime.plain_text import MOST_LETTERS, clean_name
from stance.runtime.regular_files import is_regular, read_regular
from stance.types import FILMED_FROM, FilmedFrom, Hand

# So many mistakes are listed.
_MOST_SHOWN = 40

# A hundred thousand lines.
_MOST_BYTES = 16 << 20


class Cells(msgspec.Struct, frozen=True):
    """The columns of a roster, and what their cells must hold; those with a default may be empty.

    `letter` is the player's in the clip, for clips that show both defenders; `filmed_from` says
    where the phone stood, for clips whose court is not known.
    """

    player: str
    clip: str
    court: str | None = None
    hand: Hand | None = None
    age_group: str = ""
    date: datetime.date | None = None
    session: str = ""
    letter: Annotated[str, msgspec.Meta(pattern="^[A-Z]$")] = ""
    filmed_from: FilmedFrom | None = None


KNOWN_COLUMNS = Cells.__struct_fields__

NEEDED_COLUMNS = tuple(f.name for f in msgspec.structs.fields(Cells) if f.required)

# Columns whose cells are shown.
_NAMES = ("player", "age_group", "session")

# A line's number and what is wrong in it.
Problem = tuple[int, str]

# What to say of a cell that is not as its column asks.
_WRONG_CELLS = {
    "hand": _("the hand is {cell!r}; write right or left, or leave it empty"),
    "letter": _("the letter is {cell!r}; write the player's letter in the clip, such as A or B"),
    "filmed_from": _("the phone's place is {cell!r}; write {places} or {last}, or leave it empty"),
}


@dataclass(frozen=True)
class Row:
    """One line of a roster: a player in a clip; what is not known is empty."""

    line: int
    player: str
    job: Job
    age_group: str = ""
    date: str = ""
    session: str = ""
    letter: str = ""


@dataclass(frozen=True)
class Roster:
    """A roster's rows, and the headings that mean nothing here."""

    rows: tuple[Row, ...]
    unknown_columns: tuple[str, ...]


def read_roster(path: str | Path, blur_faces: bool = True) -> Roster:
    """Read and check a roster.

    Parameters
    ----------
    path
        a CSV file in UTF-8 with a heading row; comma, semicolon or tab
    blur_faces
        whether no face can be known in what is written of the clips

    Raises
    ------
    InputError
        With all that is wrong, a line each.
    """
    file = Path(path)
    table = _read_table(file)
    _check_headings(file, table.headings)
    problems: list[Problem] = []
    rows = []
    first = find_first(_list_cells(table, "date"))
    for line, cells in table.lines:
        if len(cells) > len(table.headings):
            problems.append(
                (
                    line,
                    _(
                        "more cells than the heading row has; put a text that holds the "
                        "separator in double quotes"
                    ),
                )
            )
            continue
        named = dict(zip(table.headings, (cell.strip() for cell in cells), strict=False))
        row = _read_row(line, named, file.parent, first, problems)
        if row is not None:
            rows.append(row)
    if not table.lines:
        problems.append((2, _("no player is listed")))
    problems += [*_check_spelling(rows), *_check_hands(rows), *_check_shared_clips(rows)]
    if problems:
        raise InputError(_list_problems(file, problems))
    unknown = [name for name in table.headings if name and name not in KNOWN_COLUMNS]
    jobs = (replace(row.job, blur_faces=blur_faces) for row in rows)
    return Roster(
        tuple(replace(row, job=job) for row, job in zip(rows, jobs, strict=True)), tuple(unknown)
    )


@dataclass(frozen=True)
class _Table:
    """Headings in their plain form, and the cells of lines that are not empty by line number."""

    headings: list[str]
    lines: list[tuple[int, list[str]]]


def _read_table(file: Path) -> _Table:
    """Read the CSV file, whichever its separator."""
    text = _read_text(file)
    first = text.split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    # Not splitlines: it ends a line at characters that a name may hold, such as U+2028.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    lines: list[tuple[int, list[str]]] = []
    start = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as problem:
        raise InputError(
            _(
                "The roster {file} can't be read at line {line}: {problem}. Check the "
                "double quotes."
            ).format(file=file, line=reader.line_num, problem=problem)
        ) from None
    if not lines:
        raise InputError(
            _(
                "The roster {file} is empty. Its first line must name the columns "
                "{columns}; only player and clip are needed."
            ).format(file=file, columns=", ".join(KNOWN_COLUMNS))
        )
    headings = [re.sub(r"[\s_-]+", "_", cell.strip().lower()) for cell in lines[0][1]]
    return _Table(headings, lines[1:])


def _read_text(file: Path) -> str:
    content = read_regular(file, "roster", _MOST_BYTES)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            _(
                "The roster {file} is not in UTF-8, so names could be garbled. Save it in the "
                'spreadsheet as "CSV UTF-8".'
            ).format(file=file)
        ) from None


def _check_headings(file: Path, headings: Sequence[str]) -> None:
    missing = [name for name in NEEDED_COLUMNS if name not in headings]
    if missing:
        raise InputError(
            _(
                "The roster {file} has no column {missing}. Its first line must name the "
                "columns: {columns}; only player and clip are needed."
            ).format(
                file=file,
                missing=_(" and no column ").join(missing),
                columns=", ".join(KNOWN_COLUMNS),
            )
        )
    doubled = sorted({name for name in headings if name and headings.count(name) > 1})
    if doubled:
        raise InputError(
            _("The roster {file} has the column {column} twice; keep one.").format(
                file=file, column=doubled[0]
            )
        )


def _list_cells(table: _Table, column: str) -> list[str]:
    """The cells of a column that there may be."""
    if column not in table.headings:
        return []
    place = table.headings.index(column)
    return [cells[place].strip() for _, cells in table.lines if place < len(cells)]


def _read_row(
    line: int,
    named: Mapping[str, str],
    folder: Path,
    first: First | None,
    problems: list[Problem],
) -> Row | None:
    """A row without what was wrong in it and was noted; None without a player or a clip.

    `first` is what comes first in the table's dates.
    """
    cells, wrong = _read_cells(named, first)
    if cells.get("clip") and not is_url(cells["clip"]):
        cells["clip"] = str(folder / cells["clip"])
        if not is_regular(cells["clip"]):
            wrong.append(_("there is no clip {clip}").format(clip=cells["clip"]))
    wrong += _find_court(cells, folder)
    problems += [(line, problem) for problem in wrong]
    if any(name not in cells for name in NEEDED_COLUMNS):
        return None
    row = Cells(**cells)
    return Row(
        line,
        row.player,
        Job(row.clip, row.court, row.hand, row.filmed_from),
        row.age_group,
        "" if row.date is None else row.date.isoformat(),
        row.session,
        row.letter,
    )


def _read_cells(named: Mapping[str, str], first: First | None) -> tuple[dict[str, Any], list[str]]:
    """The cells of a line that are as their columns ask, by column, and what is wrong."""
    cells: dict[str, Any] = {}
    wrong = []
    for column in msgspec.structs.fields(Cells):
        cell = named.get(column.name, "")
        if not cell:
            if column.required:
                wrong.append(_("no {column} is named").format(column=column.name))
            continue
        if column.name in _NAMES:
            cell = clean_name(cell)
            if len(cell) > MOST_LETTERS:
                wrong.append(
                    _("the {column} has more than {most} letters").format(
                        column=column.name, most=MOST_LETTERS
                    )
                )
                continue
        if column.name == "date":
            try:
                cells["date"] = read_date(cell, first)
            except ValueError as problem:
                wrong.append(str(problem))
            continue
        # Capitals make no difference in these.
        plain = cell.upper() if column.name == "letter" else cell
        if column.name in ("hand", "filmed_from"):
            plain = cell.lower()
        try:
            cells[column.name] = msgspec.convert(plain, column.type)
        except msgspec.ValidationError:
            wrong.append(
                _WRONG_CELLS[column.name].format(
                    cell=cell, places=", ".join(FILMED_FROM[:-1]), last=FILMED_FROM[-1]
                )
            )
    return cells, wrong


def _find_court(cells: dict[str, Any], folder: Path) -> list[str]:
    """Put in the court file, the one beside the clip where none is named; give what is wrong."""
    clip, court = cells.get("clip"), cells.get("court")
    if court and is_url(court):
        return []
    if court:
        cells["court"] = str(folder / court)
    elif clip and not is_url(clip) and is_regular(court_file_beside(clip)):
        cells["court"] = str(court_file_beside(clip))
    else:
        return []
    return _check_court(cells["court"])


def _check_court(court: str) -> list[str]:
    """What is wrong with a court file, by itself; whether it fits its clip shows later."""
    if not is_regular(court):
        return [_("there is no court file {court}").format(court=court)]
    try:
        read_court_file(court)
    except InputError as problem:
        return [str(problem).removesuffix(".")]
    return []


def _check_spelling(rows: Sequence[Row]) -> list[Problem]:
    """Players who are written with and without capitals."""
    sentence = _("{player} is written {other} in line {line}; write each player in one way")
    problems = []
    first_rows: dict[str, Row] = {}
    for row in rows:
        first = first_rows.setdefault(row.player.casefold(), row)
        if first.player != row.player:
            words = sentence.format(player=row.player, other=first.player, line=first.line)
            problems.append((row.line, words))
    return problems


def _check_hands(rows: Sequence[Row]) -> list[Problem]:
    """Players who change their racket hand from line to line."""
    sentences = {
        "right": _("{player} is right-handed here and left-handed in line {line}"),
        "left": _("{player} is left-handed here and right-handed in line {line}"),
    }
    problems = []
    first_rows: dict[str, Row] = {}
    for row in rows:
        if not row.job.hand:
            continue
        first = first_rows.setdefault(row.player, row)
        if first.job.hand != row.job.hand:
            words = sentences[row.job.hand].format(player=row.player, line=first.line)
            problems.append((row.line, words))
    return problems


def _check_shared_clips(rows: Sequence[Row]) -> list[Problem]:
    """Players listed twice with a clip, and players of one clip whom no letter tells apart."""
    twice = _("{player} is listed with this clip in line {line} already")
    shared = _(
        "the same clip is another player's in line {line}; say in both lines in the column letter "
        "who is who, such as A and B"
    )
    problems = []
    first_of_player: dict[tuple[str, str], Row] = {}
    of_clip: dict[str, list[Row]] = {}
    for row in rows:
        clip = row.job.clip
        same = first_of_player.setdefault((clip, row.player), row)
        if same is not row:
            problems.append((row.line, twice.format(player=row.player, line=same.line)))
            continue
        others = of_clip.setdefault(clip, [])
        other = next((o for o in others if not _can_be_distinguished(o, row)), None)
        others.append(row)
        if other is not None:
            problems.append((row.line, shared.format(line=other.line)))
    return problems


def _can_be_distinguished(first: Row, second: Row) -> bool:
    """Whether two players of one clip have letters of their own."""
    return bool(first.letter and second.letter) and first.letter != second.letter


def _list_problems(file: Path, problems: Sequence[Problem]) -> str:
    """All that is wrong, by line, and what to do."""
    ordered = sorted(problems, key=lambda problem: problem[0])
    shown = [
        _("line {line}: {problem}").format(line=line, problem=problem)
        for line, problem in ordered[:_MOST_SHOWN]
    ]
    if len(ordered) > _MOST_SHOWN:
        shown.append(_("and {number} more").format(number=len(ordered) - _MOST_SHOWN))
    heading = ngettext(
        "The roster {file} has one mistake; nothing was analysed:",
        "The roster {file} has {number} mistakes; nothing was analysed:",
        len(ordered),
    ).format(file=file, number=len(ordered))
    lines = [f"  {text}" for text in shown]
    return "\n".join([heading, *lines, _("Correct the roster and run again.")])
