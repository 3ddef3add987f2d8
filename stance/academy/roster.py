"""The roster of a screening: a table of players and their clips, checked before any work."""

import csv
import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from stance.academy.batch import Job
from stance.academy.remote_files import is_url
from stance.court.court_file import read_court_file
from stance.errors import InputError
from stance.types import HANDS

NEEDED = ("player", "clip")

KNOWN = (*NEEDED, "court", "hand", "age_group", "date", "session", "letter")

_MOST_SHOWN = 40


@dataclass(frozen=True)
class Row:
    """One line of a roster: a player in a clip; what is not known is empty.

    `letter` is the player's in the clip, for clips that show both defenders.
    """

    line: int
    player: str
    job: Job
    age_group: str
    date: str
    session: str
    letter: str


def read_roster(path: str | Path) -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """Read and check a roster.

    Parameters
    ----------
    path : a CSV file in UTF-8 with a heading row; comma, semicolon or tab

    Returns
    -------
    the rows, and the headings that mean nothing here

    Raises
    ------
    InputError
        With all that is wrong, a line each.
    """
    file = Path(path)
    headings, lines = _table(file)
    missing = [name for name in NEEDED if name not in headings]
    if missing:
        raise InputError(
            f"The roster {file} has no column {' and no column '.join(missing)}. Its first line "
            f"must name the columns: {', '.join(KNOWN)}; only player and clip are needed."
        )
    doubled = sorted({name for name in headings if name and headings.count(name) > 1})
    if doubled:
        raise InputError(f"The roster {file} has the column {doubled[0]} twice; keep one.")
    problems: list[str] = []
    rows = []
    for number, cells in lines:
        if len(cells) > len(headings):
            problems.append(
                f"line {number}: more cells than the heading row has; put a text "
                "that holds the separator in double quotes"
            )
            continue
        entry = dict(zip(headings, (cell.strip() for cell in cells), strict=False))
        row = _row(number, entry, file.parent, problems)
        if row is not None:
            rows.append(row)
    if not lines:
        problems.append("line 2: no player is listed")
    _check_together(rows, problems)
    if problems:
        raise InputError(_told(file, problems))
    unknown = [name for name in headings if name and name not in KNOWN]
    return tuple(rows), tuple(unknown)


def _table(file: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Headings in their plain form, and the lines that are not empty with their numbers."""
    try:
        text = file.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"There is no roster {file}. Check the name.") from None
    except UnicodeDecodeError:
        raise InputError(
            f"The roster {file} is not in UTF-8, so names could be garbled. Save it in the "
            'spreadsheet as "CSV UTF-8".'
        ) from None
    except OSError as problem:
        raise InputError(f"The roster {file} can't be read: {problem.strerror}.") from None
    first = text.split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    reader = csv.reader(text.splitlines(keepends=True), delimiter=separator, strict=True)
    lines: list[tuple[int, list[str]]] = []
    begun = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((begun, cells))
            begun = reader.line_num + 1
    except csv.Error as problem:
        raise InputError(
            f"The roster {file} can't be read at line {reader.line_num}: {problem}. "
            "Check the double quotes."
        ) from None
    if not lines:
        raise InputError(
            f"The roster {file} is empty. Its first line must name the columns "
            f"{', '.join(KNOWN)}; only player and clip are needed."
        )
    headings = [re.sub(r"[\s_-]+", "_", cell.strip().lower()) for cell in lines[0][1]]
    return headings, lines[1:]


def _row(number: int, entry: dict[str, str], folder: Path, problems: list[str]) -> Row | None:
    """A row without what was wrong in it and was noted; None without a player or a clip."""

    def wrong(what: str) -> None:
        problems.append(f"line {number}: {what}")

    player, clip = entry.get("player", ""), entry.get("clip", "")
    if not player:
        wrong("no player is named")
    if not clip:
        wrong("no clip is named")
    elif not is_url(clip):
        clip = str(folder / clip)
        if not Path(clip).is_file():
            wrong(f"there is no clip {clip}")
    court = entry.get("court", "") or None
    if court is not None and not is_url(court):
        court = str(folder / court)
        problem = _court_problem(court)
        if problem:
            wrong(problem)
    hand = entry.get("hand", "").lower()
    if hand not in ("", *HANDS):
        wrong(f"the hand is {entry['hand']!r}; write right or left, or leave it empty")
    date = entry.get("date", "")
    if date and not _is_date(date):
        wrong(f"the date is {date!r}; write year-month-day, such as 2026-03-14")
    letter = entry.get("letter", "").upper()
    if letter and not re.fullmatch("[A-Z]", letter):
        wrong(
            f"the letter is {entry['letter']!r}; write the player's letter in the clip, "
            "such as A or B"
        )
    if not player or not clip:
        return None
    return Row(
        number,
        player,
        Job(clip, court, next((known for known in HANDS if known == hand), None)),
        entry.get("age_group", ""),
        date,
        entry.get("session", ""),
        letter,
    )


def _court_problem(court: str) -> str | None:
    """What is wrong with a court file, by itself; whether it fits its clip shows later."""
    if not Path(court).is_file():
        return f"there is no court file {court}"
    try:
        read_court_file(court)
    except InputError as problem:
        return str(problem).removesuffix(".")
    return None


def _is_date(text: str) -> bool:
    try:
        return datetime.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _check_together(rows: Sequence[Row], problems: list[str]) -> None:
    """What only shows when lines are read together."""
    hands: dict[str, tuple[str, int]] = {}
    players: dict[tuple[str, str], tuple[str, int]] = {}
    letters: dict[str, tuple[str, int]] = {}
    for row in rows:
        hand = row.job.hand
        if hand:
            first, line = hands.setdefault(row.player, (hand, row.line))
            if first != hand:
                problems.append(
                    f"line {row.line}: {row.player} is {hand}-handed here and "
                    f"{first}-handed in line {line}"
                )
        clip = row.job.clip
        _, line = players.setdefault((clip, row.player), (row.player, row.line))
        if line != row.line:
            problems.append(
                f"line {row.line}: {row.player} is listed with this clip in line {line} already"
            )
            continue
        letter, line = letters.setdefault(clip, (row.letter, row.line))
        if line != row.line and (not letter or not row.letter or letter == row.letter):
            problems.append(
                f"line {row.line}: the same clip is another player's in line {line}; "
                "say in both lines in the column letter who is who, such as A and B"
            )


def _told(file: Path, problems: Sequence[str]) -> str:
    ordered = sorted(problems, key=lambda text: int(text.split()[1].rstrip(":")))
    shown = ordered[:_MOST_SHOWN]
    more = len(ordered) - len(shown)
    end = [f"and {more} more"] if more else []
    count = "one mistake" if len(ordered) == 1 else f"{len(ordered)} mistakes"
    return "\n".join(
        [
            f"The roster {file} has {count}; nothing was analysed:",
            *(f"  {text}" for text in (*shown, *end)),
            "Correct the roster and run again.",
        ]
    )
