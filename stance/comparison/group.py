"""Players of a group compared together."""

from collections.abc import Mapping, Sequence

import numpy as np

from stance.comparison.changes import verdict_of
from stance.comparison.model import Change, MeasureChange, ShareChange
from stance.comparison.statement import change_statement
from stance.results.model import Notice, Result
from stance.statistics.inference import (
    ENOUGH_CLIPS,
    Clustering,
    bootstrap_interval,
    cochran_mantel_haenszel,
    mantel_haenszel_weights,
    resample,
    summed_interval,
)
from stance.statistics.pooled import MEASURES, Pool, draw_pool_members, pooled_mean, pooled_share
from stance.types import CLASSES, StanceClass


def compare_groups(changes: Sequence[Change], alike: Mapping[str, Clustering]) -> Change:
    """The group: each player's own change, averaged, so that who was filmed more often on which
    side cannot pass for a change.
    """
    before, after = (_together([getattr(c, side) for c in changes]) for side in ("before", "after"))
    classes = {name: _group_share(changes, name, before, after, alike[name]) for name in CLASSES}
    measures = {
        name: _group_measure(changes, name, before, after, alike[name]) for name in MEASURES
    }
    unlike = any(w.code.startswith("filming") for c in changes for w in c.warnings)
    warnings = (
        (
            Notice(
                "filming",
                "Some players were filmed differently before and after; their own parts say how.",
            ),
        )
        if unlike
        else ()
    )
    statement = change_statement(classes["over_side_on"], measures, unlike, players=len(changes))
    return Change(f"{len(changes)} players", before, after, classes, measures, statement, warnings)


def _together(pools: Sequence[Pool]) -> Pool:
    """Several players' pools as one; no two players share a clip number or an error."""
    offsets = np.cumsum([0, *(len(p.results) for p in pools)])
    return Pool(
        tuple(q for p in pools for q in p.positions),
        np.concatenate([p.clips + o for p, o in zip(pools, offsets[:-1], strict=True)]),
        tuple(
            (f"{number} {view}", source)
            for number, p in enumerate(pools)
            for view, source in p.error_groups
        ),
        tuple(f for p in pools for f in p.filmings),
        tuple(r for p in pools for r in p.results),
    )


def _group_share(
    changes: Sequence[Change],
    name: StanceClass,
    before: Pool,
    after: Pool,
    alike: Clustering,
) -> ShareChange:
    drawn = draw_pool_members([before, after], name)
    first, second = (
        pooled_share(side, name, alike, members)
        for side, members in zip((before, after), drawn, strict=True)
    )
    told = [c.classes[name] for c in changes if c.classes[name].difference is not None]
    if not told:
        return ShareChange(first, second, None, (-1.0, 1.0), "too_few", None, "score")
    weights = mantel_haenszel_weights(
        *(
            np.array([getattr(t, side).assessed for t in told], float)
            for side in ("before", "after")
        )
    )
    differences = np.array([t.difference for t in told])
    difference, method = float(weights @ differences), "score"
    if len(told) >= ENOUGH_CLIPS:
        method = "bootstrap"
        times = resample(len(told), len(drawn[0]), 0) * weights
        interval = bootstrap_interval(times @ differences / times.sum(axis=1), len(told))
    else:
        interval = summed_interval(differences, np.array([t.interval for t in told]), weights)
    interval = max(interval[0], -1.0), min(interval[1], 1.0)
    tables = np.array(
        [
            [
                [side.effective * (side.share or 0.0), side.effective * (1 - (side.share or 0.0))]
                for side in (t.before, t.after)
            ]
            for t in told
        ]
    )
    verdict = verdict_of(interval)
    return ShareChange(
        first, second, difference, interval, verdict, None, method, cochran_mantel_haenszel(tables)
    )


def _group_measure(
    changes: Sequence[Change],
    name: str,
    before: Pool,
    after: Pool,
    alike: Clustering,
) -> MeasureChange:
    first, second = (pooled_mean(side, name, alike) for side in (before, after))
    told = [c.measures[name] for c in changes if c.measures[name].difference is not None]
    if not told:
        return MeasureChange(first, second, None, (-180.0, 180.0))
    weights = mantel_haenszel_weights(
        *(
            np.array([getattr(t, side).positions for t in told], float)
            for side in ("before", "after")
        )
    )
    differences = np.array([t.difference for t in told])
    if len(told) >= ENOUGH_CLIPS:
        times = resample(len(told), 4000, 0) * weights
        interval = bootstrap_interval(times @ differences / times.sum(axis=1), len(told))
    else:
        interval = summed_interval(differences, np.array([t.interval for t in told]), weights)
    return MeasureChange(
        first,
        second,
        float(weights @ differences),
        (max(interval[0], -180.0), min(interval[1], 180.0)),
    )


def distinct(
    results: Sequence[Result],
    when: str,
    warnings: list[Notice],
) -> list[Result]:
    """Each clip once."""
    once = list({r.clip.sha256: r for r in results}.values())
    if len(once) < len(results):
        warnings.append(
            Notice(
                "same_clip",
                f"{len(results) - len(once)} of the clips {when} are the same recording as another "
                "and were counted once.",
            )
        )
    return once
