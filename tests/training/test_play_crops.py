"""Crops of play are taken where they say: a foot in the air, or both feet down for the stroke."""

import numpy as np
import pytest

from tests.rendering.play.clip import Options, draw_play
from tests.rendering.play.truth import planted_spell
from tests.training.play_crops import IN_AIR_S, STROKES, moments_of


@pytest.fixture(scope="module", params=range(6))
def play(request):
    return draw_play(request.param, "tune", Options(strokes=STROKES))


def moments(play):
    """Row of a stroke, time and planted feet of each crop, with the stroke's planted spell."""
    for exchange in play.rally.exchanges:
        spell = planted_spell(play.defender, exchange)
        for row, frame in moments_of(play, exchange).items():
            time_s = play.frame_times[frame]
            yield row, time_s, play.defender.planted(np.array([time_s]))[0], spell


def test_in_the_air_one_foot_at_least_is_off_the_floor_shortly_before_the_landing(play):
    found = [moment for moment in moments(play) if moment[0] == 0]
    for _, time_s, planted, (start_s, _) in found:
        assert not planted.all()
        assert start_s - IN_AIR_S <= time_s < start_s


def test_both_feet_are_down_in_all_other_crops(play):
    found = [moment for moment in moments(play) if moment[0] > 0]
    assert found
    for _, time_s, planted, (start_s, end_s) in found:
        assert planted.all()
        assert start_s <= time_s < end_s


def test_nothing_is_taken_of_a_stroke_met_on_the_move(play):
    for exchange in play.rally.exchanges:
        if planted_spell(play.defender, exchange) is None:
            assert moments_of(play, exchange) == {}
