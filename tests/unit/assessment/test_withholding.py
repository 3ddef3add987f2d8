"""What is not known is not said: no direction without a net, no class without meaning."""

import math
from dataclasses import fields

import numpy as np
import pytest

from stance.assessment.players import MeasuredPlayer
from stance.assessment.withholding import (
    LONG_REST_S,
    MOST_UNSURE_DEG,
    withhold_rest,
    withhold_unknown_angles,
)
from stance.court.calibration import CalibratedCourt
from stance.court.camera import project
from stance.people.track import Track
from stance.results.model import ReadyPosition, StrokeFaced
from stance.types import ANGLES_UNSURE, AT_REST, FILMED_FROM, NET_UNKNOWN
from stance.watching.watched_clip import RacketHand, WatchedPlayer
from tests.unit.figures import behind_camera, figure
from tests.unit.results.invented import invented_position

ASSUMED = CalibratedCourt(behind_camera(), None, "assumed")
KNOWN_WITHOUT_NET = {
    "start_s",
    "end_s",
    "start_frame",
    "end_frame",
    "key_frame",
    "stance_width_m",
    "stance_width_se_m",
    "stance_width_hips",
    "stance_width_legs",
    "knee_flexion_deg",
    "knee_flexion_se_deg",
}


def withheld(*positions, court=ASSUMED, filmed_from=None):
    """The ready positions of a player with what is not known withheld."""
    player = MeasuredPlayer(None, behind_camera(), RacketHand("right", 1.0), positions)
    return withhold_unknown_angles({"A": player}, court, filmed_from)["A"].positions


def is_unknown(value):
    """Whether nothing in a field's value is a number."""
    if isinstance(value, dict):
        value = tuple(value.values())
    if isinstance(value, tuple):
        return all(is_unknown(part) for part in value)
    return (
        math.isnan(value) if isinstance(value, float) else is_unknown(tuple(vars(value).values()))
    )


def test_without_a_court_nothing_is_said_of_how_the_player_stands_to_the_net():
    whole = invented_position(-60.0, -50.0, stance_class="over_side_on")
    (position,) = withheld(whole)
    assert position.stance_class == "not_assessed" and position.remarks == (NET_UNKNOWN,)
    for field in fields(ReadyPosition):
        value = getattr(position, field.name)
        if field.name in KNOWN_WITHOUT_NET:
            assert value == getattr(whole, field.name)
        elif field.name not in ("stance_class", "remarks"):
            assert is_unknown(value), field.name


@pytest.mark.parametrize("filmed_from", FILMED_FROM)
def test_with_the_phones_place_said_angles_and_classes_stay_and_places_do_not(filmed_from):
    whole = invented_position(-60.0, -50.0, stance_class="over_side_on")
    (position,) = withheld(whole, filmed_from=filmed_from)
    assert position.stance_class == "over_side_on" and position.hip_yaw_deg == -50.0
    assert position.probabilities == whole.probabilities
    assert is_unknown(position.base_m) and is_unknown(position.base_se_m)


def test_a_place_that_would_turn_the_players_back_to_the_net_is_not_believed():
    facing, turned = invented_position(-10.0, 20.0), invented_position(-10.0, 160.0)
    for position in withheld(turned, turned, facing, filmed_from="behind"):
        assert position.stance_class == "not_assessed" and position.remarks == (NET_UNKNOWN,)
    kept = withheld(turned, facing, facing, filmed_from="behind")
    assert all(NET_UNKNOWN not in position.remarks for position in kept)


@pytest.mark.parametrize("source", ["marked", "found"])
def test_with_a_court_all_that_is_sure_enough_stays(source):
    court = CalibratedCourt(behind_camera(), 1.0, source)
    sure = invented_position(hip_yaw_se_deg=MOST_UNSURE_DEG, lead_angle_se_deg=MOST_UNSURE_DEG)
    assert withheld(sure, court=court) == (sure,)


