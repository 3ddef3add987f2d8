"""The ready positions as `positions.csv`."""

import csv
import io
import math

from stance.results.measures_table import MEASURES
from stance.results.model import PlayerResult, ReadyPosition, Result
from stance.types import CLASS_NAMES, CLASSES

POSITIONS_FILE = "positions.csv"


def positions_csv(result: Result) -> str:
    """A table for a spreadsheet: a heading row, then a row per ready position.

    Numbers have a decimal point; what is unknown is an empty cell.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_headings())
    for player in result.players:
        for number, position in enumerate(player.ready_positions, start=1):
            writer.writerow(_cells(player, number, position))
    return text.getvalue()


def _headings() -> list[str]:
    headings = [
        "player",
        "half of the court",
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
    return [*headings, "remarks"]


def _cells(player: PlayerResult, number: int, position: ReadyPosition) -> list[str]:
    p = position
    cells = [
        player.player,
        player.half,
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
    return [*cells, "; ".join(p.remarks)]


def _cell(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else ""
