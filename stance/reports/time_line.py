"""The clip's time line, as SVG."""

import math
from typing import Any

from markupsafe import Markup

from stance.reports.pages import chart
from stance.results.model import PlayerResult
from stance.types import CLASS_NAMES

# Width that a number over the time line takes on a phone.
_NUMBER_PERCENT = 6.0

_ROW_HEIGHT, _BAR_TOP, _BAR_HEIGHT = 78, 28, 24


def time_line(player: PlayerResult, duration_s: float, anchor: str) -> Markup:
    """When the player waited, and in which class.

    Its width is that of the page; long clips take several rows. Each ready position links to
    `#<anchor>-<number>`.

    Parameters
    ----------
    player
        the player.
    duration_s
        seconds, of the clip.
    anchor
        start of the cards' names, unique on the page.
    """
    row_s, rows = _time_rows(duration_s)
    return chart(
        "time_line.svg",
        height=rows * _ROW_HEIGHT,
        label=f"Time line of player {player.player}: {len(player.ready_positions)} ready positions",
        anchor=anchor,
        bar_height=_BAR_HEIGHT,
        rows=[
            {"top": row * _ROW_HEIGHT + _BAR_TOP, "ticks": _ticks(row * row_s, row_s)}
            for row in range(rows)
        ],
        bars=_bars(player, row_s, rows),
    )


def _bars(player: PlayerResult, row_s: float, rows: int) -> list[dict[str, Any]]:
    """The ready positions; one that goes on in the next row has a bar in each."""
    bars: list[dict[str, Any]] = []
    last_row, last_middle, raised = -1, 0.0, False
    for number, position in enumerate(player.ready_positions, start=1):
        times = f"{position.start_s:.1f} to {position.end_s:.1f} s"
        first, final = (
            min(int(seconds // row_s), rows - 1) for seconds in (position.start_s, position.end_s)
        )
        for row in range(first, final + 1):
            begin = max(position.start_s - row * row_s, 0.0) / row_s * 100
            end = min(position.end_s - row * row_s, row_s) / row_s * 100
            top = row * _ROW_HEIGHT + _BAR_TOP
            label_y = None
            if row == first:
                middle = (begin + end) / 2
                close = last_row == row and middle - last_middle < _NUMBER_PERCENT
                raised = close and not raised
                last_row, last_middle = row, middle
                label_y = top - 5 - 11 * raised
            bars.append(
                {
                    "number": number,
                    "class": position.stance_class,
                    "words": f"{number}: {CLASS_NAMES[position.stance_class]}, {times}",
                    "begin": begin,
                    "end": end,
                    "top": top,
                    "label_y": label_y,
                }
            )
    return bars


def _time_rows(duration_s: float) -> tuple[float, int]:
    """Seconds a row, and the number of rows: 30 s a row, more where that makes over 12 rows."""
    rows = min(max(math.ceil(duration_s / 30), 1), 12)
    return max(duration_s, 0.1) / rows, rows


def _ticks(begin_s: float, length_s: float) -> list[dict[str, Any]]:
    """Ticks with seconds under a row of the time line."""
    step = next((s for s in (0.5, 1, 2, 5, 10, 20, 30, 60) if length_s / s <= 7), 120)
    number = math.ceil(begin_s / step - 1e-9)
    ticks = []
    while number * step <= begin_s + length_s + 1e-9:
        percent = (number * step - begin_s) / length_s * 100
        anchor = "start" if percent < 3 else "end" if percent > 97 else "middle"
        ticks.append({"x": percent, "anchor": anchor, "words": f"{number * step:g} s"})
        number += 1
    return ticks
