"""A player's positions pooled over clips: means, intervals, and the error that they share."""

from dataclasses import replace

import numpy as np
import pytest

from stance.results.model import Filming, StrokeCounts, StrokeFaced
from stance.statistics.inference import Clustering, Z
from stance.statistics.pooled import (
    Pool,
    draw_pool_members,
    pool,
    pooled_mean,
    pooled_share,
    shared_variance,
)
from stance.statistics.shares import SHARED_ERROR, class_shares
from stance.types import CLASSES
from tests.unit.results.invented import invented_player, invented_position, invented_result

INDEPENDENT = Clustering(0.0, 1e9)


def clip_of(hips_deg: list[float], view: str = "corner", error_deg: float = 6.0):
    """A clip's result and its player, who waits once for each hip yaw given."""
    positions = tuple(
        invented_position(
            0,
            hip,
            hip_yaw_se_deg=error_deg,
            stance_class="square",
            probabilities=dict(zip(CLASSES, (0.7, 0.3, 0.0), strict=True)),
        )
        for hip in hips_deg
    )
    player = replace(invented_player(), ready_positions=positions, shares=class_shares(positions))
    return replace(invented_result(player), filming=Filming(view, 2.0, 7.0)), player


def test_positions_keep_their_clip_and_how_they_were_filmed() -> None:
    pooled = pool([clip_of([1.0, 2.0]), clip_of([3.0], view="behind")])
    assert [p.hip_yaw_deg for p in pooled.positions] == [1.0, 2.0, 3.0]
    assert pooled.clips.tolist() == [0, 0, 1]
    assert pooled.error_groups == (("corner", "marked"),) * 2 + (("behind", "marked"),)


def test_a_serve_stays_out_of_the_pool_and_rallies_keep_to_their_clip() -> None:
    result, player = clip_of([1.0, 2.0, 3.0])
    strokes = tuple(StrokeFaced(2.0 * n, 0.1, ("seen",), n == 0, "set", n) for n in range(3)) + (
        StrokeFaced(7.0, 0.1, ("seen",), met="on_the_move"),
    )
    played = result, replace(player, strokes_faced=strokes)
    pooled = pool([played, clip_of([4.0]), played])
    assert [p.hip_yaw_deg for p in pooled.positions] == [2.0, 3.0, 4.0, 2.0, 3.0]
    assert pooled.clips.tolist() == [0, 0, 1, 2, 2]
    first, second, alone, *last = pooled.rallies.tolist()
    assert first == second and last[0] == last[1] and len({first, alone, last[0]}) == 3
    assert pooled.strokes == StrokeCounts(met_set=4, on_the_move=2, not_seen=0, serves=2)


def test_a_rally_of_several_strokes_leaves_a_wider_interval() -> None:
    result, player = clip_of([1.0] * 20)
    rally = tuple(StrokeFaced(2.0 * n, 0.1, ("seen",), False, "set", n) for n in range(20))

    def width(strokes: tuple[StrokeFaced, ...]) -> float:
        pooled = pool([(result, replace(player, strokes_faced=strokes))])
        (drawn,) = draw_pool_members([pooled], "square")
        low, high = pooled_share(pooled, "square", INDEPENDENT, drawn).interval
        return high - low

    assert width(rally) > width(())


def test_leading_feet_and_sides_are_counted() -> None:
    result, player = clip_of([0.0, 0.0])
    over = {"stance_class": "over_side_on", "lead_angle_deg": 5.0}
    positions = (
        replace(player.ready_positions[0], remarks=("racket foot leading",)),
        replace(player.ready_positions[1], hip_yaw_deg=60.0, **over),
        replace(player.ready_positions[1], hip_yaw_deg=-60.0, **over),
    )
    pooled = pool([(result, replace(player, ready_positions=positions))])
    assert pooled.members("racket_foot_leading").tolist() == [1.0, 0.0, 0.0]
    assert pooled.racket_side_leading == 1


def test_a_mean_takes_the_short_way_round_the_turned_back() -> None:
    mean = pooled_mean(pool([clip_of([170.0, -170.0])]), "hip_yaw_deg", INDEPENDENT)
    assert abs(mean.value) == pytest.approx(180.0)


def test_independent_positions_have_the_textbook_interval_and_their_shared_error() -> None:
    hips = np.random.default_rng(3).normal(-20.0, 8.0, 200)
    pooled = pool([clip_of(hips.tolist(), error_deg=0.0)])
    mean = pooled_mean(pooled, "hip_yaw_deg", INDEPENDENT)
    half = Z * hips.std(ddof=1) / np.sqrt(200)
    assert mean.value == pytest.approx(hips.mean(), abs=0.1)
    assert mean.interval == pytest.approx((mean.value - half, mean.value + half), rel=0.02)
    doubtful = pooled_mean(pool([clip_of(hips.tolist())]), "hip_yaw_deg", INDEPENDENT)
    wider = np.hypot(half, Z * 6.0 * np.sqrt(SHARED_ERROR))
    assert doubtful.interval[1] - doubtful.value == pytest.approx(wider, rel=0.02)


@pytest.mark.parametrize("hips", [[], [12.0]])
def test_one_position_or_none_says_nothing_of_the_mean(hips: list[float]) -> None:
    mean = pooled_mean(pool([clip_of(hips)]), "hip_yaw_deg", INDEPENDENT)
    assert mean.interval == (-180.0, 180.0) and mean.positions == len(hips)


def test_without_positions_the_share_says_nothing() -> None:
    (drawn,) = draw_pool_members([empty := pool([clip_of([])])], "square")
    share = pooled_share(empty, "square", INDEPENDENT, drawn)
    assert (share.share, share.interval, share.effective) == (None, (0.0, 1.0), 0.0)


def test_an_error_shared_by_two_sides_filmed_alike_cancels_in_their_difference() -> None:
    def side(view: str) -> Pool:
        return pool([clip_of([0.0, 10.0], view=view)])

    alone = shared_variance([side("corner")], "hip_yaw_deg")
    assert alone == pytest.approx(SHARED_ERROR * 6.0**2)
    assert shared_variance([side("corner"), side("corner")], "hip_yaw_deg") == 0.0
    apart = shared_variance([side("corner"), side("behind")], "hip_yaw_deg")
    assert apart == pytest.approx(2.0 * alone)


def test_classes_of_two_sides_filmed_alike_are_misjudged_together() -> None:
    def correlation(views: tuple[str, str]) -> float:
        sides = [pool([clip_of([0.0] * 40, view=view)]) for view in views]
        first, second = (d.mean(axis=1) for d in draw_pool_members(sides, "square"))
        return float(np.corrcoef(first, second)[0, 1])

    assert correlation(("corner", "corner")) > 0.8
    assert abs(correlation(("corner", "behind"))) < 0.1