@pytest.mark.parametrize("name", ["hip_yaw", "lead_angle"])
def test_an_angle_without_meaning_is_not_said_and_gets_no_class(name):
    court = CalibratedCourt(behind_camera(), 1.0, "marked")
    unsure = invented_position(-4.0, -4.0, **{f"{name}_se_deg": MOST_UNSURE_DEG + 0.1})
    (position,) = withheld(unsure, court=court)
    assert position.stance_class == "not_assessed" and position.remarks == (ANGLES_UNSURE,)
    assert is_unknown(position.probabilities)
    assert is_unknown(getattr(position, f"{name}_deg"))
    other = {"hip_yaw": "lead_angle", "lead_angle": "hip_yaw"}[name]
    assert getattr(position, f"{other}_deg") == -4.0 and position.base_m == unsure.base_m


def test_shoulders_that_are_not_known_leave_the_class():
    court = CalibratedCourt(behind_camera(), 1.0, "marked")
    (position,) = withheld(invented_position(shoulder_yaw_se_deg=90.0), court=court)
    assert is_unknown(position.shoulder_yaw_deg)
    assert position.stance_class == "slightly_racket_leg_back" and position.remarks == ()


def seen(away_m, seconds=12.0):
    """A player seen for some seconds, who in between goes that far to the side for a moment."""
    times = np.arange(0.0, seconds, 0.1)
    x = away_m * (np.sin(2 * np.pi * times / 3.0) > 0.5)
    trembling = np.random.default_rng(0).normal(0.0, 0.02, (len(times), 33, 3))
    body = np.array([figure((x_m, -4.0)) for x_m in x]) + trembling
    pixels = project(behind_camera(), body)
    ones = np.ones((len(times), 33))
    track = Track(np.arange(len(times)), times, pixels, ones, np.zeros((len(times), 33, 3)))
    return WatchedPlayer("near", track, {}, {}, {}, {})


def rested(*durations_s, strokes=(), watched=None):
    """The ready positions of a player who waited for so long each, with rest withheld."""
    positions = tuple(invented_position(start_s=0.0, end_s=d) for d in durations_s)
    player = MeasuredPlayer(
        watched or seen(1.0),
        behind_camera(),
        RacketHand("right", 1.0),
        positions,
        strokes_faced=strokes,
    )
    return withhold_rest({"A": player})["A"].positions


def test_a_wait_that_is_too_long_for_any_rally_is_not_assessed():
    for position in rested(LONG_REST_S + 0.1, 2.0):
        assert position.stance_class == "not_assessed" and position.remarks == (AT_REST,)
    long, *others = rested(LONG_REST_S + 0.1, 8.0, 9.0)
    assert long.stance_class == "not_assessed"
    assert all(position.stance_class != "not_assessed" for position in others)


def test_waits_of_a_drill_and_of_play_stay_as_they_are():
    kept = rested(LONG_REST_S, 1.0, 0.4)
    assert all(position.remarks == () for position in kept)
    (played,) = rested(
        LONG_REST_S + 5, strokes=(StrokeFaced(12.0, 0.05, ("seen",), True, "set", 0),)
    )
    assert played.stance_class != "not_assessed"


def test_who_never_leaves_the_place_for_long_does_not_play():
    for position in rested(1.0, 0.4, watched=seen(0.0)):
        assert position.stance_class == "not_assessed" and position.remarks == (AT_REST,)
    assert rested(watched=seen(0.0)) == ()
    stroke = StrokeFaced(1.0, 0.05, ("seen",), True, "set", 0)
    for kept in (
        rested(1.0, watched=seen(0.6)),
        rested(1.0, watched=seen(0.0, seconds=4.0)),
        rested(1.0, watched=seen(0.0), strokes=(stroke,)),
    ):
        assert all(position.remarks == () for position in kept)


def test_without_players_there_is_nothing_to_withhold():
    assert withhold_unknown_angles({}, None, None) == withhold_rest({}) == {}
