"""Players get their letters by where they stand, and are measured at each stroke they face."""

from dataclasses import replace

import numpy as np
import pytest

from stance.assessment import players as module
from stance.assessment.players import MeasuredPlayer, measure_players, select_player
from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt
from stance.court.camera import turned_180
from stance.errors import InputError
from stance.measures.classes import DEFAULT_LIMITS
from stance.measures.stance_measures import Measures
from stance.results.model import OwnStroke
from stance.strokes.find import FoundStrokes, Stroke
from stance.watching.watched_clip import ObservedSpell, RacketHand, WatchedClip, WatchedPlayer
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.results.invented import invented_position

NEAR = behind_camera()


def watched_player(half: str, base: tuple[float, float]) -> WatchedPlayer:
    """A player who stands at a place of their own half's frame and never waits."""
    camera = NEAR if half == "near" else turned_180(NEAR)
    track = track_of(camera, np.stack([figure(base)] * 5), 30.0)
    return WatchedPlayer(half, track, {"right": (), "left": ()}, {}, {}, {})


def watched_clip(*players: WatchedPlayer) -> WatchedClip:
    """A clip of some right-handers."""
    part = Part(0, 4, 0.0, 0.14)
    motion = CameraMotion(
        NEAR.image_size, (part,), (part,), 0, np.arange(5), np.stack([np.eye(3)] * 5), 0.0, True
    )
    hands = (RacketHand("right", 0.9),) * len(players)
    court = CalibratedCourt(NEAR, 1.0, "marked")
    return WatchedClip(motion, np.arange(5) / 30.0, players, hands, court, None)


def test_letters_go_left_to_right_the_near_half_first() -> None:
    far, right, left = (
        watched_player("far", (-1.0, -4.0)),
        watched_player("near", (1.5, -3.0)),
        watched_player("near", (-1.5, -4.0)),
    )
    clip = watched_clip(far, right, left)
    measured = measure_players(clip, clip.court, DEFAULT_LIMITS)
    assert {letter: player.watched for letter, player in measured.items()} == {
        "A": left,
        "B": right,
        "C": far,
    }
    assert measured["A"].camera == NEAR
    for letter, metres in (("A", -1.5), ("B", 1.5), ("C", -1.0)):
        assert measured[letter].metres_right == pytest.approx(metres, abs=0.1)
        assert not measured[letter].positions


def test_where_a_player_first_waits_counts_before_where_they_are_on_the_whole() -> None:
    clip = watched_clip(watched_player("near", (0.0, -4.0)))
    player = measure_players(clip, clip.court, DEFAULT_LIMITS)["A"]
    waits = replace(player, positions=(invented_position(-10.0, 0.0, place=(2.0, -4.0)),))
    assert waits.metres_right == 2.0


def test_a_player_who_was_not_found_is_refused_and_one_who_was_is_alone() -> None:
    clip = watched_clip(watched_player("near", (-1.0, -4.0)), watched_player("near", (1.0, -4.0)))
    players = measure_players(clip, clip.court, DEFAULT_LIMITS)
    assert select_player(players, "B", "a.mp4") == {"B": players["B"]}
    assert select_player(players, None, "a.mp4") == players
    with pytest.raises(InputError, match=r"no player C in a\.mp4: found A and B"):
        select_player(players, "C", "a.mp4")


def test_where_nobody_was_found_nobody_is_refused() -> None:
    assert select_player({}, "B", "a.mp4") == {}


def at_strokes(
    monkeypatch: pytest.MonkeyPatch,
    strokes: tuple[Stroke, ...],
    planted: tuple[ObservedSpell, ...],
    knees_deg: float = 40.0,
    waits: tuple[ObservedSpell, ...] = (),
) -> MeasuredPlayer:
    """A player measured at given strokes; each observation's hip yaw is its frame's number."""
    observations = {frame: frame for spell in planted + waits for frame in spell.observed_frames}
    player = replace(
        watched_player("near", (0.0, -4.0)),
        track=track_of(NEAR, np.stack([figure((0.0, -4.0))] * 301), 30.0),
        planted=planted,
        spells={"right": waits, "left": ()},
        observations=observations,
    )
    monkeypatch.setattr(module, "find_clip_strokes", lambda *_: FoundStrokes(strokes, ()))
    monkeypatch.setattr(
        module, "measure", lambda _camera, frame, _hand: measures_of(float(frame), knees_deg)
    )
    clip = watched_clip(player)
    return measure_players(clip, clip.court, DEFAULT_LIMITS)["A"]


