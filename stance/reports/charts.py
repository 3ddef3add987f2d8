"""Charts of comparisons and screenings as SVG text, in the colours and shapes of `drawing`.

A chart is as wide as its place on the page: across it counts in percent, down it in pixels, so
that its text keeps its size on a phone. Classes differ by shape as well as by colour.
"""

from collections.abc import Sequence
from html import escape

from stance.reports.palette import CLASS_FILLS

_INK, _FAINT = "var(--ink,#1b2430)", "var(--faint,#5d6875)"

_PAPER, _RAIL = "var(--paper,#ffffff)", "var(--rail,#e8ecf0)"

_LIMIT = "var(--notice-edge,#d98200)"

# Share of the width that labels left of an axis take, and the margin right of it.
_LABELS, _MARGIN = 17.0, 4.0

Estimate = tuple[float | None, tuple[float, float]]


def share_chart(
    stance_class: str,
    rows: Sequence[tuple[str, Estimate, Sequence[float]]],
    label: str,
) -> str:
    """Shares with intervals, one above the other, on an axis from 0 to 100 %.

    Parameters
    ----------
    stance_class : gives mark and colour
    rows : name, share with its interval, and the shares of single clips (small rings)
    label : what a screen reader says
    """
    ticks = [(share, f"{100 * share:.0f} %") for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    return _rows_chart(stance_class, rows, (0.0, 1.0), ticks, label)


def angle_chart(
    rows: Sequence[tuple[str, Estimate, Sequence[float]]],
    limits_deg: Sequence[float],
    label: str,
) -> str:
    """Mean angles with intervals over the single positions (small rings), -90 to 90 degrees.

    Parameters
    ----------
    rows : name, mean with its interval, single values; what lies beyond 90 is drawn at 90
    limits_deg : limits of the classes, drawn as dashed lines
    label : what a screen reader says
    """
    ticks = [(v, f"{v:.0f}°".replace("-", "−")) for v in (-90.0, -40.0, 0.0, 40.0, 90.0)]
    return _rows_chart(None, rows, (-90.0, 90.0), ticks, label, limits_deg)


def change_chart(changes: Sequence[tuple[str, str, Estimate]], label: str) -> str:
    """Differences with intervals around a bold line at no change, -100 to +100 points.

    Parameters
    ----------
    changes : class, name and difference with its interval
    label : what a screen reader says
    """
    ticks = [
        (v, f"{100 * v:+.0f}".replace("-", "−").replace("+0", "0"))
        for v in (-1.0, -0.5, 0.0, 0.5, 1.0)
    ]
    row_height = 42
    bottom = row_height * len(changes)
    parts = _axis((-1.0, 1.0), ticks, bottom, 2.0)
    zero = _across(0.0, (-1.0, 1.0), 2.0)
    parts.append(
        f'<line x1="{zero:.2f}%" y1="0" x2="{zero:.2f}%" y2="{bottom}" '
        f'style="stroke:{_INK};stroke-width:2"/>'
    )
    for number, (stance_class, name, estimate) in enumerate(changes):
        y = row_height * number
        parts.append(_text(3.5, y + 13, name, "start"))
        parts += _mark(stance_class, estimate, (-1.0, 1.0), y + 28, 2.0)
    return _svg(bottom + 30, label, parts)


def paired_chart(pairs: Sequence[tuple[str, float, float, bool]], label: str) -> str:
    """Before and after of several players: a line each between two axes, 0 to 100 %.

    Parameters
    ----------
    pairs : player, share before, share after, and whether the change is sure (bold line)
    label : what a screen reader says
    """
    top, left, right = 30.0, 16.0, 66.0
    height = max(240.0, 15.0 * len(pairs))

    def down(share: float) -> float:
        return top + (1 - share) * height

    parts = []
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts += [
            f'<line x1="{left}%" x2="{right}%" y1="{down(share):.1f}" '
            f'y2="{down(share):.1f}" style="stroke:{_RAIL};stroke-width:1"/>',
            _text(left, down(share) + 4, f"{100 * share:.0f} %", "end", shift=-9),
        ]
    for x, text in ((left, "before"), (right, "after")):
        parts += [
            f'<line x1="{x}%" x2="{x}%" y1="{top}" y2="{top + height}" '
            f'style="stroke:{_FAINT};stroke-width:1.5"/>',
            _text(x, top - 12, text, "middle", bold=True),
        ]
    names_at = _apart([down(after) for _, _, after, _ in pairs], 14.0, top + height)
    for (name, before, after, sure), y in zip(pairs, names_at, strict=True):
        width = 2.6 if sure else 1.2
        dashes = "" if sure else ";stroke-dasharray:4 3"
        parts.append(
            f"<g><title>{escape(name)}: {100 * before:.0f} % to {100 * after:.0f} %</title>"
            f'<line x1="{left}%" y1="{down(before):.1f}" x2="{right}%" y2="{down(after):.1f}" '
            f'style="stroke:{_INK};stroke-width:{width}{dashes}"/>'
            f'<line x1="{right}%" y1="{down(after):.1f}" x2="{right + 4}%" y2="{y:.1f}" '
            f'style="stroke:{_FAINT};stroke-width:1"/>'
            f'<circle cx="{left}%" cy="{down(before):.1f}" r="4" style="fill:{_PAPER};'
            f'stroke:{_INK};stroke-width:2"/><circle cx="{right}%" cy="{down(after):.1f}" r="4" '
            f'style="fill:{_INK}"/></g>'
        )
        parts.append(_text(right + 4, y + 4, name, "start", bold=sure, shift=4))
    return _svg(top + height + 14, label, parts)


def interval_strip(
    stance_class: str,
    estimate: Estimate,
    limit: float,
    label: str,
) -> str:
    """A share and its interval on a thin strip from 0 to 100 %, with the limit of a habit."""
    parts = [
        f'<rect x="0" y="10" width="100%" height="6" rx="3" style="fill:{_RAIL}"/>',
        f'<line x1="{100 * limit}%" x2="{100 * limit}%" y1="3" y2="23" '
        f'style="stroke:{_LIMIT};stroke-width:2;stroke-dasharray:3 2"/>',
    ]
    parts += _mark(stance_class, estimate, (0.0, 1.0), 13, 0.0, 0.0)
    return _svg(26, label, parts)


def trend_chart(
    stance_class: str,
    days: Sequence[tuple[int, str, Estimate]],
    limit: float,
    label: str,
) -> str:
    """A share over the days it was seen on, with intervals, 0 to 100 %.

    Parameters
    ----------
    stance_class : gives mark and colour
    days : number of the day (any origin), its name, and the share with its interval
    limit : of a habit, a dashed line
    label : what a screen reader says
    """
    top, height, left, right = 10.0, 150.0, 14.0, 92.0
    first, last = days[0][0], days[-1][0]

    def across(day: int) -> float:
        return left + (right - left) * ((day - first) / (last - first) if last > first else 0.5)

    def down(share: float) -> float:
        return top + (1 - share) * height

    parts = []
    for share in (0.0, 0.5, 1.0):
        parts += [
            f'<line x1="{left - 4}%" x2="{right + 4}%" y1="{down(share)}" '
            f'y2="{down(share)}" style="stroke:{_RAIL};stroke-width:1.5"/>',
            _text(left - 5, down(share) + 4, f"{100 * share:.0f} %", "end"),
        ]
    parts.append(
        f'<line x1="{left - 4}%" x2="{right + 4}%" y1="{down(limit)}" '
        f'y2="{down(limit)}" style="stroke:{_LIMIT};stroke-width:1.5;'
        'stroke-dasharray:4 3"/>'
    )
    last_label = -100.0
    for day, name, (value, (low, high)) in days:
        x = across(day)
        if value is not None:
            parts += [
                f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="{down(high):.1f}" '
                f'y2="{down(low):.1f}" style="stroke:{_INK};stroke-width:2"/>',
                _shape(stance_class, x, down(value), f"{name}: {100 * value:.0f} %"),
            ]
        if x - last_label > 18:
            parts.append(_text(x, top + height + 20, name, "middle"))
            last_label = x
    return _svg(top + height + 28, label, parts)


def _apart(places: Sequence[float], gap: float, bottom: float) -> list[float]:
    """Places moved as little as a simple way down and up can so that labels do not overlap."""
    order = sorted(range(len(places)), key=lambda i: places[i])
    moved = list(places)
    for above, below in zip(order, order[1:], strict=False):
        moved[below] = max(moved[below], moved[above] + gap)
    limit = bottom
    for index in reversed(order):
        moved[index] = min(moved[index], limit)
        limit = moved[index] - gap
    return moved


def _rows_chart(
    stance_class: str | None,
    rows: Sequence[tuple[str, Estimate, Sequence[float]]],
    span: tuple[float, float],
    ticks: Sequence[tuple[float, str]],
    label: str,
    dashed: Sequence[float] = (),
) -> str:
    """Rows of a mark with whiskers over rings, above an axis."""
    row_height = 34
    bottom = row_height * len(rows)
    parts = _axis(span, ticks, bottom, _LABELS)
    for value in dashed:
        x = _across(value, span, _LABELS)
        parts.append(
            f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="0" y2="{bottom}" '
            f'style="stroke:{_FAINT};stroke-width:1;stroke-dasharray:3 3"/>'
        )
    for number, (name, estimate, singles) in enumerate(rows):
        y = row_height * number + row_height / 2
        parts.append(_text(0, y + 4, name, "start"))
        for index, value in enumerate(singles):
            x = _across(min(max(value, span[0]), span[1]), span, _LABELS)
            # Rings are spread up and down in turn so that equal ones can be told apart.
            offset = (index * 5 % 9 - 4) * 2.2
            parts.append(
                f'<circle cx="{x:.2f}%" cy="{y + offset:.1f}" r="2.6" '
                f'style="fill:none;stroke:{_FAINT};stroke-width:1;'
                'stroke-opacity:.55"/>'
            )
        parts += _mark(stance_class, estimate, span, y, _LABELS)
    return _svg(bottom + 24, label, parts)


def _mark(
    stance_class: str | None,
    estimate: Estimate,
    span: tuple[float, float],
    y: float,
    left: float,
    margin: float = _MARGIN,
) -> list[str]:
    """A whisker for the interval and the class's mark on the estimate."""
    value, interval = estimate
    low, high = (_across(min(max(end, span[0]), span[1]), span, left, margin) for end in interval)
    ends = "".join(
        f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="{y - 6}" y2="{y + 6}" '
        f'style="stroke:{_INK};stroke-width:2"/>'
        for x in (low, high)
    )
    parts = [
        f'<line x1="{low:.2f}%" x2="{high:.2f}%" y1="{y}" y2="{y}" '
        f'style="stroke:{_INK};stroke-width:2"/>',
        ends,
    ]
    if value is not None:
        parts.append(_shape(stance_class, _across(value, span, left, margin), y))
    return parts


def _shape(stance_class: str | None, x: float, y: float, title: str = "") -> str:
    """The class's mark: a square, a diamond or a disc, centred at x percent; a bar for no class."""
    fill = CLASS_FILLS[stance_class] if stance_class else _INK
    style = f'style="fill:{fill};stroke:{_INK};stroke-width:1.5"'
    shape = {
        None: f'<rect x="-2" y="-9" width="4" height="18" {style}/>',
        "square": f'<rect x="-7" y="-7" width="14" height="14" {style}/>',
        "slightly_racket_leg_back": f'<path d="M-9 0l9 -9l9 9l-9 9Z" {style}/>',
        "over_side_on": f'<circle r="7.5" {style}/>',
    }[stance_class]
    words = f"<title>{escape(title)}</title>" if title else ""
    # An inner svg takes percent where a transform would not.
    return f'<svg x="{x:.2f}%" y="{y:.1f}" overflow="visible">{words}{shape}</svg>'


def _axis(
    span: tuple[float, float],
    ticks: Sequence[tuple[float, str]],
    bottom: float,
    left: float,
) -> list[str]:
    """Light lines with numbers below."""
    parts = []
    for value, text in ticks:
        x = _across(value, span, left)
        parts += [
            f'<line x1="{x:.2f}%" x2="{x:.2f}%" y1="0" y2="{bottom}" '
            f'style="stroke:{_RAIL};stroke-width:1.5"/>',
            _text(x, bottom + 17, text, "middle", faint=True),
        ]
    return parts


def _across(
    value: float,
    span: tuple[float, float],
    left: float,
    margin: float = _MARGIN,
) -> float:
    """Place of a value in percent of the width."""
    return (
        left
        + (100 - left - margin) * (value - span[0]) / (span[1] - span[0])
        + (margin / 2 if left <= margin else 0.0)
    )


def _text(
    x: float,
    y: float,
    text: str,
    anchor: str,
    faint: bool = False,
    bold: bool = False,
    shift: float = 0.0,
) -> str:
    style = f"font-size:12px;fill:{_FAINT if faint else _INK}" + (
        ";font-weight:600" if bold else ""
    )
    return (
        f'<text x="{x:.2f}%" y="{y:.1f}" dx="{shift}" text-anchor="{anchor}" '
        f'style="{style}">{escape(text)}</text>'
    )


def _svg(height: float, label: str, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="100%" height="{height:.0f}" '
        f'role="img" aria-label="{escape(label)}">{"".join(parts)}</svg>'
    )
