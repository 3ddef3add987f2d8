"""Shares against published intervals and simulated players."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binomtest
from statsmodels.stats.proportion import proportion_confint

from stance.results.model import StrokeFaced
from stance.statistics.rallies import RALLY_CORRELATION
from stance.statistics.shares import class_shares, leading_share, wilson_interval
from stance.types import CLASSES
from tests.unit.results.invented import invented_position

# statsmodels' own tests (19/38) and R DescTools' BinomCI as quoted there (100/200).
WILSON = [(19, 38, 0.348499283643951, 0.651500716356049), (100, 200, 0.4313609, 0.5686391)]

# R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


def positions_of(chances, seconds=None):
    """Ready positions with the probabilities given, each put into its likeliest class."""
    seconds = [1.0] * len(chances) if seconds is None else seconds
    return [
        invented_position(
            start_s=0.0,
            end_s=float(length),
            stance_class=CLASSES[int(np.argmax(chance))],
            probabilities=dict(zip(CLASSES, map(float, chance), strict=True)),
        )
        for chance, length in zip(chances, seconds, strict=True)
    ]


def certain(counts):
    """Ready positions of certain class, so many of each."""
    return positions_of(np.repeat(np.eye(3), counts, axis=0))


@pytest.mark.parametrize(("successes", "trials", "lower", "upper"), NEWCOMBE)
def test_wilsons_interval_is_the_published_one(successes, trials, lower, upper):
    assert wilson_interval(successes, trials) == pytest.approx((lower, upper), abs=5e-5)


@pytest.mark.parametrize(("successes", "trials", "lower", "upper"), WILSON)
def test_wilsons_interval_is_that_of_statsmodels_and_r(successes, trials, lower, upper):
    assert wilson_interval(successes, trials) == pytest.approx((lower, upper), abs=5e-8)


@pytest.mark.parametrize(("successes", "trials"), [(38, 38), (0, 77), (3, 11)])
def test_wilsons_interval_stays_within_0_and_1_as_in_statsmodels_and_scipy(successes, trials):
    ours = wilson_interval(successes, trials)
    assert 0 <= ours[0] < ours[1] <= 1
    assert ours == pytest.approx(proportion_confint(successes, trials, method="wilson"))
    theirs = binomtest(successes, trials).proportion_ci(method="wilson")
    assert ours == pytest.approx((theirs.low, theirs.high))


def test_wilson_on_effective_numbers_is_the_worked_example():
    # 60 of 100: as they are, and with a design effect of 4 (references, computed by hand).
    assert wilson_interval(60, 100) == pytest.approx((0.502, 0.691), abs=6e-4)
    assert wilson_interval(15, 25) == pytest.approx((0.407, 0.766), abs=6e-4)


@pytest.mark.parametrize(("successes", "trials", "lower", "upper"), NEWCOMBE)
def test_certain_classes_give_wilsons_interval(successes, trials, lower, upper):
    share = class_shares(certain((trials - successes, 0, successes)))["over_side_on"]
    assert share.count == successes and share.share == successes / trials
    assert share.interval == pytest.approx((lower, upper), abs=5e-5)
    # With spells of equal length time says the same.
    assert share.time_interval == pytest.approx(share.interval)


def test_doubtful_classes_widen_the_interval():
    sure = class_shares(certain((6, 0, 6)))["over_side_on"].interval
    doubtful = class_shares(positions_of([(0.7, 0, 0.3)] * 6 + [(0.3, 0, 0.7)] * 6))
    lower, upper = doubtful["over_side_on"].interval
    assert lower < sure[0] - 0.02 and upper > sure[1] + 0.02


def test_an_error_that_positions_share_widens_the_interval():
    positions = positions_of([(0.3, 0, 0.7)] * 12)
    alone = class_shares(positions, shared_error=0.0)["over_side_on"].interval
    shared = class_shares(positions, shared_error=0.9)["over_side_on"].interval
    assert shared[0] < alone[0] - 0.05


def test_time_weighs_by_seconds_and_a_long_spell_makes_it_less_sure():
    positions = positions_of(np.eye(3)[[0, 0, 2, 2]], seconds=[1.0, 1.0, 1.0, 5.0])
    share = class_shares(positions)["over_side_on"]
    assert share.share == 0.5 and share.time_share == 0.75
    # Kish: (1+1+1+5)^2 / (1+1+1+25) = 64 / 28 effective spells.
    effective = 64 / 28
    assert share.time_interval == pytest.approx(wilson_interval(0.75 * effective, effective))


def test_positions_not_assessed_stay_out():
    positions = certain((3, 0, 1))
    unknown = invented_position(stance_class="not_assessed")
    assert class_shares([*positions, unknown]) == class_shares(positions)


def test_with_nothing_assessed_the_interval_says_nothing():
    share = class_shares([invented_position(stance_class="not_assessed")])["square"]
    assert (share.count, share.share, share.interval) == (0, None, (0.0, 1.0))
    assert (share.time_share, share.time_interval) == (None, (0.0, 1.0))


def in_rallies(rallies, strokes_each):
    """Strokes 2 s apart in rallies 20 s apart, each with a ready position."""
    return tuple(
        StrokeFaced(60.0 * rally + 2.0 * n, 0.02, ("seen",), False, "set", rally * strokes_each + n)
        for rally in range(rallies)
        for n in range(strokes_each)
    )


@settings(max_examples=25)
@given(st.integers(2, 15), st.data())
def test_one_rally_of_n_strokes_tells_less_than_n_rallies_of_one(strokes, data):
    over = data.draw(st.integers(0, strokes))
    positions = certain((strokes - over, 0, over))
    one = class_shares(positions, in_rallies(1, strokes))["over_side_on"]
    many = class_shares(positions, in_rallies(strokes, 1))["over_side_on"]
    assert one.share == many.share
    assert one.interval[1] - one.interval[0] > many.interval[1] - many.interval[0]
    alone = class_shares(positions)["over_side_on"]
    assert many == alone


def test_a_ready_position_for_a_serve_stays_out_of_the_shares():
    positions = certain((3, 0, 1))
    strokes = in_rallies(4, 1)
    serve = replace(strokes[3], serve=True)
    assert class_shares(positions, (*strokes[:3], serve)) == class_shares(positions[:3])


def test_a_doubtful_leading_foot_widens_the_interval_of_its_share():
    def positions(chance):
        leading = invented_position(
            20, remarks=("racket foot leading",), racket_foot_leading=chance
        )
        return [leading] * 4 + [invented_position(racket_foot_leading=1 - chance)] * 4

    sure, doubtful = leading_share(positions(1.0)), leading_share(positions(0.7))
    assert sure.count == doubtful.count == 4 and sure.share == 0.5
    assert sure.interval == pytest.approx(wilson_interval(4, 8))
    assert doubtful.interval[0] < sure.interval[0] and doubtful.interval[1] > sure.interval[1]
    unknown = [replace(p, racket_foot_leading=float("nan")) for p in positions(0.7)]
    assert leading_share(unknown) == sure


@settings(max_examples=25)
@given(
    st.lists(st.tuples(*[st.floats(0.001, 1.0)] * 3, st.floats(0.2, 9.0)), min_size=1, max_size=12)
)
def test_intervals_lie_within_0_and_1_and_hold_the_share(rows):
    chances = [np.array(row[:3]) / sum(row[:3]) for row in rows]
    shares = class_shares(positions_of(chances, [row[3] for row in rows]))
    assert sum(share.count for share in shares.values()) == len(rows)
    assert sum(share.time_share for share in shares.values()) == pytest.approx(1.0)
    for share in shares.values():
        assert 0 <= share.interval[0] <= share.share <= share.interval[1] <= 1
        assert 0 <= share.time_interval[0] <= share.time_share <= share.time_interval[1] <= 1


def test_in_rallies_of_strokes_alike_the_interval_holds_the_true_share_as_often_as_it_says():
    # Each rally has a tendency of its own: a beta distribution with the rallies' correlation.
    random = np.random.default_rng(6)
    true_share, clips, rallies, each = 1 / 3, 5000, 3, 10
    size = (1 - RALLY_CORRELATION) / RALLY_CORRELATION
    tendencies = random.beta(true_share * size, (1 - true_share) * size, (clips, rallies))
    over = random.binomial(each, tendencies).sum(axis=1)
    total, strokes = rallies * each, in_rallies(rallies, each)

    def part_held(interval_of):
        held = {}
        for count in set(over.tolist()):
            lower, upper = interval_of(count)
            held[count] = lower <= true_share <= upper
        return np.mean([held[count] for count in over.tolist()])

    def in_rally(count):
        return class_shares(certain((total - count, 0, count)), strokes)["over_side_on"].interval

    assert 0.94 < part_held(in_rally) < 0.97
    assert part_held(lambda count: wilson_interval(count, total)) < 0.93


def test_the_interval_holds_the_true_share_as_often_as_it_says():
    # A player is over-side-on a third of the time; a judge who errs with every clip and every
    # position says how likely each position is over-side-on.
    random = np.random.default_rng(5)
    true_share, clips, spells, error = 1 / 3, 200, 14, 1.0
    held = 0
    for _ in range(clips):
        side_on = random.random(spells) < true_share
        own, shared = random.standard_normal(spells), random.standard_normal()
        seen = np.where(side_on, 1.5, -1.5) + error * (own + shared) / np.sqrt(2)
        chance = 1 / (1 + np.exp(-3.0 * seen / error**2))
        positions = positions_of(np.column_stack([1 - chance, 0 * chance, chance]))
        lower, upper = class_shares(positions)["over_side_on"].interval
        held += lower <= true_share <= upper
    assert held >= 0.93 * clips
