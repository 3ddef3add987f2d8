"""The trend compares earlier with later dates."""

import numpy as np
import pytest

from stance.academy.model import ScreenedClip
from stance.comparison.season import find_trend, list_date_shares, pool_clips
from stance.statistics.pooled import estimate_clusterings
from tests.unit.invented import drawn_result


def make_clips(*dated):
    """Clips of one player, given as (over-side-on, date), of 14 positions each."""
    random = np.random.default_rng(0)
    clips = []
    for number, (count, date) in enumerate(dated):
        result = drawn_result(random, count, 14, certain=True)
        clips.append(
            ScreenedClip(f"{number}.mp4", str(number), date, "", result, result.players[0])
        )
    return clips, estimate_clusterings([pool_clips(clips)])["over_side_on"]


def test_a_fall_from_the_earlier_to_the_later_dates_is_seen():
    dates = ["2026-01-05", "2026-01-12", "2026-03-02", "2026-03-09"]
    clips, clustering = make_clips(*zip((13, 12, 1, 1), dates, strict=True))
    trend = find_trend(clips, clustering)
    assert trend.verdict == "down"
    assert (trend.before.count, trend.after.count) == (25, 2)


@pytest.mark.parametrize(
    ("middle", "counts"), [("2026-01-06", (5, 4)), ("2026-01-09", (1, 8)), ("2026-01-08", (5, 4))]
)
def test_a_middle_date_goes_where_it_is_nearer(middle, counts):
    clips, clustering = make_clips((1, "2026-01-05"), (4, middle), (4, "2026-01-11"))
    trend = find_trend(clips, clustering)
    assert (trend.before.count, trend.after.count) == counts


def test_a_single_date_is_no_trend_and_undated_clips_count_in_none():
    single, clustering = make_clips((3, "2026-01-05"), (4, "2026-01-05"), (9, ""))
    assert find_trend(single, clustering) is None
    clips, clustering = make_clips((3, "2026-01-05"), (4, "2026-02-05"), (9, ""))
    trend = find_trend(clips, clustering)
    assert (trend.before.count, trend.after.count) == (3, 4)


def test_each_date_has_its_share_in_order():
    clips, clustering = make_clips((1, "2026-03-02"), (2, "2026-01-05"), (3, "2026-03-02"), (9, ""))
    shares = list_date_shares(clips, clustering)
    assert [(s.date, s.share.count, s.share.assessed) for s in shares] == [
        ("2026-01-05", 2, 14),
        ("2026-03-02", 4, 28),
    ]
