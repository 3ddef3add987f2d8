"""Players of a group compared together."""

from collections.abc import Mapping, Sequence

import numpy as np

from stance.comparison.advice import advise_group
from stance.comparison.changes import judge_interval
from stance.comparison.met_set import MET_SET, met_set_share
from stance.comparison.model import Change, MeasureChange, ShareChange
from stance.comparison.statement import describe_change, describe_met_set, name_changed
from stance.results.model import Notice
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.statistics.inference import (
    ENOUGH_CLIPS,
    Clustering,
    bootstrap_interval,
    cochran_mantel_haenszel,
    mantel_haenszel_weights,
    resample,
    summed_interval,
)
from stance.statistics.pooled import (
    COMPARED_FIELDS,
    Pool,
    PooledShare,
    draw_pool_members,
    pooled_mean,
    pooled_share,
)
from stance.types import CLASSES, LEADING, Counted, FloatArray

# Resamples of the players for an interval.
_RESAMPLES = 4000


def compare_group(changes: Sequence[Change], clusterings: Mapping[str, Clustering]) -> Change:
    """The group's change: each player's own change, averaged.

    So who was filmed more often on which side cannot pass for a change (Simpson's paradox).

    Parameters
    ----------
    changes
        of at least two players
    clusterings
        by class and measure, how much positions of one clip resemble each other
    """
    before, after = (
        _join_pools([getattr(c, side) for c in changes]) for side in ("before", "after")
    )
    shares = {
        what: _average_shares(
            [c.share_of(what) for c in changes], *_pool_shares(before, after, what, clusterings)
        )
        for what in (*CLASSES, LEADING)
    }
    met_set = _average_shares(
        [c.met_set for c in changes],
        *(met_set_share(side, clusterings[MET_SET]) for side in (before, after)),
    )
    measures = {
        name: _average_measures(changes, name, before, after, clusterings[name])
        for name in COMPARED_FIELDS
    }
    filmed_differently = any(w.code.startswith("filming") for c in changes for w in c.warnings)
    warnings = (
        (
            Notice(
                "filming",
                _(
                    "Some players were filmed differently before and after; their own parts say "
                    "how."
                ),
            ),
        )
        if filmed_differently
        else ()
    )
    over = shares["over_side_on"]
    sentences = describe_change(over, measures, filmed_differently, players=len(changes))
    return Change(
        ngettext("{number} player", "{number} players", len(changes)).format(number=len(changes)),
        before,
        after,
        {name: shares[name] for name in CLASSES},
        shares[LEADING],
        met_set,
        measures,
        (sentences[0], *name_changed(changes), *sentences[1:], *describe_met_set(met_set)),
        advise_group(over, changes, filmed_differently),
        warnings,
    )


def _join_pools(pools: Sequence[Pool]) -> Pool:
    """Several players' pools as one; no two players share a clip, a rally or an error."""
    offsets = np.cumsum([0, *(len(p.results) for p in pools)])
    rallies = np.cumsum([0, *(p.rallies.max(initial=0) + 1 for p in pools)])
    return Pool(
        tuple(q for p in pools for q in p.positions),
        np.concatenate([p.clips + o for p, o in zip(pools, offsets[:-1], strict=True)]),
        np.concatenate([p.rallies + o for p, o in zip(pools, rallies[:-1], strict=True)]),
        tuple(
            (f"{number} {view}", source)
            for number, p in enumerate(pools)
            for view, source in p.error_groups
        ),
        tuple(f for p in pools for f in p.filmings),
        tuple(r for p in pools for r in p.results),
        tuple(player for p in pools for player in p.players),
    )


def _pool_shares(
    before: Pool, after: Pool, what: Counted, clusterings: Mapping[str, Clustering]
) -> tuple[PooledShare, PooledShare]:
    """The share of a class, or of the remark, over all players, before and after."""
    drawn = draw_pool_members([before, after], what)
    return (
        pooled_share(before, what, clusterings[what], drawn[0]),
        pooled_share(after, what, clusterings[what], drawn[1]),
    )


def _average_shares(
    shares: Sequence[ShareChange], first: PooledShare, second: PooledShare
) -> ShareChange:
    """Weighted mean of the players' own changes of a share; `first` and `second` are pooled."""
    known = [share for share in shares if share.difference is not None]
    if not known:
        return ShareChange(first, second, None, (-1.0, 1.0), "too_few", None, "score")
    weights = mantel_haenszel_weights(
        np.array([c.before.assessed for c in known], float),
        np.array([c.after.assessed for c in known], float),
    )
    differences = np.array([c.difference for c in known])
    interval = _find_interval(differences, np.array([c.interval for c in known]), weights)
    interval = max(interval[0], -1.0), min(interval[1], 1.0)
    tables = np.array(
        [
            [
                [side.effective * (side.share or 0.0), side.effective * (1 - (side.share or 0.0))]
                for side in (c.before, c.after)
            ]
            for c in known
        ]
    )
    return ShareChange(
        first,
        second,
        float(weights @ differences),
        interval,
        judge_interval(interval),
        None,
        "bootstrap" if len(known) >= ENOUGH_CLIPS else "score",
        cochran_mantel_haenszel(tables),
        _average_sides(np.array([c.before.share or 0.0 for c in known]), differences, weights),
    )


def _average_measures(
    changes: Sequence[Change], name: str, before: Pool, after: Pool, clustering: Clustering
) -> MeasureChange:
    """Weighted mean of the players' changes of a measure's mean, degrees."""
    first, second = (pooled_mean(side, name, clustering) for side in (before, after))
    known = [c.measures[name] for c in changes if c.measures[name].difference is not None]
    if not known:
        return MeasureChange(first, second, None, (-180.0, 180.0))
    weights = mantel_haenszel_weights(
        np.array([c.before.positions for c in known], float),
        np.array([c.after.positions for c in known], float),
    )
    differences = np.array([c.difference for c in known])
    interval = _find_interval(differences, np.array([c.interval for c in known]), weights)
    return MeasureChange(
        first,
        second,
        float(weights @ differences),
        (max(interval[0], -180.0), min(interval[1], 180.0)),
        _average_sides(np.array([c.before.value or 0.0 for c in known]), differences, weights),
    )


def _average_sides(
    before: FloatArray, differences: FloatArray, weights: FloatArray
) -> tuple[float, float]:
    """What the average player has before and after, from what each has; all (players,)."""
    return float(weights @ before), float(weights @ (before + differences))


def _find_interval(
    differences: FloatArray, intervals: FloatArray, weights: FloatArray
) -> tuple[float, float]:
    """Interval of the weighted mean: about players like these where they are many, else these.

    `differences` and `weights` are (players,), `intervals` (players, 2).
    """
    if len(differences) < ENOUGH_CLIPS:
        return summed_interval(differences, intervals, weights)
    times = resample(len(differences), _RESAMPLES, 0) * weights
    return bootstrap_interval(times @ differences / times.sum(axis=1), len(differences))
