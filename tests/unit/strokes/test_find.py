"""Strokes of both sides: when, by whom, known by what; where they are only imagined."""

from collections.abc import Sequence

import numpy as np
import pytest

from stance.court.camera import Camera, turned_180
from stance.people import landmarks
from stance.people.landmarks import LANDMARKS
from stance.strokes.find import FoundStrokes, Mover, find_strokes
from stance.strokes.motion import RATE
from stance.types import Half
from tests.rendering.play.clip import Options, Person, Play, draw_play
from tests.rendering.play.truth import play_truth
from tests.rendering.skeleton import JOINT_NAMES
from tests.unit.figures import behind_camera, figure, track_of

CAMERA = behind_camera()
TIMES = np.arange(0.0, 12.0, 1.0 / 30.0)

# The far side serves; strokes of the two sides in turn.
FAR_S, NEAR_S = [1.0, 3.4, 5.8, 8.2], [2.2, 4.6, 7.0]
ALL_S = sorted([*FAR_S, *NEAR_S])

# A hit's way to the camera takes so long: ten metres at 343 m/s, the speed of sound in dry air of
# 20 degrees (ISO 9613-1).
TRAVEL_S = 10.0 / 343.0


def mover(half: Half) -> Mover:
    """Somebody who is seen throughout."""
    camera = CAMERA if half == "near" else turned_180(CAMERA)
    return Mover(half, track_of(camera, np.stack([figure((0.0, -4.0))] * len(TIMES)), 30.0), camera)


def said(own_s: list[float], faced_s: list[float], surest: float = 0.0) -> np.ndarray:
    """(moments, 2) log odds that peak where a player strikes and where they face a stroke."""
    moments_s = np.arange(round(TIMES[-1] * RATE) + 1) / RATE
    odds = np.full((len(moments_s), 2), -9.0)
    for column, some in enumerate((own_s, faced_s)):
        for time_s in some:
            near = 1.0 - np.square((moments_s - time_s) / 0.12)
            odds[:, column] = np.maximum(odds[:, column], -9.0 + (9.0 + surest) * near)
    return odds


class SaysInTurn:
    """Stands for the network: says of one mover after the other what it is told to."""

    def __init__(self, *odds: np.ndarray) -> None:
        self._odds = iter(odds)

    def log_odds(self, motion: np.ndarray) -> np.ndarray:
        odds = next(self._odds)
        assert len(odds) == len(motion)
        return odds


NEAR, FAR = said(NEAR_S, FAR_S), said(FAR_S, NEAR_S)


def found(movers: list[Mover], *odds: np.ndarray, onsets_s: Sequence[float] = ()) -> FoundStrokes:
    """The strokes found; what the network says is given for the near movers first."""
    return find_strokes(movers, TIMES, np.array(onsets_s, float), SaysInTurn(*odds))


def test_strokes_of_both_sides_are_found_from_motion_alone() -> None:
    strokes = found([mover("near"), mover("far")], NEAR, FAR).strokes
    assert [stroke.half for stroke in strokes] == ["far", "near"] * 3 + ["far"]
    assert [stroke.striker for stroke in strokes] == [1, 0] * 3 + [1]
    assert [stroke.time_s for stroke in strokes] == pytest.approx(ALL_S, abs=0.02)
    assert {stroke.known_by for stroke in strokes} == {("seen", "moved")}


def test_a_stroke_that_is_heard_takes_the_sounds_time_less_its_travel_through_air() -> None:
    # Motion is late by a moment or early by one; the sound is not.
    hits_s = [time_s + 0.03 * (-1) ** number for number, time_s in enumerate(ALL_S)]
    onsets_s = [time_s + TRAVEL_S for time_s in hits_s]
    strokes = found([mover("near"), mover("far")], NEAR, FAR, onsets_s=onsets_s).strokes
    assert {stroke.known_by for stroke in strokes} == {("heard", "seen", "moved")}
    assert [stroke.time_s for stroke in strokes] == pytest.approx(hits_s, abs=0.012)
    silent = found([mover("near"), mover("far")], NEAR, FAR).strokes
    assert strokes[0].time_se_s < silent[0].time_se_s


def test_the_sound_of_another_court_moves_no_stroke() -> None:
    # Near one stroke only; the others lie between strokes.
    onsets_s = [ALL_S[2] + 0.06, *(time_s + 0.6 for time_s in ALL_S)]
    strokes = found([mover("near"), mover("far")], NEAR, FAR, onsets_s=onsets_s).strokes
    assert [stroke.time_s for stroke in strokes] == pytest.approx(ALL_S, abs=0.02)
    assert not any("heard" in stroke.known_by for stroke in strokes)


def test_of_a_pair_the_one_who_shows_the_stroke_strikes() -> None:
    movers = [mover("near"), mover("far"), mover("near")]
    strokes = found(movers, said([], FAR_S), said(NEAR_S, FAR_S), FAR).strokes
    assert [stroke.striker for stroke in strokes if stroke.half == "near"] == [2] * len(NEAR_S)


