"""What a screening found: players, their flags, and age groups."""

from dataclasses import dataclass

from stance.comparison.model import ShareChange
from stance.comparison.season import DateShare
from stance.results.model import Notice, PlayerResult, Result
from stance.statistics.pooled import Pool, PooledMean, PooledShare
from stance.types import Flag, StanceClass


@dataclass(frozen=True)
class ScreenedClip:
    """One clip of a player.

    Attributes
    ----------
    file
        its name
    key
        under which its result and report are stored
    date, session
        as in the roster; empty where not known
    result, player
        what was measured, and which of the clip's players is meant
    faces_blurred
        whether no face can be known in the pictures of its report
    """

    file: str
    key: str
    date: str
    session: str
    result: Result
    player: PlayerResult
    faces_blurred: bool = True


@dataclass(frozen=True)
class ScreenedPlayer:
    """One player of the academy.

    Attributes
    ----------
    player, age_group
        as in the roster; the group of the last date
    flag
        what follows from the share of over-side-on and its interval
    assessed, not_assessed
        ready positions
    shares
        by class
    racket_foot_leading
        share of the remark of that name
    means
        by measure, degrees
    leading
        which leg leads in the over-side-on positions: "racket", "other", "both", or None
    p_value
        chance to look so side-on at a share of `HABIT_SHARE`; None with nothing assessed
    q_value
        the same with the false discovery rate over the academy held
    dates
        share on each date, in order
    trend
        change from the earlier half of the dates to the later; None without two dates
    clips
        the player's
    pool
        ready positions of all of them
    """

    player: str
    age_group: str
    flag: Flag
    assessed: int
    not_assessed: int
    shares: dict[StanceClass, PooledShare]
    racket_foot_leading: PooledShare
    means: dict[str, PooledMean]
    leading: str | None
    p_value: float | None
    q_value: float | None
    dates: tuple[DateShare, ...]
    trend: ShareChange | None
    clips: tuple[ScreenedClip, ...]
    pool: Pool


@dataclass(frozen=True)
class AgeGroup:
    """The players of one age group.

    Attributes
    ----------
    name
        as in the roster
    players, habits
        players, and those among them with the flag "habit"
    share
        mean of the players' own shares of over-side-on; None where nobody was assessed
    p_value
        that habits are as frequent as among all other players (Fisher's exact test); None where
        there are no others
    """

    name: str
    players: int
    habits: int
    share: float | None
    p_value: float | None


@dataclass(frozen=True)
class UnusedClip:
    """A clip that could not be used, and why."""

    clip: str
    reason: str


@dataclass(frozen=True)
class Screening:
    """The academy's players, by flag and in each the surest first."""

    players: tuple[ScreenedPlayer, ...]
    groups: tuple[AgeGroup, ...]
    unused: tuple[UnusedClip, ...]
    warnings: tuple[Notice, ...]
