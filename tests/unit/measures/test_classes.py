"""Classes at their limits. The limits are common practice; no published source exists."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.measures.classes import (
    DEFAULT_LIMITS,
    Limits,
    class_index,
    class_probabilities,
    classify,
    leading_probability,
)
from stance.types import CLASSES, NOT_ASSESSED, RACKET_FOOT_LEADING

angles = st.floats(-179.0, 179.0)
errors = st.floats(0.1, 30.0)


def name_of(lead: float, hip: float, limits: Limits = DEFAULT_LIMITS) -> str:
    return CLASSES[int(class_index(lead, hip, limits))]


# Worked by hand from the table of docs/definitions.md: (lead angle, hip yaw).
@pytest.mark.parametrize(
    ("lead", "hip", "expected"),
    [
        (0.0, 0.0, "square"),
        (9.9, -9.9, "square"),
        (-9.9, 9.9, "square"),
        (-10.1, 0.0, "slightly_racket_leg_back"),
        (-25.0, -39.9, "slightly_racket_leg_back"),
        (-39.9, 39.0, "slightly_racket_leg_back"),
        (-40.1, 0.0, "over_side_on"),
        (40.1, 0.0, "over_side_on"),
        (0.0, 40.1, "over_side_on"),
        (-20.0, -40.1, "over_side_on"),
        (-5.0, 95.0, "over_side_on"),
        (170.0, 170.0, "over_side_on"),
    ],
)
def test_pairs_inside_a_class_have_that_class(lead: float, hip: float, expected: str) -> None:
    assert name_of(lead, hip) == expected


@pytest.mark.parametrize(
    ("lead", "hip", "expected"),
    [
        # A leading foot: 14 degrees from square, 16 from side-on.
        (24.0, 0.0, "square"),
        # 16 degrees from square, 14 from side-on.
        (26.0, 0.0, "over_side_on"),
        # Hips turned 30 over feet 8 back: 20 from square, 2 from slightly back, 10 from side-on.
        (-8.0, 30.0, "slightly_racket_leg_back"),
        # Hips turned 36 over feet 8 leading: 26 from square, 18 from slightly back, 4 from side-on.
        (8.0, 36.0, "over_side_on"),
    ],
)
def test_pairs_of_no_class_go_to_the_nearest(lead: float, hip: float, expected: str) -> None:
    assert name_of(lead, hip) == expected


def test_limits_can_be_set() -> None:
    assert name_of(-12.0, 0.0, Limits(square_deg=15.0)) == "square"
    assert name_of(-45.0, 0.0, Limits(side_on_deg=50.0)) == "slightly_racket_leg_back"


@given(angles, angles)
def test_hips_turned_either_way_have_the_same_class(lead: float, hip: float) -> None:
    assert name_of(lead, hip) == name_of(lead, -hip)


@given(angles, errors, angles, errors)
def test_probabilities_add_up_to_one(
    lead: float, lead_se: float, hip: float, hip_se: float
) -> None:
    probabilities = class_probabilities(lead, lead_se, hip, hip_se)
    assert set(probabilities) == set(CLASSES)
    assert sum(probabilities.values()) == pytest.approx(1.0)


def test_probability_is_half_on_a_limit() -> None:
    # Hips well inside; the foot on the limit between square and slightly back.
    probabilities = class_probabilities(-10.0, 3.0, 0.0, 1.0)
    assert probabilities["square"] == pytest.approx(0.5, abs=0.01)
    assert probabilities["slightly_racket_leg_back"] == pytest.approx(0.5, abs=0.01)


def test_probability_agrees_with_the_normal_distribution() -> None:
    # P(|lead| <= 10) for mean -8, SD 4: from a table of the normal distribution (Phi(0.5) =
    # 0.6915, Phi(4.5) = 1.0000; e.g. NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1).
    probabilities = class_probabilities(-8.0, 4.0, 0.0, 0.1)
    assert probabilities["square"] == pytest.approx(0.6915, abs=0.01)


def test_probabilities_are_calibrated_on_drawn_truths() -> None:
    rng = np.random.default_rng(5)
    lead, hip = rng.uniform(-60, 60, (2, 1500))
    seen = np.stack([lead, hip]) + rng.normal(0, 6.0, (2, 1500))
    truth = class_index(lead, hip)
    given_truth = [
        class_probabilities(a, 6.0, b, 6.0)[CLASSES[k]]
        for a, b, k in zip(*seen, truth, strict=True)
    ]
    likeliest = [max(class_probabilities(a, 6.0, b, 6.0).values()) for a, b in seen.T]
    right = [
        max(p := class_probabilities(a, 6.0, b, 6.0), key=p.__getitem__) == CLASSES[k]
        for a, b, k in zip(*seen, truth, strict=True)
    ]
    # The mean of the likeliest class's probability is how often it is right.
    assert np.mean(likeliest) == pytest.approx(np.mean(right), abs=0.03)
    assert np.mean(given_truth) > 0.6


def test_below_the_confidence_asked_for_nothing_is_assessed() -> None:
    unsure = {"square": 0.5, "slightly_racket_leg_back": 0.45, "over_side_on": 0.05}
    assert classify(-10.0, unsure)[0] == NOT_ASSESSED
    assert classify(-10.0, unsure, Limits(confidence=0.45))[0] == "square"


@pytest.mark.parametrize(
    ("lead", "remarked"), [(9.0, False), (11.0, True), (39.0, True), (41.0, False), (-20.0, False)]
)
def test_a_leading_racket_foot_is_remarked(lead: float, remarked: bool) -> None:
    sure = {"square": 1.0, "slightly_racket_leg_back": 0.0, "over_side_on": 0.0}
    assert (RACKET_FOOT_LEADING in classify(lead, sure)[1]) == remarked


@given(angles, errors)
def test_the_remark_and_its_probability_agree(lead: float, error: float) -> None:
    chance = leading_probability(lead, error)
    mirrored = leading_probability(-lead, error)
    assert 0.0 <= chance <= 1.0 and chance + mirrored <= 1.0
    if 10.5 + 3 * error < lead < 39.5 - 3 * error:
        assert chance > 0.98 and RACKET_FOOT_LEADING in classify(lead, {"square": 1.0})[1]
    if -90 < lead < 9.5 - 3 * error:
        assert chance < 0.02


@pytest.mark.parametrize(("lead", "hip"), [(33.0, 46.0), (-25.0, -30.0), (5.0, 0.0), (0.0, -50.0)])
def test_an_error_that_both_angles_share_is_no_two_errors(lead, hip):
    own, shared, count = 5.0, 20.0, 400_000
    error = float(np.hypot(own, shared))
    rng = np.random.default_rng(0)
    turn = rng.normal(0.0, shared, count)
    true = class_index(
        lead + turn + rng.normal(0.0, own, count), hip + turn + rng.normal(0.0, own, count)
    )
    expected = np.bincount(true, minlength=len(CLASSES)) / count
    found = class_probabilities(lead, error, hip, error, shared_se_deg=shared)
    np.testing.assert_allclose([found[name] for name in CLASSES], expected, atol=0.015)
    apart = class_probabilities(lead, error, hip, error)
    assert class_probabilities(lead, error, hip, error, shared_se_deg=1.0) == apart
    assert max(abs(apart[name] - found[name]) for name in CLASSES) > 0.03
