"""A comparison as `comparison.json`, schema "stance-comparison/1"."""

from typing import Any

import msgspec
import numpy as np

from stance.comparison.model import Change, Comparison, MeasureChange, ShareChange
from stance.results.model import Notice, StrokeCounts
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


class StrokesContent(msgspec.Struct, frozen=True):
    """How many strokes were faced before and after, by how they were met."""

    before: StrokeCounts
    after: StrokeCounts


class SidesContent(msgspec.Struct, frozen=True):
    """In how many over-side-on ready positions the racket side leads, before and after."""

    before: int
    after: int


class PlayerContent(msgspec.Struct, frozen=True):
    """One player's change in the file."""

    player: str
    classes: dict[StanceClass, ShareChangeContent]
    racket_foot_leading: ShareChangeContent
    racket_side_leading: SidesContent
    strokes_faced: StrokesContent
    met_set: ShareChangeContent
    measures: dict[str, MeasureChangeContent]
    statement: str
    advice: str
    warnings: tuple[Notice, ...]


class ComparisonContent(msgspec.Struct, frozen=True):
    """The whole file: the group's change or the only player's, and then each player's."""

    schema: str
    classes: dict[StanceClass, ShareChangeContent]
    racket_foot_leading: ShareChangeContent
    racket_side_leading: SidesContent
    strokes_faced: StrokesContent
    met_set: ShareChangeContent
    measures: dict[str, MeasureChangeContent]
    statement: str
    advice: str
    warnings: tuple[Notice, ...]
    players: tuple[PlayerContent, ...]


def to_content(comparison: Comparison) -> ComparisonContent:
    """The comparison as the file lays it out."""
    whole = comparison.whole
    return ComparisonContent(
        schema=SCHEMA,
        **_change_content(whole),
        warnings=(*comparison.warnings, *whole.warnings),
        players=tuple(
            PlayerContent(player=c.player, **_change_content(c), warnings=c.warnings)
            for c in comparison.players
        ),
    )


def _change_content(change: Change) -> dict[str, Any]:
    """What the file says alike of one player and of the group."""
    before, after = change.before, change.after
    return {
        "classes": {name: _share_content(share) for name, share in change.classes.items()},
        "racket_foot_leading": _share_content(change.racket_foot_leading),
        "racket_side_leading": SidesContent(before.racket_side_leading, after.racket_side_leading),
        "strokes_faced": StrokesContent(before.strokes, after.strokes),
        "met_set": _share_content(change.met_set),
        "measures": {name: _measure_content(m) for name, m in change.measures.items()},
        "statement": change.statement,
        "advice": change.advice,
    }


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
