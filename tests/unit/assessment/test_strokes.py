"""Whether each stroke that was faced was met set, on the move or unseen, and in which spell."""

from dataclasses import replace

import numpy as np
import pytest

from stance.assessment import strokes as module
from stance.assessment.strokes import (
    AFTER_S,
    BEFORE_S,
    PlayerStrokes,
    find_clip_strokes,
    meet_stroke,
    spells_without_strokes,
    strokes_explain_waits,
    strokes_of_player,
)
from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt
from stance.court.camera import turned_180
from stance.people.track import Track
from stance.strokes.find import FoundStrokes, Stroke
from stance.types import Half
from stance.watching.watched_clip import ObservedSpell, Opponent, WatchedClip, WatchedPlayer
from tests.unit.figures import behind_camera, figure, track_of

NEAR = behind_camera()
MARKED = CalibratedCourt(NEAR, 1.0, "marked")
RATE = 30.0
CONTACT_S = 5.0


def stroke(time_s: float = CONTACT_S, half: Half = "far", striker: int | None = None) -> Stroke:
    """A stroke at a time."""
    return Stroke(time_s, 0.05, half, striker, ("seen",))


def spell(start_s: float, end_s: float) -> ObservedSpell:
    """A spell from one time to another."""
    start, end = round(start_s * RATE), round(end_s * RATE)
    return ObservedSpell(start, end, start_s, end_s, (start,), start)


def track_in(
    camera=NEAR,
    unseen_s: tuple[float, float] = (-1.0, -1.0),
    place: tuple[float, float] = (0.0, -4.0),
) -> Track:
    """Ten seconds of somebody who stands still and is not seen for a time."""
    track = track_of(camera, np.stack([figure(place)] * 301), RATE)
    track.pixels[(track.times >= unseen_s[0]) & (track.times <= unseen_s[1])] = np.nan
    return track


def imagined(*times_s: float, own: tuple[Stroke, ...] = ()) -> PlayerStrokes:
    """Strokes of who faces none, but moves as if at these times."""
    return PlayerStrokes((), own, times_s, ())


def player(*planted: ObservedSpell, **track: tuple[float, float]) -> WatchedPlayer:
    """A near player with planted spells."""
    return WatchedPlayer("near", track_in(**track), {"right": ()}, {}, {}, {}, planted)


@pytest.mark.parametrize(
    ("start_s", "end_s", "met"),
    [
        (3.0, 7.0, "set"),
        (CONTACT_S + AFTER_S - 0.01, 6.0, "set"),
        (CONTACT_S + AFTER_S + 0.01, 6.0, "on_the_move"),
        (4.0, CONTACT_S - BEFORE_S + 0.01, "set"),
        (4.0, CONTACT_S - BEFORE_S - 0.01, "on_the_move"),
    ],
)
def test_who_is_planted_about_the_contact_is_set_and_too_late_or_too_early_on_the_move(
    start_s: float, end_s: float, met: str
) -> None:
    planted = spell(start_s, end_s)
    meeting = meet_stroke(stroke(), player(planted), ())
    assert meeting.met == met
    assert meeting.spell == (planted if met == "set" else None)


def test_the_window_is_that_of_the_definition() -> None:
    assert (BEFORE_S, AFTER_S) == (0.15, 0.30)


def test_of_two_spells_in_the_window_the_later_counts() -> None:
    before, after = spell(4.0, 4.95), spell(5.2, 5.5)
    assert meet_stroke(stroke(), player(before, after), ()).spell == after


def test_a_spell_after_the_answer_does_not_count() -> None:
    planted = spell(CONTACT_S + 0.2, 6.0)
    answer = stroke(CONTACT_S + 0.1, "near", 0)
    assert meet_stroke(stroke(), player(planted), (answer,)).met == "on_the_move"
    earlier = stroke(CONTACT_S - 1.2, "near", 0)
    assert meet_stroke(stroke(), player(planted), (earlier,)).met == "set"


@pytest.mark.parametrize(
    ("unseen_s", "met"),
    [((4.0, 6.0), "not_seen"), ((4.0, 4.9), "on_the_move"), ((5.0, 6.0), "not_seen")],
)
def test_who_is_mostly_not_seen_about_the_contact_is_told_as_not_seen(
    unseen_s: tuple[float, float], met: str
) -> None:
    assert meet_stroke(stroke(), player(unseen_s=unseen_s), ()).met == met


def test_a_stroke_outside_the_track_is_not_seen() -> None:
    assert meet_stroke(stroke(30.0), player(), ()).met == "not_seen"


def test_a_player_faces_the_other_sides_strokes_and_plays_their_own() -> None:
    theirs, mine, partners = stroke(1.0), stroke(2.0, "near", 0), stroke(4.0, "near", 1)
    found = FoundStrokes((theirs, mine, partners), (7.0,))
    for number, own in ((0, mine), (1, partners)):
        strokes = strokes_of_player(found, number, clip_of(player(), player()), MARKED)
        assert strokes.faced == (theirs,)
        assert strokes.own == (own,)
        assert strokes.imagined_s == (7.0,)


