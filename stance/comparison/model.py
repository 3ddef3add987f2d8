"""What a comparison found: changes of shares and of mean angles."""

from dataclasses import dataclass

from stance.results.model import Notice
from stance.statistics.pooled import Pool, PooledMean, PooledShare
from stance.types import Counted, StanceClass, Verdict


@dataclass(frozen=True)
class ShareChange:
    """Change of one class's share.

    Attributes
    ----------
    before, after
        PooledShare
    difference
        after - before, None where a side is empty; in a group the weighted mean of the players' own
        differences
    interval
        95 % interval of the difference, (-1, 1) where it says nothing
    verdict
        "up", "down", "steady" (the change is surely smaller than `WORTH_TELLING`) or "too_few"
    more_needed
        further ready positions in each set that would tell, where too few
    method
        "score" or "bootstrap"
    p_value
        of no change within any player (Cochran-Mantel-Haenszel), for a group only
    """

    before: PooledShare
    after: PooledShare
    difference: float | None
    interval: tuple[float, float]
    verdict: Verdict
    more_needed: int | None
    method: str
    p_value: float | None = None


@dataclass(frozen=True)
class MeasureChange:
    """Change of a measure's mean, degrees.

    Attributes
    ----------
    before, after
        PooledMean
    difference
        after - before in [-180, 180), None where a side has no value; in a group the weighted mean
        of the players' own differences
    interval
        95 % interval of the difference, (-180, 180) where it says nothing
    """

    before: PooledMean
    after: PooledMean
    difference: float | None
    interval: tuple[float, float]


@dataclass(frozen=True)
class Change:
    """What changed for one player, or for the group.

    Attributes
    ----------
    player
        name shown; of a group, how many players it has
    before, after
        ready positions
    classes
        change of each class's share
    racket_foot_leading
        change of the share of the remark of that name
    measures
        change of each measure's mean
    statement
        the plain sentences
    warnings
        what the coach must know beside the numbers
    """

    player: str
    before: Pool
    after: Pool
    classes: dict[StanceClass, ShareChange]
    racket_foot_leading: ShareChange
    measures: dict[str, MeasureChange]
    statement: str
    warnings: tuple[Notice, ...]

    def share_of(self, what: Counted) -> ShareChange:
        """Change of the share of a class, or of the remark."""
        return self.racket_foot_leading if what == "racket_foot_leading" else self.classes[what]


@dataclass(frozen=True)
class Comparison:
    """All players' changes and, with several players, the group's.

    `warnings` concern the choice of results; those on filming are in the changes.
    """

    players: tuple[Change, ...]
    group: Change | None
    warnings: tuple[Notice, ...]

    @property
    def whole(self) -> Change:
        """The group's change or, with one player, that player's."""
        return self.group or self.players[0]
