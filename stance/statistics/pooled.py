"""One player's ready positions pooled over several clips: shares and means with intervals."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stance.court.viewpoint import filming_of
from stance.results.measures_table import COMPARED
from stance.results.model import Filming, PlayerResult, ReadyPosition, Result, StrokeCounts
from stance.statistics.angles import circular_mean, wrap_degrees
from stance.statistics.inference import (
    ASSUMED_ANGLE_CORRELATION,
    Clustering,
    Z,
    effective_number,
    estimate_clustering,
    scatter_part,
)
from stance.statistics.rallies import number_rallies
from stance.statistics.shares import (
    SHARED_ERROR,
    chance_of,
    draw_members,
    is_counted,
    share_interval,
)
from stance.types import (
    CLASSES,
    LEADING,
    NOT_ASSESSED,
    UNKNOWN_VIEW,
    Counted,
    FloatArray,
    IntArray,
)

COMPARED_FIELDS = {measure.field: measure.error_field for measure in COMPARED}
"""Measures that are compared and listed: name of the field, and of its standard error."""


ErrorGroup = tuple[str, str]
"""What ready positions share their systematic error in: view and court source. The pose model
errs the same way on one player in one view (docs/accuracy.md)."""


@dataclass(frozen=True)
class Pool:
    """One player's ready positions over several clips.

    Attributes
    ----------
    positions
        all but those for a serve, in the order of the clips
    clips
        (n,) number of the clip that each comes from
    rallies
        (n,) of which rally each is
    error_groups
        (n) with which others each shares its systematic error
    filmings
        how each clip was filmed
    results, players
        the clips' results, in the order of their numbers, and which of its players each is about
    """

    positions: tuple[ReadyPosition, ...]
    clips: IntArray
    rallies: IntArray
    error_groups: tuple[ErrorGroup, ...]
    filmings: tuple[Filming, ...]
    results: tuple[Result, ...]
    players: tuple[PlayerResult, ...]

    @property
    def strokes(self) -> StrokeCounts:
        """How many strokes were faced, by how they were met."""
        return sum((player.stroke_counts for player in self.players), StrokeCounts())

    @property
    def assessed(self) -> NDArray[np.bool_]:
        """Whether each position has a class, (n,)."""
        return np.array([p.stance_class != NOT_ASSESSED for p in self.positions], bool)

    def members(self, what: Counted) -> FloatArray:
        """1 where an assessed position is of a class or carries the remark, else 0: (assessed,)."""
        return np.array(
            [is_counted(p, what) for p in self.positions if p.stance_class != NOT_ASSESSED],
            float,
        )

    def assessed_clips(self) -> IntArray:
        """Clip of each assessed position, (assessed,)."""
        return self.clips[self.assessed]

    def assessed_rallies(self) -> IntArray:
        """Rally of each assessed position, (assessed,)."""
        return self.rallies[self.assessed]

    @property
    def racket_side_leading(self) -> int:
        """In how many over-side-on positions the racket side leads."""
        over = [p for p in self.positions if p.stance_class == "over_side_on"]
        return sum(p.racket_side_leads for p in over)

    def measure(self, name: str) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        """Values and standard errors of a measure where it is known, and (n,) where that is."""
        values = np.array([getattr(p, name) for p in self.positions], float)
        errors = np.array([getattr(p, COMPARED_FIELDS[name]) for p in self.positions], float)
        known = np.isfinite(values) & np.isfinite(errors)
        return values[known], errors[known], known


@dataclass(frozen=True)
class PooledShare:
    """Share of one class over several clips; `share` is None where nothing was assessed.

    `effective` is the number of independent positions that tell as much, 0 where none.
    """

    count: int
    assessed: int
    share: float | None
    interval: tuple[float, float]
    effective: float


@dataclass(frozen=True)
class PooledMean:
    """Mean of a measure in degrees; None and an interval that says nothing where unknown.

    `sampling_variance` is the mean's variance but for the error that positions share.
    """

    value: float | None
    interval: tuple[float, float]
    positions: int
    sampling_variance: float


def pool(clips: Sequence[tuple[Result, PlayerResult]]) -> Pool:
    """Pool one player's ready positions.

    Parameters
    ----------
    clips
        results, and which of its players is meant
    """
    positions: list[ReadyPosition] = []
    numbers: list[int] = []
    rallies: list[IntArray] = [np.zeros(0, int)]
    rallies_before = 0
    groups: list[ErrorGroup] = []
    filmings = tuple(result.filming or filming_of(result) for result, _ in clips)
    for number, (result, player) in enumerate(clips):
        # Of an unknown view nothing is known to be shared with another clip's.
        view = filmings[number].view
        group = (
            f"{view} {result.clip.sha256}" if view == UNKNOWN_VIEW else view,
            result.court.source,
        )
        counted = player.counted_positions
        positions += counted
        numbers += [number] * len(counted)
        groups += [group] * len(counted)
        of_clip = number_rallies(len(player.ready_positions), player.strokes_faced)
        rallies.append(of_clip[list(player.counted_indices)] + rallies_before)
        rallies_before += len(player.ready_positions) + len(player.strokes_faced)
    return Pool(
        tuple(positions),
        np.array(numbers, int),
        np.concatenate(rallies),
        tuple(groups),
        filmings,
        tuple(result for result, _ in clips),
        tuple(player for _, player in clips),
    )


def estimate_class_clustering(pools: Sequence[Pool], what: Counted) -> Clustering:
    """How alike the classes, or remarks, of one clip's positions are, over players and sides."""
    return estimate_clustering([(p.members(what), p.assessed_clips()) for p in pools])


