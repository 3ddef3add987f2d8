"""Words and charts of pooled shares and means, for the pages of comparisons and screenings."""

import datetime
from collections.abc import Iterable, Sequence

import numpy as np
from markupsafe import Markup

from stance.assessment.angle_words import side_words, turned_words
from stance.assessment.tendencies import OFTEN
from stance.comparison.model import ShareChange
from stance.comparison.notices import COURT_WORDS, VIEW_WORDS
from stance.comparison.season import DateShare
from stance.comparison.words import TREND_WORDS, angle_range_words, change_words
from stance.measures.classes import DEFAULT_LIMITS
from stance.reports.charts import angle_chart, share_chart, trend_chart
from stance.results.model import Filming, StrokeCounts
from stance.runtime.language import format_day, format_number
from stance.runtime.language import gettext as _
from stance.statistics.pooled import Pool, PooledMean, PooledShare
from stance.types import COUNTED_NAMES, LEADING, N_, Counted, CourtSource

COUNTED_TITLES: dict[Counted, str] = {
    **COUNTED_NAMES,
    LEADING: N_("racket foot in front"),
}
"""What ready positions are counted by, as pages call it."""

MEASURE_TITLES = {"lead_angle_deg": N_("Feet"), "hip_yaw_deg": N_("Hips")}
"""Measures whose means are shown, as pages call them."""


def format_filming(filming: Filming) -> str:
    """Where the phone stood, for a table; distances to 10 cm."""
    view = _(VIEW_WORDS[filming.view])
    if not np.isfinite(filming.distance_m):
        return view
    return _("{view}, {height} m high, {distance} m away").format(
        view=view,
        height=format_number(filming.height_m, 1),
        distance=format_number(filming.distance_m, 1),
    )


def format_court(source: CourtSource) -> str:
    """Where the court comes from, for a table."""
    return _(COURT_WORDS[source])


def format_days(dates: Iterable[str]) -> list[str]:
    """From when to when some clips are, one text; none where no date is known."""
    days = sorted({date for date in dates if date})
    if not days:
        return []
    if len(days) == 1:
        return [format_day(days[0])]
    return [_("{first} to {last}").format(first=format_day(days[0]), last=format_day(days[-1]))]


def format_count(share: PooledShare) -> str:
    """A count: "11 of 24"; where nothing was assessed, so."""
    if not share.assessed:
        return _("none assessed")
    return _("{count} of {assessed}").format(count=share.count, assessed=share.assessed)


def format_percent(share: PooledShare) -> str:
    """A share with its likely range: "46 %, likely 28 to 65 %"; empty where there is none."""
    if share.share is None:
        return ""
    low, high = share.interval
    return _("{share}\u00a0%, likely {low} to {high}\u00a0%").format(
        share=round(100 * share.share), low=round(100 * low), high=round(100 * high)
    )


def format_share(share: PooledShare) -> str:
    """A share, never without its count: "11 of 24, 46 %, likely 28 to 65 %"."""
    return ", ".join(filter(None, (format_count(share), format_percent(share))))


def format_sides(pool: Pool) -> str:
    """Which side is in front in the over-side-on positions; empty where there are none."""
    over = int(pool.members("over_side_on").sum())
    leading = pool.racket_side_leading
    return side_words(leading, over - leading)


def format_on_the_move(strokes: StrokeCounts) -> str:
    """How many strokes were met on the move: "4 of 18"; where no stroke was told, so."""
    if not strokes.in_play:
        return _("no stroke told")
    return _("{count} of {assessed}").format(count=strokes.on_the_move, assessed=strokes.in_play)


def format_mean(mean: PooledMean) -> str:
    """A mean: "31° back"."""
    return _("not known") if mean.value is None else turned_words(mean.value)


def format_mean_range(mean: PooledMean) -> str:
    """A mean's likely range: "likely 24 to 38° back"; empty where it says nothing."""
    if mean.value is None or mean.interval == (-180.0, 180.0):
        return ""
    return _("likely {range}").format(range=angle_range_words(*mean.interval))


def draw_shares(what: Counted, rows: Sequence[tuple[str, PooledShare, Pool]]) -> Markup:
    """A chart of the share of a class, or of the remark.

    Marks with their intervals, and rings for single clips.

    Parameters
    ----------
    what
        class, or the remark
    rows
        title (empty where there is one row only), share, and the ready positions behind it
    """
    return share_chart(
        what,
        [
            (title, (share.share, share.interval), _clip_shares(pool, what))
            for title, share, pool in rows
        ],
        _label(
            _(COUNTED_TITLES[what]),
            [(title, format_share(share)) for title, share, _pool in rows],
        ),
    )


def draw_means(measure: str, rows: Sequence[tuple[str, PooledMean, Pool]]) -> Markup:
    """A chart of a measure's mean: marks, their intervals, and rings for single ready positions.

    Parameters
    ----------
    measure
        one of `COMPARED_FIELDS`
    rows
        title (empty where there is one row only), mean, and the ready positions behind it
    """
    limit = DEFAULT_LIMITS.side_on_deg
    return angle_chart(
        [
            (title, (mean.value, mean.interval), pool.measure(measure)[0].tolist())
            for title, mean, pool in rows
        ],
        (-limit, limit),
        _label(
            _(MEASURE_TITLES[measure]), [(title, format_mean(mean)) for title, mean, _pool in rows]
        ),
    )


def draw_dates(dates: Sequence[DateShare]) -> Markup:
    """A chart of the share of over-side-on over the dates, with the limit of a habit."""
    days = [
        (
            datetime.date.fromisoformat(d.date).toordinal(),
            format_day(d.date),
            (d.share.share, d.share.interval),
        )
        for d in dates
    ]
    label = "; ".join(f"{format_day(d.date)} {format_share(d.share)}" for d in dates)
    return trend_chart(
        "over_side_on",
        days,
        OFTEN,
        _("How often over-side-on by date: {dates}").format(dates=label),
    )


def format_trend(trend: ShareChange) -> str:
    """The change over the dates in words."""
    return _("From the earlier to the later dates: {words} (likely range: {change}).").format(
        words=_(TREND_WORDS[trend.verdict]), change=change_words(*trend.interval)
    )


def _label(title: str, rows: Sequence[tuple[str, str]]) -> str:
    """A chart in words, for those who can't see it."""
    return f"{title}: " + ", ".join(f"{row_title} {words}".strip() for row_title, words in rows)


def _clip_shares(pool: Pool, what: Counted) -> list[float]:
    """The share in each clip in which something was assessed."""
    members, clips = pool.members(what), pool.assessed_clips()
    return [float(members[clips == clip].mean()) for clip in np.unique(clips)]
