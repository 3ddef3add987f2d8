"""Shares, means and filming in words."""

import numpy as np
import pytest

from stance.comparison.presentation import (
    draw_means,
    draw_shares,
    format_filming,
    format_mean,
    format_mean_range,
    format_share,
)
from stance.results.model import Filming
from stance.statistics.pooled import PooledMean, PooledShare, pool, pooled_mean
from tests.unit.comparison.invented_sets import draw_sets, pool_sets


def test_a_share_is_never_without_its_count():
    share = PooledShare(11, 24, 11 / 24, (0.28, 0.65), 20.0)
    assert format_share(share) == "11 of 24, 46\u00a0%, likely 28 to 65\u00a0%"
    assert format_share(PooledShare(0, 0, None, (0.0, 1.0), 0.0)) == "none assessed"


@pytest.mark.parametrize(
    ("value", "interval", "words", "likely"),
    [
        (-31.2, (-38.4, -24.0), "31° back", "likely 24 to 38° back"),
        (-0.4, (-3.0, 3.0), "0°", "likely 3° back to 3° in front"),
        (12.0, (-180.0, 180.0), "12° in front", ""),
        (None, (-180.0, 180.0), "not known", ""),
    ],
)
def test_a_mean_has_its_range_where_there_is_one(value, interval, words, likely):
    mean = PooledMean(value, interval, 9, 1.0)
    assert (format_mean(mean), format_mean_range(mean)) == (words, likely)


def test_filming_is_told_as_far_as_it_is_known_and_to_ten_centimetres():
    assert format_filming(Filming("behind", 2.04, 6.8)) == "behind, 2.0 m high, 6.8 m away"
    assert format_filming(Filming("unknown", float("nan"), float("nan"))) == "a place not known"


def test_charts_say_in_words_what_they_show():
    (before, after), clusterings = pool_sets(draw_sets(9, 1))
    share = PooledShare(27, 36, 0.75, (0.6, 0.9), 30.0)
    chart = draw_shares("over_side_on", [("before", share, before), ("after", share, after)])
    words = format_share(share)
    assert f'aria-label="over-side-on: before {words}, after {words}"' in chart
    mean = pooled_mean(before, "hip_yaw_deg", clusterings["hip_yaw_deg"])
    assert f'aria-label="Hips: {format_mean(mean)}"' in draw_means(
        "hip_yaw_deg", [("", mean, before)]
    )


def test_a_chart_has_a_ring_for_each_clip_in_which_something_was_assessed():
    results, _ = draw_sets(9, 1)
    share = PooledShare(27, 36, 0.75, (0.6, 0.9), 30.0)
    rings = [
        draw_shares(
            "over_side_on", [("", share, pool([(r, r.players[0]) for r in results[:n]]))]
        ).count("<circle")
        for n in (1, 3)
    ]
    assert np.diff(rings)[0] == 2
