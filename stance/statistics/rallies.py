"""Strokes of one rally resemble each other: which are of one rally, and what they tell together."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from stance.results.model import StrokeFaced
from stance.types import IntArray

RALLY_GAP_S = 6.0
"""Strokes faced farther apart are of two rallies, seconds. In 13 real rallies of singles the
longest time between two strokes of the same player was 5.4 s."""

RALLY_CORRELATION = 0.06
"""Intraclass correlation of the stances in one rally. By analysis of variance (A. Donner,
International Statistical Review 54 (1986) 67-82) from the stances called by eye at 41 strokes faced
in 13 real rallies of singles, summed over four calls (square, racket leg back, racket leg in front,
over-side-on); resampling the rallies gives -0.2 to 0.4. Each rally has a player of its own, so
differences of players are in it."""


def number_rallies(positions: int, strokes: Sequence[StrokeFaced]) -> IntArray:
    """Which rally each ready position is of.

    Parameters
    ----------
    positions
        number of a player's ready positions
    strokes
        the player's strokes faced, in the order of time; a serve begins a rally, and so does a
        stroke more than `RALLY_GAP_S` after the last one

    Returns
    -------
    (positions,) numbers; a ready position of no known stroke has one that no other has
    """
    rallies = np.arange(positions) + len(strokes)
    for stroke, rally in zip(strokes, number_rallies_of_strokes(strokes), strict=True):
        if stroke.ready_position is not None and stroke.ready_position < positions:
            rallies[stroke.ready_position] = rally
    return rallies


def number_rallies_of_strokes(strokes: Sequence[StrokeFaced]) -> IntArray:
    """Which rally each stroke faced is of, (strokes,); `strokes` as for `number_rallies`."""
    rallies = np.zeros(len(strokes), int)
    rally, last_s = -1, -np.inf
    for index, stroke in enumerate(strokes):
        if stroke.serve or stroke.time_s - last_s > RALLY_GAP_S:
            rally += 1
        last_s = stroke.time_s
        rallies[index] = rally
    return rallies


def weighted_effective_number(
    weights: NDArray[np.float64], rallies: IntArray, correlation: float = RALLY_CORRELATION
) -> float:
    """How many independent ready positions of equal weight tell as much as these do.

    Parameters
    ----------
    weights
        (n,) of the positions, n at least 1
    rallies
        (n,) of which rally each is
    correlation
        intraclass correlation of positions of one rally

    Notes
    -----
    The variance of a weighted mean of values that are correlated within clusters: for equal weights
    n over the design effect 1 + (m - 1) times the correlation, and without correlation
    (sum w)^2 / sum w^2 (L. Kish, Survey Sampling (1965)).
    """
    _, index = np.unique(rallies, return_inverse=True)
    squares = float(np.sum(weights**2))
    pairs = float(np.sum(np.bincount(index, weights) ** 2)) - squares
    return float(np.sum(weights)) ** 2 / (squares + correlation * pairs)
