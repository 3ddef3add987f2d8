"""A comparison as `comparison.json`, schema "stance-comparison/1"."""

import msgspec
import numpy as np

from stance.comparison.model import Change, Comparison, MeasureChange, ShareChange
from stance.results.model import Notice
from stance.statistics.pooled import PooledShare
from stance.types import StanceClass, Verdict

SCHEMA = "stance-comparison/1"


class ShareChangeContent(msgspec.Struct, frozen=True):
    """A `ShareChange` in the file; `p_value` is there for a group only, null where unknown."""

    before: PooledShare
    after: PooledShare
    difference: float | None
    interval: tuple[float, float]
    verdict: Verdict
    more_needed: int | None
    method: str
    p_value: float | msgspec.UnsetType | None = msgspec.UNSET


class MeasureChangeContent(msgspec.Struct, frozen=True):
    """A `MeasureChange` in the file, degrees."""

    before: float | None
    before_interval: tuple[float, float]
    after: float | None
    after_interval: tuple[float, float]
    difference: float | None
    interval: tuple[float, float]


class PlayerContent(msgspec.Struct, frozen=True):
    """One player's change in the file."""

    player: str
    classes: dict[StanceClass, ShareChangeContent]
    measures: dict[str, MeasureChangeContent]
    statement: str
    warnings: tuple[Notice, ...]


class ComparisonContent(msgspec.Struct, frozen=True):
    """The whole file: the group's change or the only player's, and then each player's."""

    schema: str
    classes: dict[StanceClass, ShareChangeContent]
    measures: dict[str, MeasureChangeContent]
    statement: str
    warnings: tuple[Notice, ...]
    players: tuple[PlayerContent, ...]


def to_content(comparison: Comparison) -> ComparisonContent:
    """The comparison as the file lays it out."""
    whole = comparison.whole
    return ComparisonContent(
        SCHEMA,
        *_change_content(whole),
        (*comparison.warnings, *whole.warnings),
        tuple(PlayerContent(c.player, *_change_content(c), c.warnings) for c in comparison.players),
    )


def _change_content(
    change: Change,
) -> tuple[dict[StanceClass, ShareChangeContent], dict[str, MeasureChangeContent], str]:
    """Classes, measures and statement of one player or the group."""
    return (
        {name: _share_content(share) for name, share in change.classes.items()},
        {name: _measure_content(measure) for name, measure in change.measures.items()},
        change.statement,
    )


def _share_content(change: ShareChange) -> ShareChangeContent:
    p_value: float | msgspec.UnsetType | None = msgspec.UNSET
    if change.p_value is not None:
        p_value = change.p_value if np.isfinite(change.p_value) else None
    return ShareChangeContent(
        before=change.before,
        after=change.after,
        difference=change.difference,
        interval=change.interval,
        verdict=change.verdict,
        more_needed=change.more_needed,
        method=change.method,
        p_value=p_value,
    )


def _measure_content(change: MeasureChange) -> MeasureChangeContent:
    return MeasureChangeContent(
        before=change.before.value,
        before_interval=change.before.interval,
        after=change.after.value,
        after_interval=change.after.interval,
        difference=change.difference,
        interval=change.interval,
    )
