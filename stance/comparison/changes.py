"""How much a share or a mean angle changed, and how sure that is."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from stance.comparison.model import MeasureChange, ShareChange
from stance.statistics.angles import wrap_degrees
from stance.statistics.inference import (
    ENOUGH_CLIPS,
    Clustering,
    Z,
    bootstrap_interval,
    effective_number,
    newcombe_interval,
    resample,
)
from stance.statistics.pooled import (
    Pool,
    PooledShare,
    draw_pool_members,
    pooled_mean,
    pooled_share,
    shared_variance,
)
from stance.statistics.shares import wilson_interval
from stance.types import Counted, FloatArray, IntArray, Verdict

# The smallest change of a share that is worth telling a coach: one ready position in five. Only
# where the interval lies within it "no change" is said. Our choice.
WORTH_TELLING = 0.2

# More further ready positions than this are not asked for.
MOST_MORE = 2000

# A bootstrap needs clips that differ: so many positions in and out of the class on each side.
_ENOUGH_EACH = 5


def compare_share(before: Pool, after: Pool, what: Counted, clustering: Clustering) -> ShareChange:
    """Change of the share of a class, or of the remark, with its interval.

    Newcombe's hybrid score interval (Statistics in Medicine 17 (1998) 873-890, method 10), or with
    many clips that differ a bootstrap over clips; why: docs/comparing.md.

    Parameters
    ----------
    before, after
        the same player's ready positions
    what
        class, or the remark
    clustering
        how much positions of one clip resemble each other in that class
    """
    drawn = draw_pool_members([before, after], what)
    sides = [
        pooled_share(side, what, clustering, members)
        for side, members in zip((before, after), drawn, strict=True)
    ]
    first, second = sides
    if first.share is None or second.share is None:
        return ShareChange(first, second, None, (-1.0, 1.0), "too_few", None, "score")
    difference = second.share - first.share
    method = "score"
    if _has_enough_clips(before, first) and _has_enough_clips(after, second):
        method = "bootstrap"
        resampled = _resample_shares(after.assessed_clips(), drawn[1], 1) - _resample_shares(
            before.assessed_clips(), drawn[0], 0
        )
        clips = min(len(set(s.assessed_clips().tolist())) for s in (before, after))
        interval = bootstrap_interval(resampled, clips)
        interval = min(interval[0], difference), max(interval[1], difference)
    else:
        shares = [members.mean(axis=1) for members in drawn]
        interval = newcombe_interval(
            second.share,
            second.interval,
            first.share,
            first.interval,
            _correlate_errors(shares, sides),
        )
    interval = max(interval[0], -1.0), min(interval[1], 1.0)
    verdict = judge_interval(interval)
    more = (
        _count_more_needed(before, after, sides, interval, clustering)
        if verdict == "too_few"
        else None
    )
    return ShareChange(first, second, difference, interval, verdict, more, method)


def compare_measure(before: Pool, after: Pool, name: str, clustering: Clustering) -> MeasureChange:
    """Change of a measure's mean, degrees; an error shared by both sides cancels.

    Parameters
    ----------
    before, after
        the same player's ready positions
    name
        of a measure in `COMPARED_FIELDS`
    clustering
        how much positions of one clip resemble each other in that measure
    """
    first, second = (pooled_mean(side, name, clustering) for side in (before, after))
    if first.value is None or second.value is None:
        return MeasureChange(first, second, None, (-180.0, 180.0))
    difference = float(wrap_degrees(np.array(second.value - first.value)))
    variance = (
        first.sampling_variance + second.sampling_variance + shared_variance([before, after], name)
    )
    half = min(Z * float(np.sqrt(variance)), 360.0)
    return MeasureChange(
        first, second, difference, (max(difference - half, -180.0), min(difference + half, 180.0))
    )


def judge_interval(interval: tuple[float, float]) -> Verdict:
    """The verdict that follows from the 95 % interval of a share's change.

    Parameters
    ----------
    interval
        of the difference after - before, in [-1, 1]

    Returns
    -------
    str
        "up" or "down" where the interval leaves out no change, "steady" where it rules out a
        change of `WORTH_TELLING` either way, else "too_few".
    """
    if interval[0] > 0:
        return "up"
    if interval[1] < 0:
        return "down"
    return "steady" if max(-interval[0], interval[1]) < WORTH_TELLING else "too_few"


def _has_enough_clips(side: Pool, share: PooledShare) -> bool:
    """Whether clips may be resampled: many, and differing."""
    clips = len(set(side.assessed_clips().tolist()))
    return clips >= ENOUGH_CLIPS and _ENOUGH_EACH <= share.count <= share.assessed - _ENOUGH_EACH


def _resample_shares(clips: IntArray, drawn: NDArray[np.bool_], seed: int) -> FloatArray:
    """Shares of resampled clips, each with one draw of the classes: (draws,)."""
    _, index = np.unique(clips, return_inverse=True)
    sizes = np.bincount(index)
    of_clip = np.zeros((len(drawn), len(sizes)))
    for number in range(len(sizes)):
        of_clip[:, number] = drawn[:, index == number].sum(axis=1)
    times = resample(len(sizes), len(drawn), seed)
    shares: FloatArray = (times * of_clip).sum(axis=1) / (times @ sizes)
    return shares


def _correlate_errors(drawn_shares: Sequence[FloatArray], sides: Sequence[PooledShare]) -> float:
    """Correlation of the errors of two shares: from misjudged classes, filmed alike."""
    covariance = float(np.cov(drawn_shares[0], drawn_shares[1])[0, 1])
    variances = [
        shares.var() + (shares * (1 - shares)).mean() / side.effective
        for shares, side in zip(drawn_shares, sides, strict=True)
    ]
    product = float(np.sqrt(variances[0] * variances[1]))
    return float(np.clip(covariance / product, -1.0, 1.0)) if product > 0 else 0.0


def _count_more_needed(
    before: Pool,
    after: Pool,
    sides: Sequence[PooledShare],
    interval: tuple[float, float],
    clustering: Clustering,
) -> int | None:
    """Further ready positions in each set that would tell; None for more than `MOST_MORE`.

    They are taken to come in clips as long as these and to be as doubtful. What is to be told is
    the change seen, or one of `WORTH_TELLING` where less was seen.
    """
    first, second = (side.share or 0.0 for side in sides)
    known = [(side.assessed_clips(), side.assessed_rallies()) for side in (before, after)]
    sizes = [max(round(len(old) / len(set(old.tolist()))), 1) for old, _ in known]

    def find_interval(more: int, shares: tuple[float, float]) -> tuple[float, float]:
        ends = []
        for share, (clips, rallies), size in zip(shares, known, sizes, strict=True):
            new_clips = np.arange(more) // size + int(clips.max()) + 1
            # How they would lie in rallies is not known: each is taken to stand alone.
            new_rallies = np.arange(more) + int(rallies.max()) + 1
            effective = effective_number(
                np.concatenate([clips, new_clips]),
                clustering,
                np.concatenate([rallies, new_rallies]),
            )
            ends.append(wilson_interval(share * effective, effective))
        return newcombe_interval(shares[1], ends[1], shares[0], ends[0])

    certain = find_interval(0, (first, second))
    doubt = max((interval[1] - interval[0]) / (certain[1] - certain[0]), 1.0)
    if abs(second - first) < WORTH_TELLING:
        sign = 1.0 if second >= first else -1.0
        middle = float(np.clip((first + second) / 2, WORTH_TELLING / 2, 1 - WORTH_TELLING / 2))
        first, second = middle - sign * WORTH_TELLING / 2, middle + sign * WORTH_TELLING / 2
    numbers: list[int] = [*range(5, 100, 5), *range(100, MOST_MORE + 1, 20)]
    for more in numbers:
        low, high = find_interval(more, (first, second))
        difference = second - first
        if difference - doubt * (difference - low) > 0 or (
            difference + doubt * (high - difference) < 0
        ):
            return more
    return None
