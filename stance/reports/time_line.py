"""The clip's time line, as SVG: strokes of both sides, and ready positions."""

import math
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from stance.reports.pages import chart
from stance.reports.sentences import class_words
from stance.reports.stroke_words import MET_WORDS
from stance.results.model import PlayerResult
from stance.runtime.language import format_number, ngettext
from stance.runtime.language import gettext as _
from stance.statistics.statement import describe_strokes

# Width that a number over the time line takes on a phone.
_NUMBER_PERCENT = 6.0

_BAR_TOP, _BAR_HEIGHT = 28, 24
_ROW_HEIGHT = 78
# Rows with strokes have room for marks above and below the bars, and show less time each: a stroke
# is met within half a second, a wait lasts longer.
_STROKES_ROW_HEIGHT, _STROKES_BAR_TOP = 104, 42
_ROW_S, _STROKES_ROW_S = 30.0, 15.0
_MOST_ROWS = 12


@dataclass(frozen=True)
class _Rows:
    """Rows of equal length, one below the other.

    Attributes
    ----------
    number
        of rows
    length_s
        seconds each
    height, bar_top
        pixels of a row, and from its top to its bars
    """

    number: int
    length_s: float
    height: int
    bar_top: int

    def row_of(self, time_s: float) -> int:
        """The row in which a time lies."""
        return min(max(int(time_s // self.length_s), 0), self.number - 1)

    def across(self, time_s: float, row: int) -> float:
        """Where a time lies in a row, percent of its width; its ends where the time is beyond."""
        return min(max(time_s / self.length_s - row, 0.0), 1.0) * 100

    def top(self, row: int) -> int:
        """Upper edge of a row's bars."""
        return row * self.height + self.bar_top


def time_line(player: PlayerResult, duration_s: float, anchor: str) -> Markup:
    """When the strokes were, how they were met, and when the player was set, in which class.

    Its width is that of the page; long clips take several rows.

    Parameters
    ----------
    player
        the player.
    duration_s
        seconds, of the clip.
    anchor
        start of the cards' names, unique on the page.
    """
    rows = _lay_rows(duration_s, bool(player.strokes_faced or player.own_strokes))
    return chart(
        "time_line.svg",
        height=rows.number * rows.height,
        label=_label(player),
        anchor=anchor,
        bar_height=_BAR_HEIGHT,
        rows=[
            {"top": rows.top(row), "ticks": _ticks(row * rows.length_s, rows.length_s)}
            for row in range(rows.number)
        ],
        bars=_bars(player, rows),
        faced=_faced(player, rows),
        own=[
            {
                "x": rows.across(stroke.time_s, row),
                "y": rows.top(row) + _BAR_HEIGHT,
                "words": _("own stroke, {time} s").format(time=format_number(stroke.time_s, 1)),
            }
            for stroke in player.own_strokes
            for row in [rows.row_of(stroke.time_s)]
        ],
    )


def _lay_rows(duration_s: float, strokes: bool) -> _Rows:
    """Rows for a clip's length, more seconds each where that would make too many."""
    wanted_s = _STROKES_ROW_S if strokes else _ROW_S
    number = min(max(math.ceil(duration_s / wanted_s), 1), _MOST_ROWS)
    height, bar_top = (
        (_STROKES_ROW_HEIGHT, _STROKES_BAR_TOP) if strokes else (_ROW_HEIGHT, _BAR_TOP)
    )
    return _Rows(number, max(duration_s, 0.1) / number, height, bar_top)


def _label(player: PlayerResult) -> str:
    """The time line in words, for those who can't see it."""
    number = len(player.ready_positions)
    words = [
        ngettext("{number} ready position", "{number} ready positions", number).format(
            number=number
        )
    ]
    if player.strokes_faced:
        words.insert(0, describe_strokes(player).removesuffix("."))
    if player.own_strokes:
        own = len(player.own_strokes)
        words.append(
            ngettext("{number} own stroke", "{number} own strokes", own).format(number=own)
        )
    return _("Time line of {player}: {words}").format(player=player.title, words="; ".join(words))


def _bars(player: PlayerResult, rows: _Rows) -> list[dict[str, Any]]:
    """The ready positions; one that goes on in the next row has a bar in each."""
    bars: list[dict[str, Any]] = []
    last_row, last_middle, raised = -1, 0.0, False
    for number, position in enumerate(player.ready_positions, start=1):
        words = _("{number}: {stance}, {start} to {end} s").format(
            number=number,
            stance=class_words(position),
            start=format_number(position.start_s, 1),
            end=format_number(position.end_s, 1),
        )
        first, final = rows.row_of(position.start_s), rows.row_of(position.end_s)
        for row in range(first, final + 1):
            begin, end = rows.across(position.start_s, row), rows.across(position.end_s, row)
            label_y = None
            if row == first:
                middle = (begin + end) / 2
                close = last_row == row and middle - last_middle < _NUMBER_PERCENT
                raised = close and not raised
                last_row, last_middle = row, middle
                label_y = rows.top(row) - (rows.bar_top - 23) - 11 * raised
            bars.append(
                {
                    "number": number,
                    "class": position.stance_class,
                    "words": words,
                    "begin": begin,
                    "end": end,
                    "top": rows.top(row),
                    "label_y": label_y,
                }
            )
    return bars


def _faced(player: PlayerResult, rows: _Rows) -> list[dict[str, Any]]:
    """The other side's strokes, each a mark over the bars at its contact."""
    marks = []
    for stroke in player.strokes_faced:
        row = rows.row_of(stroke.time_s)
        words = (
            _("serve faced, {time} s: {met}")
            if stroke.serve
            else _("stroke faced, {time} s: {met}")
        )
        marks.append(
            {
                "x": rows.across(stroke.time_s, row),
                "y": rows.top(row),
                "serve": stroke.serve,
                "met": stroke.met,
                "words": words.format(
                    time=format_number(stroke.time_s, 1), met=_(MET_WORDS[stroke.met])
                ),
            }
        )
    return marks


def _ticks(begin_s: float, length_s: float) -> list[dict[str, Any]]:
    """Ticks with seconds under a row of the time line."""
    step = next((s for s in (0.5, 1, 2, 5, 10, 20, 30, 60) if length_s / s <= 7), 120)
    number = math.ceil(begin_s / step - 1e-9)
    ticks = []
    while number * step <= begin_s + length_s + 1e-9:
        percent = (number * step - begin_s) / length_s * 100
        anchor = "start" if percent < 3 else "end" if percent > 97 else "middle"
        ticks.append(
            {
                "x": percent,
                "anchor": anchor,
                "words": _("{time} s").format(time=format_number(number * step, int(step < 1))),
            }
        )
        number += 1
    return ticks
