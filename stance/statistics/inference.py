"""Statistics for positions that resemble each other: intervals, effective numbers, tests.

Ready positions of one clip are not independent looks at a player: they share a day, a drill and
a mood. So numbers of positions are turned into effective numbers before an interval is taken.
Why each method, and how often its intervals hold: docs/comparing.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm
from scipy.stats import t as student

from stance.statistics.rallies import RALLY_CORRELATION
from stance.statistics.shares import LEVEL
from stance.types import FloatArray, IntArray

ASSUMED_CORRELATION = 0.12
"""Intraclass correlation of the classes of one clip's positions where clips cannot tell it. No
published value exists for stances; chosen by `python -m tests.evaluation.coverage`."""

ASSUMED_ANGLE_CORRELATION = 0.15
"""The same for angles: a class cut out of them hides part of how alike they are."""

ASSUMED_FREEDOM = 4.0
"""Degrees of freedom that an assumed correlation counts for beside the clips' own."""

ENOUGH_CLIPS = 10
"""Clips on each side from which they are resampled. Fewer make a bootstrap too narrow: A. C.
Cameron, J. B. Gelbach and D. L. Miller, Review of Economics and Statistics 90 (2008) 414-427."""

_MOST_HIDDEN = 0.5
"""The scatter of positions is taken to hide this part of their variance at most."""

Z = float(norm.ppf(0.5 + LEVEL / 2))
"""Half width of a `LEVEL` interval of a normal value, in standard errors."""


@dataclass(frozen=True)
class Clustering:
    """How alike the positions of one clip are.

    Attributes
    ----------
    correlation
        intraclass correlation, 0 to 1
    freedom
        degrees of freedom behind it
    """

    correlation: float = ASSUMED_CORRELATION
    freedom: float = ASSUMED_FREEDOM


def estimate_clustering(
    sets: Sequence[tuple[FloatArray, IntArray]],
    assumed: float = ASSUMED_CORRELATION,
) -> Clustering:
    """Estimate how alike values of one clip are, over sets that each have a mean of their own.

    Parameters
    ----------
    sets
        pairs of values (n,) and the clip of each (n,), for each player and side
    assumed
        intraclass correlation where clips cannot tell

    Notes
    -----
    The analysis-of-variance estimate of the intraclass correlation (A. Donner, International
    Statistical Review 54 (1986) 67-82, with its mean cluster size for unequal clips). A few
    clips tell it badly, so it is averaged with the assumed one by degrees of freedom. statsmodels
    has no such estimate, least of all one pooled over sets.
    """
    between = within = between_freedom = within_freedom = sizes = 0.0
    for values, clips in sets:
        _, index = np.unique(clips, return_inverse=True)
        counts = np.bincount(index)
        if len(counts) == 0:
            continue
        means = np.bincount(index, values) / counts
        between += float(np.sum(counts * (means - values.mean()) ** 2))
        within += float(np.sum((values - means[index]) ** 2))
        between_freedom += len(counts) - 1
        within_freedom += len(values) - len(counts)
        sizes += len(values) - float(np.sum(counts**2)) / len(values)
    if between_freedom == 0 or within_freedom == 0 or between + within == 0:
        return Clustering(assumed)
    size = sizes / between_freedom
    between_square, within_square = between / between_freedom, within / within_freedom
    found = (between_square - within_square) / (between_square + (size - 1) * within_square)
    freedom = ASSUMED_FREEDOM + between_freedom
    shrunk = (ASSUMED_FREEDOM * assumed + between_freedom * found) / freedom
    return Clustering(float(np.clip(shrunk, 0.0, 1.0)), freedom)


