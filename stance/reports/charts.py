"""Charts of comparisons and screenings as SVG, in the colours and shapes of the report.

A chart is as wide as its place on the page: across it counts in percent, down it in pixels, so
that its text keeps its size on a phone. Classes differ by shape as well as by colour.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from markupsafe import Markup

from stance.reports.pages import chart
from stance.runtime.language import gettext as _
from stance.types import Counted, StanceClass

Estimate = tuple[float | None, tuple[float, float]]
"""A value, None where unknown, and its interval."""

Row = tuple[str, Estimate, Sequence[float]]
"""A name, an estimate and the single values behind it."""


@dataclass(frozen=True)
class _Axis:
    """Values from `low` to `high` on the width of a chart from `left` to `right` percent."""

    low: float
    high: float
    left: float
    right: float

    def across(self, value: float) -> float:
        """Place of a value in percent of the width; what lies beyond the axis is at its end."""
        part = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.left + (self.right - self.left) * part

    def mark(self, estimate: Estimate) -> dict[str, float | None]:
        """Where an estimate and the ends of its interval are."""
        value, (low, high) = estimate
        middle = None if value is None else self.across(value)
        return {"low": self.across(low), "middle": middle, "high": self.across(high)}


_SHARES = _Axis(0.0, 1.0, 17.0, 93.0)
_ANGLES = _Axis(-90.0, 90.0, 18.0, 90.0)
_STRIP = _Axis(0.0, 1.0, 0.0, 100.0)

_ROW_HEIGHT = 34


def share_chart(what: Counted, rows: Sequence[Row], label: str) -> Markup:
    """Shares with intervals, one above the other, on an axis from 0 to 100 %.

    Parameters
    ----------
    what
        class, or the remark: gives mark and colour
    rows
        name, share with its interval, and the shares of single clips (small rings)
    label
        what a screen reader says
    """
    ticks = [(share, f"{100 * share:.0f} %") for share in (0.0, 0.25, 0.5, 0.75, 1.0)]
    return _rows_chart(what, rows, _SHARES, ticks, label)


def angle_chart(rows: Sequence[Row], limits_deg: Sequence[float], label: str) -> Markup:
    """Mean angles with intervals over the single positions (small rings), -90 to 90 degrees.

    Parameters
    ----------
    rows
        name, mean with its interval, single values; what lies beyond 90 is drawn at 90
    limits_deg
        limits of the classes, drawn as dashed lines
    label
        what a screen reader says
    """
    ticks = [
        (-90.0, _("90° back")),
        (-40.0, "40°"),
        (0.0, "0°"),
        (40.0, "40°"),
        (90.0, _("90° front")),
    ]
    return _rows_chart(None, rows, _ANGLES, ticks, label, limits_deg)


def paired_chart(pairs: Sequence[tuple[str, float, float, bool]], label: str) -> Markup:
    """Before and after of several players: a line each between two axes, 0 to 100 %.

    Parameters
    ----------
    pairs
        player, share before, share after, and whether the change is sure (bold line)
    label
        what a screen reader says
    """
    top = 30.0
    height = max(240.0, 15.0 * len(pairs))

    def down(share: float) -> float:
        return top + (1 - share) * height

    names_at = _spread_down(
        [down(after) for _name, _before, after, _sure in pairs], 14.0, top + height
    )
    return chart(
        "pairs.svg",
        label=label,
        top=top,
        bottom=top + height,
        ticks=[(down(s), f"{100 * s:.0f} %") for s in (0.0, 0.25, 0.5, 0.75, 1.0)],
        pairs=[
            {
                "name": name,
                "words": _("{before} % to {after} %").format(
                    before=round(100 * before), after=round(100 * after)
                ),
                "before": down(before),
                "after": down(after),
                "sure": sure,
                "label": y,
            }
            for (name, before, after, sure), y in zip(pairs, names_at, strict=True)
        ],
    )


def interval_strip(
    stance_class: StanceClass, estimate: Estimate, limit: float, label: str
) -> Markup:
    """A share and its interval on a thin strip from 0 to 100 %, with the limit of a habit."""
    mark, at = _STRIP.mark(estimate), _STRIP.across(limit)
    return chart("strip.svg", **{"class": stance_class}, label=label, mark=mark, limit=at)


def trend_chart(
    stance_class: StanceClass,
    days: Sequence[tuple[int, str, Estimate]],
    limit: float,
    label: str,
) -> Markup:
    """A line through a share on the days it was seen on, with intervals, 0 to 100 %.

    Parameters
    ----------
    stance_class
        gives mark and colour
    days
        number of the day (any origin), its name, and the share with its interval
    limit
        of a habit, a dashed line
    label
        what a screen reader says
    """
    top, height = 10.0, 150.0
    first, last = days[0][0], days[-1][0]
    # A single day stands in the middle.
    axis = _Axis(first, last, 14.0, 92.0) if last > first else _Axis(first - 1, first + 1, 14, 92)

    def down(share: float) -> float:
        return top + (1 - share) * height

    marks: list[dict[str, Any]] = []
    last_label = -100.0
    for day, name, (value, (low, high)) in days:
        x = axis.across(day)
        mark = {"x": x, "low": down(low), "high": down(high), "middle": None, "name": ""}
        if value is not None:
            mark |= {"middle": down(value), "words": f"{name}: {100 * value:.0f} %"}
        if x - last_label > 18:
            mark["name"], last_label = name, x
        marks.append(mark)
    known = [mark for mark in marks if mark["middle"] is not None]
    return chart(
        "trend.svg",
        joined=list(pairwise(known)),
        **{"class": stance_class},
        label=label,
        bottom=top + height,
        ticks=[(down(s), f"{100 * s:.0f} %") for s in (0.0, 0.5, 1.0)],
        limit=down(limit),
        days=marks,
    )


def _spread_down(places: Sequence[float], gap: float, bottom: float) -> list[float]:
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
    what: Counted | None,
    rows: Sequence[Row],
    axis: _Axis,
    ticks: Sequence[tuple[float, str]],
    label: str,
    limits: Sequence[float] = (),
) -> Markup:
    """Rows of a mark with whiskers over rings, above an axis."""
    shown = []
    for number, (name, estimate, singles) in enumerate(rows):
        y = _ROW_HEIGHT * (number + 0.5)
        # Rings are spread up and down in turn so that equal ones can be told apart.
        rings = [
            {"x": axis.across(value), "y": y + (index * 5 % 9 - 4) * 2.2}
            for index, value in enumerate(singles)
        ]
        shown.append({"name": name, "y": y, "mark": axis.mark(estimate), "rings": rings})
    return chart(
        "rows.svg",
        **{"class": what},
        label=label,
        bottom=_ROW_HEIGHT * len(rows),
        ticks=[(axis.across(value), text) for value, text in ticks],
        limits=[axis.across(value) for value in limits],
        rows=shown,
    )
