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
    average
        shares of the average player before and after, whose difference `difference` is; for a
        group only
    """

    before: PooledShare
    after: PooledShare
    difference: float | None
    interval: tuple[float, float]
    verdict: Verdict
    more_needed: int | None
    method: str
    p_value: float | None = None
    average: tuple[float, float] | None = None


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
    average
        means of the average player before and after, degrees, for a group only
    """

    before: PooledMean
    after: PooledMean
    difference: float | None
    interval: tuple[float, float]
    average: tuple[float, float] | None = None


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
    met_set
        change of the share of strokes faced that were met set
    measures
        change of each measure's mean
    sentences
        the call that is made, and what else is to be said
    advice
        what to do next
    warnings
        what the coach must know beside the numbers
    """

    player: str
    before: Pool
    after: Pool
    classes: dict[StanceClass, ShareChange]
    racket_foot_leading: ShareChange
    met_set: ShareChange
    measures: dict[str, MeasureChange]
    sentences: tuple[str, ...]
    advice: str
    warnings: tuple[Notice, ...]

    @property
    def statement(self) -> str:
        """All sentences."""
        return " ".join(self.sentences)

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
