"""What `stance compare` writes: comparison.json and the page."""

from pathlib import Path
from typing import Any

import numpy as np
from markupsafe import Markup

from stance.comparison.model import Change, Comparison, MeasureChange, ShareChange
from stance.measures.classes import DEFAULT_LIMITS
from stance.reports.charts import angle_chart, change_chart, paired_chart, share_chart
from stance.reports.clip import REPORT_FILE
from stance.reports.pages import counted, page
from stance.results.files import write_files
from stance.results.json_format import json_file_text
from stance.results.model import Filming
from stance.statistics.pooled import MEASURES, Pool, PooledMean, PooledShare
from stance.types import CLASS_NAMES, CLASSES, StanceClass

SCHEMA = "stance-comparison/1"

COMPARISON_FILE = "comparison.json"

_VERDICTS = {
    "up": "more often after",
    "down": "less often after",
    "steady": "no change of note",
    "too_few": "too few to tell",
}

MEASURE_TITLES = {"lead_angle_deg": "Lead angle", "hip_yaw_deg": "Hip yaw"}


def to_json(comparison: Comparison) -> dict[str, Any]:
    """The comparison as schema "stance-comparison/1" lays it out."""
    whole = comparison.whole
    warnings = [*comparison.warnings, *whole.warnings]
    return {
        "schema": SCHEMA,
        **_change_to_json(whole),
        "warnings": [vars(w) for w in warnings],
        "players": [
            {"player": c.player, **_change_to_json(c), "warnings": [vars(w) for w in c.warnings]}
            for c in comparison.players
        ],
    }


