"""A player over the dates of a season: shares by date, and the change from early to late."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from stance.comparison.changes import compare_share
from stance.comparison.model import ShareChange
from stance.results.model import PlayerResult, Result
from stance.statistics.inference import Clustering
from stance.statistics.pooled import Pool, PooledShare, draw_pool_members, pool, pooled_share


class DatedClip(Protocol):
    """A clip of one player: date (year-month-day, or empty), result, and which player is meant."""

    @property
    def date(self) -> str:
        """Year-month-day, empty where not known."""

    @property
    def result(self) -> Result:
        """Of the clip."""

    @property
    def player(self) -> PlayerResult:
        """Which of its players is meant."""


@dataclass(frozen=True)
class SeasonClip:
    """A clip of one player, a `DatedClip`."""

    date: str
    result: Result
    player: PlayerResult


@dataclass(frozen=True)
class DateShare:
    """A player's share of over-side-on on one date, year-month-day."""

    date: str
    share: PooledShare


def list_date_shares(clips: Sequence[DatedClip], clustering: Clustering) -> tuple[DateShare, ...]:
    """Share of over-side-on on each date, in order.

    Parameters
    ----------
    clips
        one player's
    clustering
        how much positions of one clip resemble each other in that class
    """
    shares = []
    for date in _list_dates(clips):
        of_date = pool_clips(c for c in clips if c.date == date)
        (drawn,) = draw_pool_members([of_date], "over_side_on")
        shares.append(DateShare(date, pooled_share(of_date, "over_side_on", clustering, drawn)))
    return tuple(shares)


def find_trend(clips: Sequence[DatedClip], clustering: Clustering) -> ShareChange | None:
    """Change of the share of over-side-on from the earlier half of the dates to the later half.

    Parameters
    ----------
    clips
        one player's
    clustering
        how much positions of one clip resemble each other in that class

    Returns
    -------
    ShareChange or None
        None without two dates.
    """
    dates = _list_dates(clips)
    if len(dates) < 2:
        return None
    later = _choose_later(dates)
    return compare_share(
        pool_clips(c for c in clips if c.date and c.date not in later),
        pool_clips(c for c in clips if c.date in later),
        "over_side_on",
        clustering,
    )


def pool_clips(clips: Iterable[DatedClip]) -> Pool:
    """One player's ready positions over some clips."""
    return pool([(c.result, c.player) for c in clips])


def _list_dates(clips: Sequence[DatedClip]) -> list[str]:
    return sorted({c.date for c in clips if c.date})


def _choose_later(dates: Sequence[str]) -> set[str]:
    """The later half of the dates; a middle one goes where it is nearer."""
    middle = len(dates) // 2
    if len(dates) % 2 == 0:
        return set(dates[middle:])
    days = [datetime.date.fromisoformat(d).toordinal() for d in dates]
    nearer_to_end = days[middle + 1] - days[middle] < days[middle] - days[middle - 1]
    return set(dates[middle if nearer_to_end else middle + 1 :])