def estimate_measure_clustering(pools: Sequence[Pool], name: str) -> Clustering:
    """How alike a measure's values in one clip are, over players and sides."""
    sets = []
    for pooled in pools:
        values, _, known = pooled.measure(name)
        if len(values):
            sets.append((wrap_degrees(values - circular_mean(values)), pooled.clips[known]))
    return estimate_clustering(sets, ASSUMED_ANGLE_CORRELATION)


def estimate_clusterings(pools: Sequence[Pool]) -> dict[str, Clustering]:
    """How alike positions of one clip are, by class, by the remark and by measure."""
    return {what: estimate_class_clustering(pools, what) for what in (*CLASSES, LEADING)} | {
        name: estimate_measure_clustering(pools, name) for name in COMPARED_FIELDS
    }


def draw_pool_members(pools: Sequence[Pool], what: Counted) -> list[NDArray[np.bool_]]:
    """Draws of which assessed positions truly are of a class, for pools of one player.

    An error that positions share is the same in all pools filmed alike, so it cancels in their
    difference.

    Returns
    -------
    for each pool (draws, assessed)
    """
    chances, groups, ends = [], [], []
    for pooled in pools:
        chances += [chance_of(p, what) for p in pooled.positions if p.stance_class != NOT_ASSESSED]
        groups += [
            g for g, assessed in zip(pooled.error_groups, pooled.assessed, strict=True) if assessed
        ]
        ends.append(len(chances))
    drawn = draw_members(np.array(chances, float), groups=groups)
    return np.split(drawn, ends[:-1], axis=1)


def pooled_share(
    pooled: Pool,
    what: Counted,
    clustering: Clustering,
    drawn: NDArray[np.bool_],
) -> PooledShare:
    """Share of a class with an interval that respects clustering and doubtful classes.

    Parameters
    ----------
    pooled
        one player's positions over several clips
    what
        class, or the remark
    clustering
        `estimate_class_clustering`
    drawn
        (draws, assessed) of `draw_pool_members`
    """
    members = pooled.members(what)
    if len(members) == 0:
        return PooledShare(0, 0, None, (0.0, 1.0), 0.0)
    effective = effective_number(pooled.assessed_clips(), clustering, pooled.assessed_rallies())
    share = float(members.mean())
    return PooledShare(
        int(members.sum()),
        len(members),
        share,
        share_interval(share, drawn.mean(axis=1), effective),
        effective,
    )


def pooled_mean(pooled: Pool, name: str, clustering: Clustering) -> PooledMean:
    """Mean of a measure; its interval carries clustering and the error that positions share.

    Parameters
    ----------
    pooled
        one player's positions over several clips
    name
        of a measure in `COMPARED_FIELDS`
    clustering
        `estimate_measure_clustering`
    """
    values, _, known = pooled.measure(name)
    if len(values) == 0:
        return PooledMean(None, (-180.0, 180.0), 0, np.inf)
    mean = circular_mean(values)
    if len(values) == 1:
        return PooledMean(mean, (-180.0, 180.0), 1, np.inf)
    clips, rallies = pooled.clips[known], pooled.rallies[known]
    effective = effective_number(clips, clustering, rallies, variance_known=False)
    spread = float(wrap_degrees(values - mean).var(ddof=1)) / scatter_part(
        clips, clustering, rallies
    )
    variance = spread / effective
    half = Z * np.sqrt(variance + shared_variance([pooled], name))
    return PooledMean(
        mean, (max(mean - half, -180.0), min(mean + half, 180.0)), len(values), variance
    )


def shared_variance(pools: Sequence[Pool], name: str) -> float:
    """Variance of a mean, or of the difference of two, from the error that positions share.

    Parameters
    ----------
    pools
        one, or two whose means are subtracted; positions filmed alike share their error, so it
        counts in a difference only as far as the ways of filming are mixed differently
    name
        of a measure in `COMPARED_FIELDS`

    Notes
    -----
    A part `SHARED_ERROR` of each position's error variance is the same for all positions of one
    player, view and court source; it does not show in their scatter.
    """
    weights: dict[ErrorGroup, float] = {}
    squares: dict[ErrorGroup, list[float]] = {}
    for sign, pooled in zip((1.0, -1.0), pools, strict=False):
        _, errors, known = pooled.measure(name)
        for group, error in zip(np.array(pooled.error_groups, object)[known], errors, strict=True):
            key = tuple(group)
            weights[key] = weights.get(key, 0.0) + sign / len(errors)
            squares.setdefault(key, []).append(error**2)
    return float(sum(SHARED_ERROR * np.mean(squares[g]) * weights[g] ** 2 for g in weights))