def test_an_unseen_opponents_strokes_are_known_by_sound_and_the_defenders_hop() -> None:
    onsets_s = [time_s + TRAVEL_S for time_s in ALL_S]
    strokes = found([mover("near")], NEAR, onsets_s=onsets_s).strokes
    faced = [stroke for stroke in strokes if stroke.half == "far"]
    assert [stroke.time_s for stroke in faced] == pytest.approx(FAR_S, abs=0.02)
    assert {stroke.known_by for stroke in faced} == {("heard", "moved")}
    assert {stroke.striker for stroke in faced} == {None}


def test_two_own_strokes_that_are_heard_where_little_else_is_tell_whose_sound_it_is() -> None:
    first = [*NEAR_S[:2], *FAR_S[:2]]
    near, onsets_s = said(NEAR_S[:2], FAR_S[:2]), [time_s + TRAVEL_S for time_s in first]
    faced = [s.time_s for s in found([mover("near")], near, onsets_s=onsets_s).strokes]
    assert sorted(faced) == pytest.approx(sorted(first), abs=0.02)
    # In a hall full of noise they would be heard by chance.
    noise_s = [*onsets_s, *np.arange(0.0, TIMES[-1], 0.25)]
    noisy = found([mover("near")], near, onsets_s=noise_s).strokes
    assert {stroke.half for stroke in noisy} == {"near"}


def test_what_is_heard_counts_for_an_unseen_side_only_where_the_defender_faces_a_stroke() -> None:
    onsets_s = [time_s + TRAVEL_S for time_s in ALL_S]
    shown = {}
    for surest in (-2.5, -3.5):
        faces = np.column_stack([NEAR[:, 0], said([], FAR_S, surest)[:, 1]])
        strokes = found([mover("near")], faces, onsets_s=onsets_s).strokes
        shown[surest] = {stroke.half for stroke in strokes}
    assert shown == {-2.5: {"near", "far"}, -3.5: {"near"}}


def test_without_opponents_and_sound_strokes_faced_are_imagined() -> None:
    strokes = found([mover("near")], NEAR)
    assert [stroke.half for stroke in strokes.strokes] == ["near"] * len(NEAR_S)
    assert strokes.imagined_s
    for time_s in strokes.imagined_s:
        assert min(abs(time_s - true_s) for true_s in FAR_S) < 0.02


def test_beside_a_gap_nothing_is_imagined() -> None:
    one = mover("near")
    whole = found([one], NEAR).imagined_s
    last_s = whole[-1]
    one.track.pixels[np.abs(TIMES - (last_s - 0.7)) < 0.5] = np.nan
    assert len(whole) > 1
    assert found([one], NEAR).imagined_s == whole[:-1]


def test_where_nobody_is_followed_or_seen_there_are_no_strokes() -> None:
    nobody = FoundStrokes((), ())
    assert find_strokes([], TIMES, np.empty(0)) == nobody
    unseen = mover("near")
    unseen.track.pixels[:] = np.nan
    assert find_strokes([unseen], TIMES, np.empty(0)) == nobody


def true_mover(play: Play, person: Person, half: Half) -> Mover:
    """A rendered player as a faultless pose model would see them; joints without a name lie at
    the nose."""
    near = Camera(
        play.camera.matrix, play.camera.rotation, play.camera.translation, play.camera.size
    )
    named = person.joints(play.frame_times)
    joints = np.repeat(named[:, :1], LANDMARKS, axis=1)
    for number, name in enumerate(JOINT_NAMES):
        joints[:, getattr(landmarks, name.upper())] = named[:, number]
    camera = near if half == "near" else turned_180(near)
    return Mover(half, track_of(near, joints, play.frame_rate), camera)


@pytest.mark.parametrize("seed", [2, 8])
def test_the_network_finds_most_strokes_in_true_motion_and_nearly_all_with_sound(seed: int) -> None:
    play = draw_play(seed, "test", Options(frame_rate=30.0))
    assert play.attacker is not None and play.camera.distortion == 0.0
    movers = [true_mover(play, play.defender, "near"), true_mover(play, play.attacker, "far")]
    true_s = {
        half: np.array([s["time_s"] for s in play_truth(play)["strokes"] if s["side"] == side])
        for half, side in (("near", "own"), ("far", "faced"))
    }
    onsets_s = np.sort(np.concatenate(list(true_s.values()))) + TRAVEL_S
    for sound, share, most_false in ((onsets_s, 0.8, 1), (np.empty(0), 0.5, 4)):
        strokes = find_strokes(movers, play.frame_times, sound).strokes
        found_s = {half: [s.time_s for s in strokes if s.half == half] for half in true_s}
        near = {half: np.abs(true_s[half][:, None] - found_s[half]) < 0.25 for half in true_s}
        assert all(those.any(axis=1).mean() >= share for those in near.values())
        assert sum((~those.any(axis=0)).sum() for those in near.values()) <= most_false
