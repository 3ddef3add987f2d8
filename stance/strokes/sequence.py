"""The likeliest sequence of strokes: both sides strike in turn, each some time after the other."""

from dataclasses import dataclass

import numpy as np

from stance.strokes.motion import RATE
from stance.types import FloatArray

LEAST_EVIDENCE = -4.0
"""A stroke's evidence counts from here, as logarithm of the odds. Strokes are rare moments, and two
sides' words add up. This and the next constants: best of a few tried on rallies of training
(`python -m tests.training strokes`), each flat about its value."""

_OUTSIDE = 3.0
"""Moments with so much less evidence are looked at too: their turn may come for them."""

_USUAL_GAP_S, _GAP_SPREAD = 1.1, 0.5
"""Seconds between strokes of the two sides, and the standard deviation of its logarithm."""

_MOST_FOR_GAP = 5.0
"""What an unusual gap costs at most: a rally may end and another begin."""

_OUT_OF_TURN = 2.0
"""What two strokes of one side in a row cost: the one between was missed, or fell to the floor."""

_SHORTEST_GAP_S, _LONGEST_GAP_S = 0.3, 8.0
"""Between two strokes that follow each other; after a longer pause a rally begins anew, by either
side."""

_LOOK_BACK = 60
"""Candidates before each one that are considered as the stroke before it."""

_PEAK_S = 0.16
"""A moment with the most evidence within so much is a candidate, seconds."""


@dataclass(frozen=True)
class Candidate:
    """A moment that may be a stroke.

    Attributes
    ----------
    time_s
        between moments, where the evidence peaks
    moment
        number of the nearest moment
    side
        0 or 1
    evidence
        over `LEAST_EVIDENCE`
    """

    time_s: float
    moment: int
    side: int
    evidence: float


def likeliest_sequence(times: FloatArray, evidence: FloatArray) -> tuple[Candidate, ...]:
    """Find the sequence of strokes for which most speaks, by dynamic programming.

    Parameters
    ----------
    times
        (moments,) seconds
    evidence
        (moments, 2) logarithm of the odds that each side strikes

    Returns
    -------
    Strokes in the order of time
    """
    candidates = sorted(
        (c for side in (0, 1) for c in _peaks(times, evidence[:, side], side)),
        key=lambda candidate: candidate.time_s,
    )
    best: list[float] = []
    before: list[int] = []
    for number, candidate in enumerate(candidates):
        most, origin = 0.0, -1
        for earlier in range(max(number - _LOOK_BACK, 0), number):
            other = candidates[earlier]
            worth = best[earlier] - _cost_of_gap(
                candidate.time_s - other.time_s, candidate.side == other.side
            )
            if worth > most:
                most, origin = worth, earlier
        best.append(most + candidate.evidence)
        before.append(origin)
    chosen: list[Candidate] = []
    number = int(np.argmax(best)) if best and max(best) > 0.0 else -1
    while number >= 0:
        chosen.append(candidates[number])
        number = before[number]
    return tuple(chosen[::-1])


def _peaks(times: FloatArray, evidence: FloatArray, side: int) -> list[Candidate]:
    """Moments with more evidence than those around them."""
    reach = round(_PEAK_S * RATE)
    found = []
    for moment in np.flatnonzero(evidence > LEAST_EVIDENCE - _OUTSIDE).tolist():
        around = evidence[max(0, moment - reach) : moment + reach + 1]
        if evidence[moment] >= around.max():
            offset = _offset_of_peak(evidence, moment)
            worth = float(evidence[moment]) - LEAST_EVIDENCE
            found.append(Candidate(float(times[moment]) + offset / RATE, moment, side, worth))
    return found


def _offset_of_peak(evidence: FloatArray, moment: int) -> float:
    """Where a parabola through three moments peaks, in moments from the middle one."""
    if not 0 < moment < len(evidence) - 1:
        return 0.0
    left, middle, right = evidence[moment - 1 : moment + 2]
    bend = left - 2.0 * middle + right
    return 0.0 if bend >= 0.0 else float(np.clip((left - right) / (2.0 * bend), -0.5, 0.5))


def _cost_of_gap(gap_s: float, alike: bool) -> float:
    """What it costs that two strokes are so far apart, of one side or of both."""
    if gap_s < _SHORTEST_GAP_S:
        return np.inf
    if gap_s > _LONGEST_GAP_S:
        return 0.0
    usual = _USUAL_GAP_S * (2.0 if alike else 1.0)
    unusual = (np.log(gap_s / usual) / _GAP_SPREAD) ** 2 / 2.0
    return float(min(unusual, _MOST_FOR_GAP)) + (_OUT_OF_TURN if alike else 0.0)