def measures_of(hip_deg: float, knees_deg: float) -> Measures:
    """Measures of a square stance with the hip yaw and bend of the knees asked for."""
    return Measures(
        hip_yaw=np.array([hip_deg, 3.0]),
        shoulder_yaw=np.array([0.0, 3.0]),
        lead_angle=np.array([-15.0, 3.0]),
        foot_stagger=np.array([-0.1, 0.02]),
        stance_width=np.array([0.6, 0.03]),
        knee_flexion=np.array([[knees_deg, 5.0], [knees_deg, 5.0]]),
        base=np.array([[1.0, 0.05], [-4.0, 0.1]]),
        feet=np.zeros((2, 2, 2)),
        hips=np.zeros((2, 2)),
        hip_width=0.25,
        leg_length=0.8,
    )


def faced_at(time_s: float, half: str = "far", striker: int | None = None) -> Stroke:
    """A stroke of one side."""
    return Stroke(time_s, 0.05, half, striker, ("seen",))


# Planted from 1 s to 2 s, observed at its start and its end.
PLANTED = ObservedSpell(30, 60, 1.0, 2.0, (32, 58), 58)


def test_each_stroke_faced_gets_its_ready_position_or_says_why_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    strokes = (faced_at(1.9), faced_at(3.2, "near", 0), faced_at(5.0), faced_at(20.0))
    player = at_strokes(monkeypatch, strokes, (PLANTED,))
    assert [(one.time_s, one.met, one.ready_position) for one in player.strokes_faced] == [
        (1.9, "set", 0),
        (5.0, "on_the_move", None),
        (20.0, "not_seen", None),
    ]
    assert player.own_strokes == (OwnStroke(3.2, 0.05),)
    (position,) = player.positions
    assert position.start_s == 1.0 and position.end_s == pytest.approx(2.0 + 1 / 30)


def test_a_stroke_is_measured_by_what_was_observed_about_its_contact_where_there_is_any(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    late = at_strokes(monkeypatch, (faced_at(1.9),), (PLANTED,)).positions[0]
    assert late.hip_yaw_deg == pytest.approx(58.0)
    assert late.key_frame == 58
    # Whoever was observed before the contact only is measured by that.
    before = replace(PLANTED, observed_frames=(32,), key_frame=32)
    early = at_strokes(monkeypatch, (faced_at(1.9),), (before,)).positions[0]
    assert early.hip_yaw_deg == pytest.approx(32.0)


def test_two_strokes_met_in_one_spell_have_a_ready_position_each(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    player = at_strokes(monkeypatch, (faced_at(1.2), faced_at(1.9)), (PLANTED,))
    assert [one.ready_position for one in player.strokes_faced] == [0, 1]
    assert [position.hip_yaw_deg for position in player.positions] == pytest.approx([32.0, 58.0])


def test_what_was_observed_long_after_the_contact_does_not_count_where_there_is_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lasting = ObservedSpell(30, 66, 1.0, 2.2, (34, 46, 62), 46)
    (position,) = at_strokes(monkeypatch, (faced_at(1.1),), (lasting,)).positions
    assert position.hip_yaw_deg == pytest.approx(40.0)  # of frames 34 and 46
    assert position.key_frame == 46
    only_late = replace(lasting, observed_frames=(62,), key_frame=62)
    (position,) = at_strokes(monkeypatch, (faced_at(1.1),), (only_late,)).positions
    assert position.hip_yaw_deg == pytest.approx(62.0)


def test_who_stands_with_straight_knees_or_is_not_observed_is_not_set(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    straight = at_strokes(monkeypatch, (faced_at(1.9),), (PLANTED,), knees_deg=5.0)
    unobserved = replace(PLANTED, observed_frames=(), key_frame=30)
    unknown = at_strokes(monkeypatch, (faced_at(1.9),), (unobserved,))
    assert [player.strokes_faced[0].met for player in (straight, unknown)] == [
        "on_the_move",
        "not_seen",
    ]
    assert straight.positions == unknown.positions == ()


def test_where_no_strokes_are_faced_the_waits_count(monkeypatch: pytest.MonkeyPatch) -> None:
    own = (faced_at(3.2, "near", 0),)
    player = at_strokes(monkeypatch, own, (), waits=(PLANTED,))
    assert player.strokes_faced == ()
    (position,) = player.positions
    assert position.start_s == 1.0
    assert len(player.own_strokes) == 1
