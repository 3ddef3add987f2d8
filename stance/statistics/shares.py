"""How often a player stands in each class: shares with their intervals."""

import functools
import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from stance.results.model import ReadyPosition, Share, StrokeFaced
from stance.statistics.rallies import number_rallies, weighted_effective_number
from stance.types import CLASSES, LEADING, NOT_ASSESSED, Counted, StanceClass

LEVEL = 0.95
"""Confidence level of all intervals."""

SHARED_ERROR = 0.5
"""Part of the classification error's variance that all ready positions of one clip share: the
error comes from the view and the body, and positions are misjudged together. Rendered people
share 0.0 to 0.1 of it, the one real person about 0.4 (docs/accuracy.md)."""

ASSUMED_SHARED_ERROR = 0.9
"""The same where the camera is assumed: how far the phone stood from where somebody says is most of
the error (20 degrees beside the pose model's 4 to 8), and the same for all positions."""

_DRAWS = 4000

_SHARE_STEPS = 10**9
"""Ends of intervals are given to one part in so many."""


def wilson_interval(successes: float, trials: float) -> tuple[float, float]:
    """The 95 % score interval for a proportion.

    Parameters
    ----------
    successes, trials
        counts, or their effective values; `trials` above 0.

    Notes
    -----
    E. B. Wilson, "Probable inference, the law of succession, and statistical inference",
    Journal of the American Statistical Association 22 (1927) 209-212. SciPy's takes whole counts
    only, and statsmodels more than a second to load.
    """
    z = NormalDist().inv_cdf(0.5 + LEVEL / 2)
    share = successes / trials
    centre = share + z**2 / (2 * trials)
    half = z * np.sqrt(share * (1 - share) / trials + z**2 / (4 * trials**2))
    scale = 1 + z**2 / trials
    return max(0.0, float((centre - half) / scale)), min(1.0, float((centre + half) / scale))


def class_shares(
    positions: Sequence[ReadyPosition],
    strokes: Sequence[StrokeFaced] = (),
    shared_error: float = SHARED_ERROR,
) -> dict[StanceClass, Share]:
    """Share of each class among the assessed ready positions, by count and by time.

    Parameters
    ----------
    positions
        ready positions of one player; those not assessed are left out.
    strokes
        the player's strokes faced, in the order of time: ready positions for a serve are left out,
        and those of one rally are taken to resemble each other.
    shared_error
        0 to 1, the part of the classification error that the positions share.

    Returns
    -------
    dict from class to share, for every class. With no assessed position the shares are None and
    the intervals say nothing: 0 to 1.

    Notes
    -----
    The point is what the coach can count: positions of the class over assessed positions (or
    their seconds). The 95 % interval carries two uncertainties. *Classification*: which
    positions truly are of the class is drawn again and again from the positions' probabilities
    (multiple imputation: D. B. Rubin, Multiple Imputation for Nonresponse in Surveys, 1987).
    Draws are not independent from position to position but tied by one shared normal error (the
    equicorrelated probit model: J. R. Ashford and R. R. Sowden, Biometrics 26 (1970) 535-546).
    *Sampling*: each drawn share has Wilson's score distribution, with the effective number of
    positions as sample size: strokes of one rally tell less than as many of different rallies, and
    for time long spells count for more (L. Kish, Survey Sampling, 1965). The interval's ends are
    the 2.5 and 97.5 % points of the mixture over the draws. Certain classes give Wilson's interval
    itself; A. Lott and J. P. Reiter (The American Statistician 74 (2020) 109-115) combine the two
    by moments instead. Where doubtful positions all lean the same way, the counted share can lie
    outside; the interval then reaches to it.
    """
    return {name: _share(name, positions, strokes, shared_error) for name in CLASSES}


def leading_share(
    positions: Sequence[ReadyPosition],
    strokes: Sequence[StrokeFaced] = (),
    shared_error: float = SHARED_ERROR,
) -> Share:
    """Share of the remark "racket foot leading" among the assessed ready positions.

    Parameters and method as for `class_shares`.
    """
    return _share(LEADING, positions, strokes, shared_error)


def is_counted(position: ReadyPosition, what: Counted) -> bool:
    """Whether a ready position is of a class, or carries the remark."""
    return position.has_leading_foot if what == LEADING else position.stance_class == what


def chance_of(position: ReadyPosition, what: Counted) -> float:
    """How likely a ready position truly is of a class, or carries the remark rightly."""
    if what != "racket_foot_leading":
        return position.probabilities[what]
    known = position.racket_foot_leading
    return known if math.isfinite(known) else float(position.has_leading_foot)


