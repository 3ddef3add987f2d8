"""How often strokes faced were met set, before and after."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.comparison.changes import judge_interval
from stance.comparison.model import ShareChange
from stance.statistics.inference import (
    Clustering,
    effective_number,
    estimate_clustering,
    newcombe_interval,
)
from stance.statistics.pooled import Pool, PooledShare
from stance.statistics.rallies import number_rallies_of_strokes
from stance.statistics.shares import share_interval
from stance.types import FloatArray, IntArray

MET_SET = "met_set"
"""What strokes met set are called beside classes and measures."""


def compare_met_set(before: Pool, after: Pool, clustering: Clustering) -> ShareChange:
    """Change of the share of strokes that were met set, with its interval.

    Of the strokes faced in play, those count of which it was seen whether they were met set or on
    the move. The interval is Newcombe's, on effective numbers, as for the classes.

    Parameters
    ----------
    before, after
        the same player's clips
    clustering
        `estimate_met_clustering`
    """
    first, second = (met_set_share(side, clustering) for side in (before, after))
    if first.share is None or second.share is None:
        return ShareChange(first, second, None, (-1.0, 1.0), "too_few", None, "score")
    low, high = newcombe_interval(second.share, second.interval, first.share, first.interval)
    interval = max(low, -1.0), min(high, 1.0)
    return ShareChange(
        first,
        second,
        second.share - first.share,
        interval,
        judge_interval(interval),
        None,
        "score",
    )


def met_set_share(pooled: Pool, clustering: Clustering) -> PooledShare:
    """Share of the strokes that were met set; its interval respects clustering.

    Parameters
    ----------
    pooled
        clips of one player, or of several
    clustering
        `estimate_met_clustering`
    """
    seen = _list_strokes(pooled)
    if len(seen.met_set) == 0:
        return PooledShare(0, 0, None, (0.0, 1.0), 0.0)
    share = float(seen.met_set.mean())
    effective = effective_number(seen.clips, clustering, seen.rallies)
    interval = share_interval(share, np.array([share]), effective)
    return PooledShare(int(seen.met_set.sum()), len(seen.met_set), share, interval, effective)


def estimate_met_clustering(pools: Sequence[Pool]) -> Clustering:
    """How alike the strokes of one clip are in whether they are met set."""
    seen = [_list_strokes(pooled) for pooled in pools]
    return estimate_clustering([(s.met_set, s.clips) for s in seen if len(s.met_set)])


@dataclass(frozen=True)
class _SeenStrokes:
    """Strokes in play, each (strokes,): 1 where met set, else 0; number of the clip; rally."""

    met_set: FloatArray
    clips: IntArray
    rallies: IntArray


def _list_strokes(pooled: Pool) -> _SeenStrokes:
    """Strokes faced in play that were seen well enough, in the order of the clips."""
    met, clips, rallies = [], [], []
    rallies_before = 0
    for number, player in enumerate(pooled.players):
        of_strokes = number_rallies_of_strokes(player.strokes_faced) + rallies_before
        for stroke, rally in zip(player.strokes_faced, of_strokes.tolist(), strict=True):
            if not stroke.serve and stroke.met != "not_seen":
                met.append(float(stroke.met == "set"))
                clips.append(number)
                rallies.append(rally)
        rallies_before += len(player.strokes_faced)
    return _SeenStrokes(np.array(met, float), np.array(clips, int), np.array(rallies, int))
