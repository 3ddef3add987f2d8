"""How much shares and angles changed: the numbers, and what the intervals must hold."""

import numpy as np
import pytest

from stance.comparison.changes import (
    MOST_MORE,
    WORTH_TELLING,
    compare_measure,
    compare_share,
    judge_interval,
)
from stance.results.model import Filming
from stance.statistics.inference import newcombe_interval
from stance.statistics.shares import wilson_interval
from tests.evaluation.coverage import held
from tests.unit.comparison.invented_sets import draw_sets, pool_sets
from tests.unit.invented import drawn_result


def compare_over(sets):
    """Change of the share of over-side-on between two sets."""
    pools, clusterings = pool_sets(sets)
    return compare_share(*pools, "over_side_on", clusterings["over_side_on"])


def compare_hips(sets):
    pools, clusterings = pool_sets(sets)
    return compare_measure(*pools, "hip_yaw_deg", clusterings["hip_yaw_deg"])


def test_a_large_change_of_a_share_is_never_surer_than_bare_counts_make_it():
    change = compare_over(draw_sets(9, 1))
    assert (change.before.count, change.before.assessed) == (27, 36)
    assert (change.after.count, change.after.assessed) == (3, 36)
    assert change.difference == pytest.approx(3 / 36 - 27 / 36)
    assert change.verdict == "down" and change.interval[1] < 0
    # Positions of one clip resemble each other: never narrower than Newcombe's on bare counts.
    bare = newcombe_interval(3 / 36, wilson_interval(3, 36), 27 / 36, wilson_interval(27, 36))
    assert change.interval[0] <= bare[0] + 1e-6 and change.interval[1] >= bare[1] - 1e-6


def test_a_large_change_of_the_hips_is_sure():
    hips = compare_hips(draw_sets(9, 1))
    assert hips.difference > 20 and hips.interval[0] > 0


def test_where_too_few_tell_so_many_more_of_the_same_kind_would():
    share = compare_over(draw_sets(3, 1, clips=1, size=6))
    assert share.verdict == "too_few" and share.interval[0] <= 0 <= share.interval[1]
    clips = 1 + round(share.more_needed / 6)
    assert compare_over(draw_sets(3, 1, clips=clips, size=6)).verdict == "down"


def test_more_than_a_coach_would_film_is_not_asked_for():
    share = compare_over(draw_sets(3, 1, clips=1, size=6))
    assert 0 < share.more_needed <= MOST_MORE
    assert compare_over(draw_sets(9, 1)).more_needed is None


def test_steady_is_said_only_where_a_large_change_is_ruled_out():
    share = compare_over(draw_sets(2, 2, clips=9, size=15))
    assert share.verdict == "steady"
    assert max(abs(end) for end in share.interval) < WORTH_TELLING
    assert compare_over(draw_sets(4, 4, clips=2)).verdict == "too_few"


@pytest.mark.parametrize(
    ("interval", "verdict"),
    [
        ((0.01, 0.9), "up"),
        ((-0.9, -0.01), "down"),
        ((-0.19, 0.19), "steady"),
        ((0.0, 0.3), "too_few"),
        ((-0.21, 0.1), "too_few"),
    ],
)
def test_the_verdict_follows_from_the_interval(interval, verdict):
    assert judge_interval(interval) == verdict


def test_many_clips_are_resampled_and_agree_with_the_score_interval():
    random = np.random.default_rng(1)
    parts = [
        [
            drawn_result(random, int(random.integers(*span)), 12, "J", certain=True)
            for _ in range(12)
        ]
        for span in ((6, 11), (2, 6))
    ]
    many = compare_over(parts)
    assert many.method == "bootstrap" and many.verdict == "down"
    few = compare_over((parts[0][:9], parts[1][:9]))
    assert few.method == "score"
    assert many.interval == pytest.approx(few.interval, abs=0.12)


@pytest.mark.parametrize("compare", [compare_over, compare_hips])
def test_doubtful_classes_widen_the_interval_less_in_the_same_view(compare):
    same = compare(draw_sets(8, 3, certain=False))
    other = compare(draw_sets(8, 3, certain=False, filming=Filming("behind", 2.0, 7.0)))
    assert np.diff(other.interval)[0] > np.diff(same.interval)[0] + 1e-6


def test_without_assessed_positions_nothing_is_claimed():
    share = compare_over(draw_sets(9, 0, size=12)[:1] + ([],))
    assert share.difference is None and share.interval == (-1.0, 1.0)
    assert share.verdict == "too_few" and share.more_needed is None
    hips = compare_hips(draw_sets(9, 0, size=12)[:1] + ([],))
    assert hips.difference is None and hips.interval == (-180.0, 180.0)


def test_intervals_hold_the_truth_as_often_as_they_say():
    # A small version of `python -m tests.evaluation.coverage`: 0.93 to 0.97 in the long run; 120
    # draws have a standard deviation of 0.02.
    random = np.random.default_rng(11)
    cells = [
        held(random, clips, correlation, 40, certain)
        for clips, correlation, certain in ((3, 0.1, True), (5, 0.1, False), (12, 0.1, True))
    ]
    share, hips, bare = np.mean(cells, axis=0)
    assert 0.90 <= share <= 1.0 and 0.88 <= hips <= 1.0
    assert bare < share - 0.03
