"""The page of a comparison."""

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup

from stance.comparison.model import Change, Comparison
from stance.comparison.presentation import (
    MEASURE_TITLES,
    draw_means,
    draw_shares,
    format_filming,
    format_mean,
    format_on_the_move,
    format_share,
    format_sides,
    format_signed,
)
from stance.reports.charts import change_chart, paired_chart
from stance.reports.pages import counted, page
from stance.statistics.pooled import COMPARED_FIELDS
from stance.types import CLASSES, COUNTED_NAMES, LEADING, Counted

_VERDICTS = {
    "up": "more often after",
    "down": "less often after",
    "steady": "no change of note",
    "too_few": "too few to tell",
}


def comparison_html(comparison: Comparison) -> str:
    """The text of the page."""
    several = len(comparison.players) > 1
    whole = comparison.whole
    before, after = (counted(len(side.results), "clip") for side in (whole.before, whole.after))
    return page(
        "comparison.html",
        title=f"Before and after: {whole.player}",
        about=f"{whole.player}; {before} before, {after} after",
        whole=_describe_part(whole, 0),
        warnings=[*comparison.warnings, *whole.warnings],
        paired=_draw_pairs(comparison.players) if several else None,
        players=[_describe_part(c, n) for n, c in enumerate(comparison.players, 1)]
        if several
        else [],
        clips=[row for c in comparison.players for row in _list_clips(c)],
        resampled=whole.classes["over_side_on"].method == "bootstrap",
    )


def _draw_pairs(changes: Sequence[Change]) -> Markup:
    """Each player's share of over-side-on before and after, joined by a line."""
    pairs = []
    for change in changes:
        over = change.classes["over_side_on"]
        if over.before.share is not None and over.after.share is not None:
            is_sure = over.verdict in ("up", "down")
            pairs.append((change.player, over.before.share, over.after.share, is_sure))
    label = "; ".join(
        f"{name} {100 * before:.0f} % to {100 * after:.0f} %" for name, before, after, _ in pairs
    )
    return paired_chart(pairs, f"Share of over-side-on before and after: {label}")


def _describe_part(change: Change, number: int) -> dict[str, Any]:
    """What the template shows of one player or the group."""
    over = change.classes["over_side_on"]
    return {
        "anchor": f"player-{number}",
        "name": change.player,
        "statement": change.statement,
        "warnings": change.warnings,
        "positions": over.before.assessed + over.after.assessed,
        "shares": [_describe_share(change, what) for what in (*CLASSES, LEADING)],
        "met": [
            {"when": "before", "words": format_on_the_move(change.before.strokes)},
            {"when": "after", "words": format_on_the_move(change.after.strokes)},
        ]
        if change.before.strokes.in_play or change.after.strokes.in_play
        else [],
        "changes": change_chart(
            [
                (
                    what,
                    COUNTED_NAMES[what],
                    (change.share_of(what).difference, change.share_of(what).interval),
                )
                for what in (*CLASSES, LEADING)
            ],
            "Change of each share with its interval; figures below",
        ),
        "measures": [_describe_measure(change, name) for name in COMPARED_FIELDS],
    }


def _describe_share(change: Change, what: Counted) -> dict[str, Any]:
    """What the template shows of the share of a class, or of the remark."""
    share = change.share_of(what)
    low, high = share.interval
    sides = [
        f"{when}, {words}"
        for when, pool in (("before", change.before), ("after", change.after))
        if what == "over_side_on" and (words := format_sides(pool))
    ]
    return {
        "name": COUNTED_NAMES[what],
        "sides": "; ".join(sides),
        "before": format_share(share.before),
        "after": format_share(share.after),
        "difference": "not known"
        if share.difference is None
        else f"{format_signed(100 * share.difference)} points",
        "interval": f"{format_signed(100 * low)} to {format_signed(100 * high)}",
        "verdict": _VERDICTS[share.verdict],
        "chart": draw_shares(
            what,
            [("before", share.before, change.before), ("after", share.after, change.after)],
        ),
    }


def _describe_measure(change: Change, name: str) -> dict[str, Any]:
    """What the template shows of one measure's mean."""
    measure = change.measures[name]
    low, high = measure.interval
    return {
        "name": MEASURE_TITLES[name],
        "before": format_mean(measure.before),
        "after": format_mean(measure.after),
        "difference": "not known"
        if measure.difference is None
        else f"{format_signed(measure.difference)}°",
        "interval": "not known"
        if (low, high) == (-180.0, 180.0)
        else f"{format_signed(low)} to {format_signed(high)}°",
        "chart": draw_means(
            name,
            [("before", measure.before, change.before), ("after", measure.after, change.after)],
        ),
    }


def _list_clips(change: Change) -> list[dict[str, Any]]:
    """A row of the table of clips for each clip of a player."""
    rows = []
    for when, pool in (("before", change.before), ("after", change.after)):
        for number, (result, filming) in enumerate(zip(pool.results, pool.filmings, strict=True)):
            rows.append(
                {
                    "when": when,
                    "player": change.player,
                    "date": result.date,
                    "session": result.session,
                    "file": result.clip.file,
                    "filming": format_filming(filming),
                    "court": result.court.source,
                    "assessed": int((pool.assessed_clips() == number).sum()),
                }
            )
    return rows