def design_effect(
    clips: IntArray, clustering: Clustering, rallies: IntArray | None = None
) -> float:
    """By how much clustering multiplies the variance of a mean: 1 + (m - 1) times correlation.

    Parameters
    ----------
    clips
        (n,) clip of each position; m is the mean clip size as a position meets it
    clustering
        how much positions of one clip resemble each other
    rallies
        (n,) rally of each position, none in two clips; None where each has its own

    Notes
    -----
    L. Kish, Survey Sampling (1965), section 5.4. Positions of one rally resemble each other at
    least by `RALLY_CORRELATION`: what that is more than the clips' correlation comes on top.
    """
    return (
        1
        + _companions(clips) * clustering.correlation
        + _companions(rallies) * _rally_surplus(clustering)
    )


def _companions(clusters: IntArray | None) -> float:
    """How many others of its cluster a position meets on average; clusters are (n,)."""
    if clusters is None:
        return 0.0
    sizes = np.unique(clusters, return_counts=True)[1]
    return float((sizes**2).sum() / sizes.sum() - 1)


def _rally_surplus(clustering: Clustering) -> float:
    """By how much more two positions of one rally are correlated than two of one clip."""
    return max(RALLY_CORRELATION - clustering.correlation, 0.0)


def scatter_part(clips: IntArray, clustering: Clustering, rallies: IntArray | None = None) -> float:
    """Part of one position's variance that the scatter of all of them shows.

    Parameters
    ----------
    clips
        (n,) clip of each position, n at least 2
    clustering
        how much positions of one clip resemble each other
    rallies
        as for `design_effect`

    Notes
    -----
    The sample variance of values with the mean correlation r between pairs is on average 1 - r
    times that of one value. In a single clip all pairs are correlated, so its scatter shows too
    little of how positions differ.
    """
    # The sum over pairs in `design_effect` is the mean correlation times the others, n - 1.
    mean = (design_effect(clips, clustering, rallies) - 1) / (len(clips) - 1)
    return max(1 - mean, 1 - _MOST_HIDDEN)


def effective_number(
    clips: IntArray,
    clustering: Clustering,
    rallies: IntArray | None = None,
    variance_known: bool = True,
) -> float:
    """How many independent positions tell as much as these do.

    Parameters
    ----------
    clips
        (n,) clip of each position, n at least 1
    clustering
        how much positions of one clip resemble each other
    rallies
        as for `design_effect`
    variance_known
        whether the variance of one position follows from the mean, as a share's does; otherwise it
        is taken from the n positions

    Notes
    -----
    n over the design effect, and less by (z / t)^2 since the correlation is itself an estimate
    (E. L. Korn and B. I. Graubard, Survey Methodology 24 (1998) 193-201). The degrees of freedom
    of t are F. E. Satterthwaite's (Biometrics Bulletin 2 (1946) 110-114): only the part of the
    variance that lies between clips is known so badly.
    """
    number = len(clips)
    effect = design_effect(clips, clustering, rallies)
    between = (_companions(clips) + 1) * clustering.correlation / effect
    between = min(max(between, 0.0), 1.0)
    inverse = between**2 / clustering.freedom
    if not variance_known:
        inverse += (1 - between) ** 2 / max(number - 1, 1)
    if inverse <= 0:
        return number / effect
    return float(number / effect * (Z / student.ppf(0.5 + LEVEL / 2, 1 / inverse)) ** 2)


def newcombe_interval(
    first: float,
    first_interval: tuple[float, float],
    second: float,
    second_interval: tuple[float, float],
    correlation: float = 0.0,
) -> tuple[float, float]:
    """The interval of the difference first - second, from the intervals of both.

    Parameters
    ----------
    first, first_interval
        an estimate, such as a share, and its interval, such as Wilson's
    second, second_interval
        the other one
    correlation
        of the two estimates' errors

    Notes
    -----
    With Wilson's intervals and no correlation R. G. Newcombe's hybrid score interval, method 10
    of Statistics in Medicine 17 (1998) 873-890, which statsmodels has for whole counts. The
    correlation enters as in G. Y. Zou and A. Donner, Statistics in Medicine 27 (2008) 1693-1702.
    """
    difference = first - second
    below, above = first - first_interval[0], first_interval[1] - first
    second_below, second_above = second - second_interval[0], second_interval[1] - second
    lower = below**2 + second_above**2 - 2 * correlation * below * second_above
    upper = above**2 + second_below**2 - 2 * correlation * above * second_below
    return (
        float(difference - np.sqrt(max(lower, 0.0))),
        float(difference + np.sqrt(max(upper, 0.0))),
    )


