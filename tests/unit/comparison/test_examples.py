"""Ready positions that stand for others."""

from dataclasses import replace

import numpy as np

from stance.comparison.clip_reports import NO_REPORTS
from stance.comparison.examples import choose_clearest, choose_right, choose_typical
from stance.types import CLASSES
from tests.unit.comparison.invented_sets import draw_sets


class AllPictured:
    """Reports that have a picture of each ready position but some."""

    def __init__(self, without=()):
        self.without = without

    def picture(self, result, player, number):
        return "" if (result.clip.sha256, number) in self.without else f"picture {number}"


def clips_of(results):
    return [(result, result.players[0]) for result in results]


def test_the_commonest_stance_comes_first_and_rare_ones_are_not_typical():
    clips = clips_of(draw_sets(11, 1)[0])
    typical = choose_typical(clips, AllPictured())
    assert [e.position.stance_class for e in typical] == ["over_side_on"]


def test_the_typical_one_is_nearest_to_the_mean_of_its_stance():
    clips = clips_of(draw_sets(12, 1)[0])
    (example,) = choose_typical(clips, AllPictured())
    angles = np.array(
        [(p.lead_angle_deg, p.hip_yaw_deg) for _, q in clips for p in q.ready_positions]
    )
    distances = np.hypot(*(angles - angles.mean(axis=0)).T)
    chosen = example.position
    best = angles[distances.argmin()]
    assert np.allclose((chosen.lead_angle_deg, chosen.hip_yaw_deg), best)


def test_the_clearest_are_the_surest_and_have_a_picture():
    clips = clips_of(draw_sets(6, 1, certain=False)[0])
    every = choose_clearest(clips, "over_side_on", AllPictured(), 99)
    chances = [round(e.position.probabilities["over_side_on"], 2) for e in every]
    assert chances == sorted(chances, reverse=True) and len(every) > 3
    first = every[0]
    without = {(first.result.clip.sha256, first.number)}
    assert choose_clearest(clips, "over_side_on", AllPictured(without), 3) == every[1:4]


def test_a_right_one_has_no_racket_foot_in_front():
    clips = clips_of(draw_sets(6, 1, certain=False)[0])
    (right,) = choose_right(clips, AllPictured())
    assert right.position.stance_class in ("square", "slightly_racket_leg_back")
    assert not right.position.has_leading_foot
    (result, *_), _ = draw_sets(12, 1)
    assert choose_right(clips_of([result]), AllPictured()) == []


def test_what_counts_in_no_share_stands_for_none():
    (result, *_), _ = draw_sets(12, 1)
    (player,) = result.players
    unsure = tuple(replace(p, stance_class="not_assessed") for p in player.ready_positions)
    clips = [(result, replace(player, ready_positions=unsure))]
    assert choose_typical(clips, AllPictured()) == []
    assert all(choose_clearest(clips, c, AllPictured(), 3) == [] for c in CLASSES)


def test_without_reports_there_is_no_example():
    assert choose_typical(clips_of(draw_sets(12, 1)[0]), NO_REPORTS) == []
