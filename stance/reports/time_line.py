"""The clip's time line, as SVG."""

import math
from html import escape

from stance.reports.palette import FAINT
from stance.reports.svg import class_bar, class_patterns, svg_text_at_percent
from stance.results.model import PlayerResult
from stance.types import CLASS_NAMES

# Width that a number over the time line takes on a phone.
_NUMBER_PERCENT = 6.0


def time_line(player: PlayerResult, duration_s: float, anchor: str) -> str:
    """When the player waited, and in which class: an SVG picture as text.

    Its width is that of the page; long clips take several rows. Each ready position links to
    `#<anchor>-<number>`.

    Parameters
    ----------
    player : the player.
    duration_s : seconds, of the clip.
    anchor : start of the cards' names, unique on the page.
    """
    row_s, rows = _time_rows(duration_s)
    row_height, bar_top, bar_height = 78, 28, 24
    parts = [class_patterns(anchor)]
    for row in range(rows):
        top, begin = row * row_height, row * row_s
        parts.append(
            f'<rect x="0" y="{top + bar_top}" width="100%" height="{bar_height}" rx="4" '
            f'style="fill:var(--rail,#e8ecf0)"/>'
        )
        parts += _time_axis(begin, row_s, top + bar_top + bar_height)
    last_place, raised = (-1, 0.0), False
    for number, position in enumerate(player.ready_positions, start=1):
        first_row = min(int(position.start_s // row_s), rows - 1)
        last_row = min(int(position.end_s // row_s), rows - 1)
        for row in range(first_row, last_row + 1):
            begin = max(position.start_s - row * row_s, 0.0) / row_s * 100
            end = min(position.end_s - row * row_s, row_s) / row_s * 100
            y = row * row_height + bar_top
            label = ""
            if row == first_row:
                middle = (begin + end) / 2
                close = last_place[0] == row and middle - last_place[1] < _NUMBER_PERCENT
                raised = close and not raised
                last_place = row, middle
                label = svg_text_at_percent(middle, y - 5 - 11 * raised, str(number))
            parts.append(
                f'<a href="#{anchor}-{number}"><title>{number}: '
                f"{CLASS_NAMES[position.stance_class]}, {position.start_s:.1f} to "
                f"{position.end_s:.1f} s</title>"
                f"{class_bar(position.stance_class, anchor, begin, end, y, bar_height)}"
                f"{label}</a>"
            )
    label = f"Time line of player {player.player}: {len(player.ready_positions)} ready positions"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100%" height="{rows * row_height}" '
        f'role="img" aria-label="{escape(label)}">{"".join(parts)}</svg>'
    )


def _time_rows(duration_s: float) -> tuple[float, int]:
    """Seconds a row, and the number of rows: 30 s a row, more where that makes over 12 rows."""
    rows = min(max(math.ceil(duration_s / 30), 1), 12)
    return max(duration_s, 0.1) / rows, rows


def _time_axis(begin_s: float, length_s: float, y: float) -> list[str]:
    """Ticks with seconds under a row of the time line."""
    step = next((s for s in (0.5, 1, 2, 5, 10, 20, 30, 60) if length_s / s <= 7), 120)
    first = math.ceil(begin_s / step - 1e-9)
    parts = []
    while first * step <= begin_s + length_s + 1e-9:
        seconds = first * step
        percent = (seconds - begin_s) / length_s * 100
        anchor = "start" if percent < 3 else "end" if percent > 97 else "middle"
        parts.append(
            f'<line x1="{percent:.2f}%" y1="{y}" x2="{percent:.2f}%" y2="{y + 5}" '
            f'style="stroke:{FAINT};stroke-width:1"/>'
            + svg_text_at_percent(percent, y + 18, f"{seconds:g} s", anchor)
        )
        first += 1
    return parts
