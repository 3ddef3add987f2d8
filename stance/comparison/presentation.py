"""Words and charts of pooled shares and means, for the pages of comparisons and screenings."""

from collections.abc import Sequence

import numpy as np
from markupsafe import Markup

from stance.measures.classes import DEFAULT_LIMITS
from stance.reports.charts import angle_chart, share_chart
from stance.results.measures_table import COMPARED
from stance.results.model import Filming, StrokeCounts
from stance.statistics.pooled import Pool, PooledMean, PooledShare
from stance.types import COUNTED_NAMES, Counted

MEASURE_TITLES = {measure.field: measure.title for measure in COMPARED}


def format_filming(filming: Filming) -> str:
    """Where the phone stood, for a table."""
    if not np.isfinite(filming.distance_m):
        return filming.view
    return f"{filming.view}, {filming.height_m:.1f} m high, {filming.distance_m:.0f} m away"


def format_share(share: PooledShare) -> str:
    """A share, never without its count: "11 of 24, 46 % (28 to 65 %)", the signs not parted."""
    if share.share is None:
        return "none assessed"
    low, high = share.interval
    return (
        f"{share.count} of {share.assessed}, {100 * share.share:.0f}\u00a0% "
        f"({100 * low:.0f} to {100 * high:.0f}\u00a0%)"
    )


def format_sides(pool: Pool) -> str:
    """Which side leads in the over-side-on positions; empty where there are none."""
    over = int(pool.members("over_side_on").sum())
    leading = pool.racket_side_leading
    return f"racket side leading in {leading}, back in {over - leading}" if over else ""


def format_on_the_move(strokes: StrokeCounts) -> str:
    """How many strokes were met on the move: "4 of 18"; where no stroke was told, so."""
    return f"{strokes.on_the_move} of {strokes.in_play}" if strokes.in_play else "no stroke told"


def format_mean(mean: PooledMean) -> str:
    """A mean with its interval: "−31° (−38 to −24)"; without interval where there is none."""
    if mean.value is None:
        return "not known"
    low, high = mean.interval
    interval = "" if (low, high) == (-180.0, 180.0) else f" ({_format(low)} to {_format(high)})"
    return f"{_format(mean.value)}°{interval}"


def format_signed(value: float) -> str:
    """A whole number with its sign, a true minus; 0 without."""
    return "0" if round(value) == 0 else f"{value:+.0f}".replace("-", "−")


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
            COUNTED_NAMES[what],
            [(title, format_share(share)) for title, share, _ in rows],
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
        _label(MEASURE_TITLES[measure], [(title, format_mean(mean)) for title, mean, _ in rows]),
    )


def _label(title: str, rows: Sequence[tuple[str, str]]) -> str:
    """A chart in words, for those who can't see it."""
    return f"{title}: " + ", ".join(f"{row_title} {words}".strip() for row_title, words in rows)


def _clip_shares(pool: Pool, what: Counted) -> list[float]:
    """The share in each clip in which something was assessed."""
    members, clips = pool.members(what), pool.assessed_clips()
    return [float(members[clips == clip].mean()) for clip in np.unique(clips)]


def _format(value: float) -> str:
    """A whole number with a true minus."""
    return f"{round(value) + 0:d}".replace("-", "−")
