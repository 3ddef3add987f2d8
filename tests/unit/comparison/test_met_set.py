"""How often strokes were met set, before and after."""

import numpy as np
import pytest

from stance.comparison.met_set import compare_met_set, estimate_met_clustering, met_set_share
from stance.results.model import PlayerResult, StrokeFaced
from stance.statistics.pooled import pool
from tests.unit.results.invented import invented_result


def draw_clips(shares, strokes=20, serves=2, not_seen=3):
    """A pool of clips, a rally each, with so large a part of their strokes met set."""
    clips = []
    for share in shares:
        met = ["set"] * round(share * strokes) + ["on_the_move"] * round((1 - share) * strokes)
        faced = [StrokeFaced(2.0 * n, 0.02, met=how) for n, how in enumerate(met)]
        faced += [StrokeFaced(90.0 + n, 0.02, met="not_seen") for n in range(not_seen)]
        faced += [StrokeFaced(120.0 + n, 0.02, serve=True, met="set") for n in range(serves)]
        player = PlayerResult("A", "near", "right", "seen", (), {}, strokes_faced=tuple(faced))
        clips.append((invented_result(player), player))
    return pool(clips)


def test_serves_and_strokes_not_seen_are_left_out():
    pooled = draw_clips([0.5, 0.75])
    share = met_set_share(pooled, estimate_met_clustering([pooled]))
    assert (share.count, share.assessed) == (25, 40)
    assert share.share == pytest.approx(0.625)
    assert share.interval[0] < 0.625 < share.interval[1] and share.effective < 40


def test_more_strokes_met_set_is_a_rise():
    before, after = draw_clips([0.2, 0.3, 0.2, 0.25]), draw_clips([0.9, 0.8, 0.95, 0.9])
    change = compare_met_set(before, after, estimate_met_clustering([before, after]))
    assert change.verdict == "up" and change.interval[0] > 0.3
    back = compare_met_set(after, before, estimate_met_clustering([before, after]))
    assert back.interval == pytest.approx((-change.interval[1], -change.interval[0]))


def test_strokes_that_resemble_each_other_tell_less():
    alike, mixed = draw_clips([1.0, 0.0, 1.0, 0.0]), draw_clips([0.5] * 4)
    widths = [
        np.diff(met_set_share(side, estimate_met_clustering([side])).interval)[0]
        for side in (alike, mixed)
    ]
    assert widths[0] > 1.3 * widths[1]


def test_where_no_stroke_is_told_nothing_is_said():
    empty, told = draw_clips([0.5], strokes=0, not_seen=0), draw_clips([0.5])
    change = compare_met_set(empty, told, estimate_met_clustering([empty, told]))
    assert change.before.share is None and change.difference is None
    assert change.verdict == "too_few"