def write_comparison(comparison: Comparison, folder: str | Path) -> None:
    """Write comparison.json and report.html into a folder, whole or not at all.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    write_files(
        folder,
        {
            COMPARISON_FILE: json_file_text(to_json(comparison)),
            REPORT_FILE: comparison_html(comparison),
        },
    )


def comparison_html(comparison: Comparison) -> str:
    """The text of the page."""
    several = len(comparison.players) > 1
    whole = comparison.whole
    before, after = (counted(len(side.results), "clip") for side in (whole.before, whole.after))
    pairs = [
        (c.player, change.before.share, change.after.share, change.verdict in ("up", "down"))
        for c in comparison.players
        for change in (c.classes["over_side_on"],)
        if change.before.share is not None and change.after.share is not None
    ]
    return page(
        "comparison.html",
        title=f"Before and after: {whole.player}",
        about=f"{whole.player}; {before} before, {after} after",
        whole=_part(whole, 0),
        warnings=[*comparison.warnings, *whole.warnings],
        paired=Markup(paired_chart(pairs, _paired_label(pairs))) if several else None,
        players=[_part(c, n) for n, c in enumerate(comparison.players, 1)] if several else [],
        clips=[row for c in comparison.players for row in _clip_rows(c)],
        resampled=whole.classes["over_side_on"].method == "bootstrap",
    )


def filming_words(filming: Filming) -> str:
    """Where the phone stood, for a table."""
    if not np.isfinite(filming.distance_m):
        return filming.view
    return f"{filming.view}, {filming.height_m:.1f} m high, {filming.distance_m:.0f} m away"


def share_words(share: PooledShare) -> str:
    """A share, never without its count: "11 of 24, 46 % (28 to 65 %)", the signs not parted."""
    if share.share is None:
        return "none assessed"
    low, high = share.interval
    return (
        f"{share.count} of {share.assessed}, {100 * share.share:.0f}\u00a0% "
        f"({100 * low:.0f} to {100 * high:.0f}\u00a0%)"
    )


def mean_words(mean: PooledMean) -> str:
    """A mean with its interval: "−31° (−38 to −24)"; without interval where there is none."""
    if mean.value is None:
        return "not known"
    low, high = mean.interval
    span = "" if (low, high) == (-180.0, 180.0) else f" ({_whole(low)} to {_whole(high)})"
    return f"{_whole(mean.value)}°{span}"


def _change_to_json(change: Change) -> dict[str, Any]:
    return {
        "classes": {name: _share_to_json(c) for name, c in change.classes.items()},
        "measures": {name: _measure_to_json(m) for name, m in change.measures.items()},
        "statement": change.statement,
    }


def _share_to_json(change: ShareChange) -> dict[str, Any]:
    fields: dict[str, Any] = {
        "before": _side_to_json(change.before),
        "after": _side_to_json(change.after),
        "difference": change.difference,
        "interval": list(change.interval),
        "verdict": change.verdict,
        "more_needed": change.more_needed,
        "method": change.method,
    }
    if change.p_value is not None:
        fields["p_value"] = change.p_value if np.isfinite(change.p_value) else None
    return fields


def _side_to_json(share: PooledShare) -> dict[str, Any]:
    return {
        "count": share.count,
        "assessed": share.assessed,
        "share": share.share,
        "interval": list(share.interval),
        "effective": share.effective,
    }


def _measure_to_json(change: MeasureChange) -> dict[str, Any]:
    return {
        "before": change.before.value,
        "before_interval": list(change.before.interval),
        "after": change.after.value,
        "after_interval": list(change.after.interval),
        "difference": change.difference,
        "interval": list(change.interval),
    }


def _part(change: Change, number: int) -> dict[str, Any]:
    """What the template shows of one player or the group."""
    return {
        "anchor": f"player-{number}",
        "name": change.player,
        "statement": change.statement,
        "warnings": change.warnings,
        "positions": change.classes["over_side_on"].before.assessed
        + change.classes["over_side_on"].after.assessed,
        "shares": [_share_part(change, name) for name in CLASSES],
        "changes": Markup(
            change_chart(
                [
                    (
                        name,
                        CLASS_NAMES[name],
                        (change.classes[name].difference, change.classes[name].interval),
                    )
                    for name in CLASSES
                ],
                "Change of each share with its interval; figures below",
            )
        ),
        "measures": [_measure_part(change, name) for name in MEASURES],
    }


def _share_part(change: Change, name: StanceClass) -> dict[str, Any]:
    share = change.classes[name]
    rows = [
        (when, (side.share, side.interval), _clip_shares(pool, name))
        for when, side, pool in (
            ("before", share.before, change.before),
            ("after", share.after, change.after),
        )
    ]
    before, after = share_words(share.before), share_words(share.after)
    low, high = share.interval
    return {
        "name": CLASS_NAMES[name],
        "before": before,
        "after": after,
        "difference": "not known"
        if share.difference is None
        else f"{signed(100 * share.difference)} points",
        "interval": f"{signed(100 * low)} to {signed(100 * high)}",
        "verdict": _VERDICTS[share.verdict],
        "chart": Markup(
            share_chart(name, rows, f"{CLASS_NAMES[name]}: before {before}, after {after}")
        ),
    }


def _measure_part(change: Change, name: str) -> dict[str, Any]:
    measure = change.measures[name]
    rows = [
        (when, (side.value, side.interval), pool.measure(name)[0].tolist())
        for when, side, pool in (
            ("before", measure.before, change.before),
            ("after", measure.after, change.after),
        )
    ]
    before, after = mean_words(measure.before), mean_words(measure.after)
    low, high = measure.interval
    limits = DEFAULT_LIMITS.side_on_deg
    return {
        "name": MEASURE_TITLES[name],
        "before": before,
        "after": after,
        "difference": "not known"
        if measure.difference is None
        else f"{signed(measure.difference)}°",
        "interval": "not known"
        if (low, high) == (-180.0, 180.0)
        else f"{signed(low)} to {signed(high)}°",
        "chart": Markup(
            angle_chart(
                rows, (-limits, limits), f"{MEASURE_TITLES[name]}: before {before}, after {after}"
            )
        ),
    }


def _clip_shares(pool: Pool, name: StanceClass) -> list[float]:
    """Shares of the single clips."""
    members, clips = pool.members(name), pool.assessed_clips()
    return [float(members[clips == clip].mean()) for clip in np.unique(clips)]


def _clip_rows(change: Change) -> list[dict[str, Any]]:
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
                    "filming": filming_words(filming),
                    "court": result.court.source,
                    "assessed": int((pool.assessed_clips() == number).sum()),
                }
            )
    return rows


def _paired_label(pairs: list[tuple[str, float, float, bool]]) -> str:
    return "Share of over-side-on before and after: " + "; ".join(
        f"{name} {100 * before:.0f} % to {100 * after:.0f} %" for name, before, after, _ in pairs
    )


def _whole(value: float) -> str:
    return f"{round(value) + 0:d}".replace("-", "−")


def signed(value: float) -> str:
    """A whole number with its sign, a true minus; 0 without."""
    return "0" if round(value) == 0 else f"{value:+.0f}".replace("-", "−")