def draw_members(
    probabilities: NDArray[np.float64],
    shared_error: float = SHARED_ERROR,
    seed: int = 0,
    groups: Sequence[object] | None = None,
) -> NDArray[np.bool_]:
    """Draw which positions are of a class.

    Parameters
    ----------
    probabilities
        (positions,)
    shared_error
        0 to 1, the part of the classification error that positions of a group share.
    seed
        of the draws.
    groups
        what each position shares its error with, such as player and view; by default all are one
        group.

    Returns
    -------
    (draws, positions)
    """
    random = np.random.default_rng(seed)
    points = _even_points()
    own = random.standard_normal((_DRAWS, len(probabilities)))
    shared = points[:, None]
    if groups is not None and len(set(groups)) > 1:
        of_group = {group: random.permutation(points) for group in dict.fromkeys(groups)}
        shared = np.column_stack([of_group[group] for group in groups])
    error = np.sqrt(shared_error) * shared + np.sqrt(1 - shared_error) * own
    members: NDArray[np.bool_] = error < _quantiles(probabilities)
    return members


def share_interval(
    share: float, drawn_shares: NDArray[np.float64], effective: float
) -> tuple[float, float]:
    """The 95 % interval of a counted share (see `class_shares`); it reaches to that share.

    Parameters
    ----------
    share
        the counted share
    drawn_shares
        (draws,) shares in draws of the true classes.
    effective
        number of independent positions that tell as much, above 0.
    """
    values, chances = _distinct(drawn_shares)

    def distribution(true_share: float) -> float:
        return _chance_below(true_share, values, chances, effective)

    lower = _quantile(distribution, (1 - LEVEL) / 2)
    upper = _quantile(distribution, (1 + LEVEL) / 2)
    return min(lower, share), max(upper, share)


def chance_below(limit: float, drawn_shares: NDArray[np.float64], effective: float) -> float:
    """How sure it is that the true share is below a limit; parameters as `share_interval`.

    The distribution is the one whose 2.5 and 97.5 % points are the interval's ends.
    """
    return _chance_below(limit, *_distinct(drawn_shares), effective)


def _share(
    what: Counted,
    positions: Sequence[ReadyPosition],
    strokes: Sequence[StrokeFaced],
    shared_error: float,
) -> Share:
    """The share of a class or of the remark; parameters as for `class_shares`."""
    serves = {stroke.ready_position for stroke in strokes if stroke.serve}
    kept = [
        index
        for index, position in enumerate(positions)
        if position.stance_class != NOT_ASSESSED and index not in serves
    ]
    if not kept:
        return Share(0, None, (0.0, 1.0), None, (0.0, 1.0))
    assessed = [positions[index] for index in kept]
    rallies = number_rallies(len(positions), strokes)[kept]
    counted = np.array([is_counted(p, what) for p in assessed])
    drawn = draw_members(np.array([chance_of(p, what) for p in assessed]), shared_error)
    shares, intervals = [], []
    for weights in (np.ones(len(assessed)), np.array([p.duration_s for p in assessed])):
        total = weights.sum()
        shares.append(float(weights[counted].sum() / total))
        effective = weighted_effective_number(weights, rallies)
        intervals.append(share_interval(shares[-1], drawn @ weights / total, effective))
    return Share(int(counted.sum()), shares[0], intervals[0], shares[1], intervals[1])


@functools.cache
def _even_points() -> NDArray[np.float64]:
    """Evenly spaced points of the normal distribution, (draws,): less noise than random ones."""
    return _quantiles((np.arange(_DRAWS) + 0.5) / _DRAWS)


def _quantiles(chances: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points below which a standard normal value lies with some chances, 0 and 1 among them.

    Python's own function: SciPy's takes a fifth of a second to load.
    """
    return np.array(
        [
            -math.inf
            if chance <= 0.0
            else math.inf
            if chance >= 1.0
            else NormalDist().inv_cdf(chance)
            for chance in chances.tolist()
        ]
    )


def _distinct(drawn_shares: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Distinct values and the chance of each."""
    values, counts = np.unique(drawn_shares.clip(0.0, 1.0), return_counts=True)
    return values, counts / counts.sum()


def _chance_below(
    limit: float, values: NDArray[np.float64], chances: NDArray[np.float64], effective: float
) -> float:
    spread = np.sqrt(2 * limit * (1 - limit) / effective)
    # The normal distribution by its error function.
    below = [math.erfc(apart) / 2 for apart in ((values - limit) / spread).tolist()]
    return float(chances @ below)


def _quantile(distribution: Callable[[float], float], chance: float) -> float:
    """The share at which a distribution on 0 to 1 reaches a chance."""
    edge = 1e-12
    if distribution(edge) >= chance:
        return 0.0
    if distribution(1 - edge) <= chance:
        return 1.0
    step = bisect_left(
        range(1, _SHARE_STEPS), chance, key=lambda step: distribution(step / _SHARE_STEPS)
    )
    return (step + 1) / _SHARE_STEPS