def summed_interval(
    estimates: FloatArray,
    intervals: FloatArray,
    weights: FloatArray,
) -> tuple[float, float]:
    """The interval of a weighted sum of independent estimates, from their intervals.

    Parameters
    ----------
    estimates
        (n,)
    intervals
        (n, 2)
    weights
        (n,) none below 0

    Notes
    -----
    Zou and Donner (2008) as in `newcombe_interval`, for n estimates.
    """
    total = float(weights @ estimates)
    lower = float(np.sqrt(np.sum((weights * (estimates - intervals[:, 0])) ** 2)))
    upper = float(np.sqrt(np.sum((weights * (intervals[:, 1] - estimates)) ** 2)))
    return total - lower, total + upper


def bootstrap_interval(resampled: FloatArray, clusters: int) -> tuple[float, float]:
    """The interval from resampled estimates.

    Parameters
    ----------
    resampled
        (draws,) estimates from clusters drawn with replacement
    clusters
        how many were resampled; of two sets, the smaller

    Notes
    -----
    T. C. Hesterberg's expanded percentiles (The American Statistician 69 (2015) 371-386,
    section 3.5): the plain ones are too narrow by sqrt((n - 1) / n) and by z over t.
    `scipy.stats.bootstrap` knows them not.
    """
    spread = np.sqrt(clusters / (clusters - 1)) * student.ppf((1 - LEVEL) / 2, clusters - 1)
    tail = norm.cdf(spread)
    lower, upper = np.quantile(resampled, [tail, 1 - tail])
    return float(lower), float(upper)


def resample(clusters: int, draws: int, seed: int) -> IntArray:
    """How often each cluster is drawn when as many are drawn as there are, with replacement.

    Returns
    -------
    (draws, clusters)
    """
    random = np.random.default_rng(seed)
    times: IntArray = random.multinomial(clusters, np.full(clusters, 1 / clusters), size=draws)
    return times


def mantel_haenszel_weights(first: FloatArray, second: FloatArray) -> FloatArray:
    """Weights of strata for a common difference of shares: n1 n2 / (n1 + n2), summing to 1.

    Parameters
    ----------
    first, second
        (strata,) numbers of positions, above 0

    Notes
    -----
    S. Greenland and J. M. Robins, Biometrics 41 (1985) 55-68.
    """
    weights: FloatArray = first * second / (first + second)
    weights /= weights.sum()
    return weights


def cochran_mantel_haenszel(tables: FloatArray) -> float:
    """The p-value that a share is the same on both sides within every stratum.

    Parameters
    ----------
    tables
        (strata, 2, 2) numbers; rows the sides, columns in the class and not

    Notes
    -----
    N. Mantel and W. Haenszel, Journal of the National Cancer Institute 22 (1959) 719-748,
    without continuity correction. A stratum of a single position or none carries no information
    and is left out; NaN where no stratum carries any. statsmodels has the test, but takes more
    than a second to load, and neither it nor R leaves such strata out.
    """
    tables = tables[tables.sum(axis=(1, 2)) > 1]
    total = tables.sum(axis=(1, 2))
    rows, columns = tables.sum(axis=2), tables.sum(axis=1)
    expected = rows[:, 0] * columns[:, 0] / total
    variance = rows.prod(axis=1) * columns.prod(axis=1) / (total**2 * (total - 1))
    if variance.sum() <= 0:
        return float("nan")
    statistic = (tables[:, 0, 0] - expected).sum() ** 2 / variance.sum()
    return float(chi2.sf(statistic, 1))
