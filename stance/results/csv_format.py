"""The ready positions as `positions.csv`, and the strokes faced as `strokes.csv`."""

import csv
import io
import math
import re
from collections.abc import Iterable, Sequence
from typing import Any

from stance.results.measures_table import MEASURES
from stance.results.model import Met, PlayerResult, ReadyPosition, Result, StrokeFaced
from stance.types import CLASS_NAMES, CLASSES

POSITIONS_FILE = "positions.csv"

STROKES_FILE = "strokes.csv"

# The wide forms are taken for the narrow ones by some spreadsheets.
_FORMULA_STARTS = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")

_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")

_MET_WORDS: dict[Met, str] = {
    "set": "set",
    "on_the_move": "on the move",
    "not_seen": "not seen well enough",
}


def positions_csv(result: Result) -> str:
    """A table for a spreadsheet: a heading row, then a row per ready position.

    Numbers have a decimal point; what is unknown is an empty cell.
    """
    rows = [
        [*_whose(result, player), *_cells(player, number, position), result.court.in_words]
        for player in result.players
        for number, position in enumerate(player.ready_positions, start=1)
    ]
    return csv_table([*_WHOSE_HEADINGS, *_headings(), "court"], rows)


def strokes_csv(result: Result) -> str:
    """A table for a spreadsheet: a heading row, then a row per stroke faced; as `positions_csv`."""
    headings = [
        *_WHOSE_HEADINGS,
        "stroke faced",
        *_CONTACT_HEADINGS,
        "met",
        "ready position",
        "both feet down in seconds after the contact",
        "first foot leaves in seconds after the contact",
        "attacker across the court in metres (0: middle, positive: to the defender's right)",
        "attacker along the court in metres (0: net, positive: beyond it)",
    ]
    rows = [
        [*_whose(result, player), *_stroke_cells(player, number, stroke)]
        for player in result.players
        for number, stroke in enumerate(player.strokes_faced, start=1)
    ]
    return csv_table(headings, rows)


_WHOSE_HEADINGS = ("player", "name", "date", "session", "half of the court")

_CONTACT_HEADINGS = (
    "contact in seconds",
    "standard error of the contact in seconds",
    "known by",
    "serve",
)


def csv_table(headings: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The text of a table: a heading row, then the rows.

    A text that a spreadsheet would take for a formula and run, such as =1+1, gets an apostrophe
    before it, which spreadsheets read as "this is text". Numbers stay as they are.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(headings)
    writer.writerows([_make_harmless(cell) for cell in row] for row in rows)
    return text.getvalue()


def _make_harmless(cell: Any) -> Any:
    runs = isinstance(cell, str) and cell.startswith(_FORMULA_STARTS)
    return f"'{cell}" if runs and not _NUMBER.fullmatch(cell) else cell


def _whose(result: Result, player: PlayerResult) -> tuple[str, ...]:
    return (player.player, player.name, result.date, result.session, player.half)


def _headings() -> list[str]:
    headings = [
        "racket hand",
        "ready position",
        "start in seconds",
        "end in seconds",
        "duration in seconds",
        "first frame",
        "last frame",
        "frame shown in the report",
        "class",
        *(f"probability of {CLASS_NAMES[name]}" for name in CLASSES),
    ]
    for measure in MEASURES:
        headings.append(measure.heading)
        if measure.error_field:
            headings.append(measure.error_heading)
    return [
        *headings,
        "remarks",
        "side that leads where over-side-on",
        "racket foot leading",
        "probability that the racket foot leads",
        *_CONTACT_HEADINGS,
        "both feet down in seconds after the contact",
    ]


def _cells(player: PlayerResult, number: int, position: ReadyPosition) -> list[str]:
    p = position
    cells = [
        player.hand,
        str(number),
        _cell(p.start_s, 3),
        _cell(p.end_s, 3),
        _cell(p.duration_s, 3),
        str(p.start_frame),
        str(p.end_frame),
        str(p.key_frame),
        CLASS_NAMES[p.stance_class],
        *(_cell(p.probabilities.get(name, math.nan), 3) for name in CLASSES),
    ]
    for measure in MEASURES:
        cells.append(_cell(measure.value(p), measure.digits))
        if measure.error_field:
            cells.append(_cell(measure.error(p), measure.digits))
    stroke = player.stroke_of.get(number - 1)
    return [
        *cells,
        "; ".join(p.remarks),
        p.side_in_words,
        _yes_or_no(p.has_leading_foot),
        _cell(p.racket_foot_leading, 3),
        *(_contact_cells(stroke) if stroke else ("",) * len(_CONTACT_HEADINGS)),
        _cell(p.start_s - stroke.time_s, 3) if stroke else "",
    ]


def _stroke_cells(player: PlayerResult, number: int, stroke: StrokeFaced) -> list[str]:
    position = player.position_of(stroke)
    return [
        str(number),
        *_contact_cells(stroke),
        _MET_WORDS[stroke.met],
        "" if stroke.ready_position is None else str(stroke.ready_position + 1),
        "" if position is None else _cell(position.start_s - stroke.time_s, 3),
        "" if position is None else _cell(position.end_s - stroke.time_s, 3),
        *(_cell(place, 2) for place in stroke.attacker_m),
    ]


def _contact_cells(stroke: StrokeFaced) -> tuple[str, ...]:
    return (
        _cell(stroke.time_s, 3),
        _cell(stroke.time_se_s, 3),
        "; ".join(stroke.known_by),
        _yes_or_no(stroke.serve),
    )


def _yes_or_no(holds: bool) -> str:
    return "yes" if holds else "no"


def _cell(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else ""