def test_landings_as_if_a_stroke_came_count_beside_waits() -> None:
    wait, in_wait = spell(1.0, 2.0), spell(1.1, 1.9)
    landing, elsewhere = spell(4.1, 4.6), spell(6.0, 6.5)
    watched = player(in_wait, landing, elsewhere)
    assert spells_without_strokes(watched, NEAR, (wait,), imagined(1.5, 4.0)) == (wait, landing)


def test_where_nothing_is_imagined_the_waits_alone_count() -> None:
    waits = (spell(1.0, 2.0), spell(6.0, 7.0))
    assert spells_without_strokes(player(spell(3.0, 4.0)), NEAR, waits, imagined()) == waits


def test_who_hops_in_place_waits_once_and_the_last_landing_counts() -> None:
    wait, again, landing = spell(1.0, 1.6), spell(1.8, 2.2), spell(2.4, 2.7)
    later = spell(3.1, 3.5)
    counted = spells_without_strokes(player(landing), NEAR, (wait, again, later), imagined(2.3))
    assert counted == (landing, later)


def test_a_stroke_or_a_step_between_parts_waits() -> None:
    waits = (spell(1.0, 2.0), spell(2.2, 3.0))
    struck = imagined(own=(stroke(2.1, "near", 0),))
    assert spells_without_strokes(player(), NEAR, waits, struck) == waits
    joints = np.stack([figure((0.0 if k < 63 else 0.6, -4.0)) for k in range(301)])
    stepped = replace(player(), track=track_of(NEAR, joints, RATE))
    assert spells_without_strokes(stepped, NEAR, waits, imagined()) == waits
    assert spells_without_strokes(player(), NEAR, waits, imagined()) == waits[1:]


@pytest.mark.parametrize(
    ("faced_s", "explained"),
    [((1.0,), False), ((1.0, 5.2), True), ((1.0, 3.0), False), ((1.0, 1.2, 1.4), True)],
)
def test_strokes_that_leave_most_waits_unexplained_are_not_what_is_waited_for(
    faced_s: tuple[float, ...], explained: bool
) -> None:
    waits = [spell(0.0, 1.0), spell(4.0, 5.0), spell(8.0, 9.0), spell(12.0, 13.0)]
    assert strokes_explain_waits(waits, [stroke(time_s) for time_s in faced_s]) == explained


def clip_of(*players: WatchedPlayer, opponents: tuple[Opponent, ...] = ()) -> WatchedClip:
    """A clip of ten seconds without sound."""
    part = Part(0, 300, 0.0, 10.0)
    motion = CameraMotion(
        NEAR.image_size, (part,), (part,), 0, np.arange(301), np.stack([np.eye(3)] * 301), 0.0, True
    )
    return WatchedClip(motion, np.arange(301) / RATE, players, (), None, None, opponents)


def test_players_and_opponents_are_asked_about_in_their_own_halves_frames(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked = []
    monkeypatch.setattr(module, "find_strokes", lambda *given: asked.append(given))
    opponent = Opponent("far", track_in(turned_180(NEAR)))
    clip = clip_of(player(), opponents=(opponent,))
    find_clip_strokes(clip, NEAR)
    ((movers, times, onsets_s),) = asked
    assert [mover.half for mover in movers] == ["near", "far"]
    assert movers[0].camera == NEAR
    np.testing.assert_allclose(movers[1].camera.rotation, turned_180(NEAR).rotation)
    assert times is clip.times and onsets_s is clip.onsets_s


def test_without_opponents_and_sound_no_strokes_are_faced() -> None:
    clip = clip_of(player(spell(3.0, 7.0)))
    assert strokes_of_player(find_clip_strokes(clip, NEAR), 0, clip, MARKED).faced == ()


def test_who_strikes_is_placed_in_the_frame_of_who_defends() -> None:
    seen = Opponent("far", track_in(turned_180(NEAR), place=(1.2, -5.0)))
    clip = clip_of(player(), opponents=(seen,))
    found = FoundStrokes((stroke(2.0, "far", 1), stroke(4.0, "far", None)), ())
    (first, second) = strokes_of_player(found, 0, clip, MARKED).attackers_m
    # In the frame of the near half what is turned by 180 degrees.
    assert first == pytest.approx((-1.2, 5.0), abs=0.15)
    assert np.isnan(second).all()
    assumed = replace(MARKED, source="assumed")
    assert np.isnan(strokes_of_player(found, 0, clip, assumed).attackers_m).all()


def test_an_attacker_who_is_not_seen_at_the_contact_has_no_place() -> None:
    hidden = Opponent("far", track_in(turned_180(NEAR), unseen_s=(1.0, 3.0)))
    found = FoundStrokes((stroke(2.0, "far", 1),), ())
    clip = clip_of(player(), opponents=(hidden,))
    assert np.isnan(strokes_of_player(found, 0, clip, MARKED).attackers_m).all()
