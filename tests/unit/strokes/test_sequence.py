"""The sequence found is the best of all, and what is best is what rallies are like."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.strokes import sequence as module
from stance.strokes.motion import RATE, moments
from stance.strokes.sequence import LEAST_EVIDENCE, Candidate, likeliest_sequence

NOTHING = -30.0

# Seconds and sides of a rally, the first side strikes first.
RALLY = [(1.0 + 1.2 * number, number % 2) for number in range(6)]


def evidence_of(
    strokes: list[tuple[float, int, float]], lasts_s: float
) -> tuple[np.ndarray, np.ndarray]:
    """Moments, and evidence over the least that counts at some seconds of some sides."""
    times = moments(0.0, lasts_s)
    evidence = np.full((len(times), 2), NOTHING)
    for time_s, side, worth in strokes:
        evidence[round(time_s * RATE), side] = LEAST_EVIDENCE + worth
    return times, evidence


def found(
    strokes: list[tuple[float, int, float]], lasts_s: float = 40.0
) -> list[tuple[float, int]]:
    """Seconds and sides of the likeliest sequence."""
    sequence = likeliest_sequence(*evidence_of(strokes, lasts_s))
    return [(pytest.approx(one.time_s, abs=0.021), one.side) for one in sequence]


def worth_of(strokes: tuple[Candidate, ...]) -> float:
    """What a sequence is worth: its evidence without what its gaps cost."""
    pairs = zip(strokes[:-1], strokes[1:], strict=True)
    costs = [
        module._cost_of_gap(two.time_s - one.time_s, one.side == two.side) for one, two in pairs
    ]
    return sum(stroke.evidence for stroke in strokes) - sum(costs)


@given(
    st.lists(
        st.tuples(st.integers(0, 40), st.integers(0, 1), st.floats(-2.5, 6.0)),
        max_size=8,
        unique_by=lambda stroke: stroke[:2],
    )
)
def test_no_choice_among_up_to_eight_candidates_is_worth_more(
    drawn: list[tuple[int, int, float]],
) -> None:
    # A quarter of a second apart, so that each is a peak of its own.
    strokes = [(0.24 * place, side, worth) for place, side, worth in drawn]
    candidates = sorted(
        (Candidate(time_s, round(time_s * RATE), side, worth) for time_s, side, worth in strokes),
        key=lambda candidate: candidate.time_s,
    )
    chosen = likeliest_sequence(*evidence_of(strokes, 12.0))
    best = max(
        worth_of(subset)
        for count in range(len(candidates) + 1)
        for subset in combinations(candidates, count)
    )
    assert worth_of(chosen) == pytest.approx(best, abs=1e-6)


def test_sides_alternate_where_the_evidence_is_equal_and_the_clearer_side_begins() -> None:
    strokes = [(time_s, side, 2.0) for time_s, _ in RALLY for side in (0, 1)]
    strokes[1] = (RALLY[0][0], 1, 2.2)
    assert found(strokes) == [(time_s, 1 - side) for time_s, side in RALLY]


def test_a_false_peak_far_from_any_rally_is_left_out() -> None:
    strokes = [(time_s, side, 2.0) for time_s, side in RALLY]
    assert found([*strokes, (30.0, 0, -1.0)]) == RALLY


def test_a_peak_too_near_to_a_clearer_one_is_left_out() -> None:
    strokes = [(time_s, side, 2.0) for time_s, side in RALLY]
    assert found([*strokes, (RALLY[2][0] + 0.16, 1, 1.5)]) == RALLY


def test_a_weak_stroke_whose_turn_it_is_counts() -> None:
    strokes = [
        (time_s, side, -1.0 if number == 2 else 2.0) for number, (time_s, side) in enumerate(RALLY)
    ]
    assert found(strokes) == RALLY


def test_rallies_ten_seconds_apart_are_both_found_whoever_begins() -> None:
    for first in (0, 1):
        second = [(RALLY[-1][0] + 10.0 + time_s, (side + first) % 2) for time_s, side in RALLY]
        both = [*RALLY, *second]
        assert found([(time_s, side, 2.0) for time_s, side in both]) == both


def test_where_nothing_speaks_for_a_stroke_there_is_none() -> None:
    assert found([]) == []
    assert found([(3.0, 0, -2.0)]) == []


@given(st.floats(1.0, 2.0))
def test_a_strokes_time_lies_between_moments_where_the_evidence_peaks(peak_s: float) -> None:
    times = moments(0.0, 3.0)
    evidence = np.full((len(times), 2), NOTHING)
    evidence[:, 0] = LEAST_EVIDENCE + 4.0 - 40.0 * np.square(times - peak_s)
    (stroke,) = likeliest_sequence(times, evidence)
    assert stroke.time_s == pytest.approx(peak_s, abs=1e-6)
    assert abs(times[stroke.moment] - peak_s) <= 0.5 / RATE + 1e-9
