"""Clips of play: bodies that move as bodies do, at the times that are written down."""

from functools import lru_cache

import av
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.video.writer import VideoWriter
from tests.rendering.kinematics import solve
from tests.rendering.measures import measure
from tests.rendering.play import rally as plans
from tests.rendering.play.attacker import NOBODY
from tests.rendering.play.clip import Options, draw_play
from tests.rendering.play.files import write_motion
from tests.rendering.play.sound import RATE, add_sound, draw_sound
from tests.rendering.play.truth import AFTER_S, BEFORE_S, play_arrays, play_truth
from tests.rendering.skeleton import JOINT_NAMES, leg_lengths, mirror_joints

# A few clips serve all properties, since composing one takes a fifth of a second.
SEEDS = st.integers(0, 23)
few_clips = settings(max_examples=12, deadline=None)
MOVIE_HZ = 200.0


@lru_cache(maxsize=32)
def played(seed):
    return draw_play(seed, "tune", Options(strokes=4))


@lru_cache(maxsize=64)
def movie(seed, who):
    """Times and joints (frames, 17, 3) of one of the players, seen often."""
    person = getattr(played(seed), who)
    times = np.arange(0.0, person.motion.duration_s, 1 / MOVIE_HZ)
    return times, person.joints(times)


def people(seed):
    return [name for name in ("defender", "attacker") if getattr(played(seed), name) is not None]


def joint(joints, name):
    return joints[..., JOINT_NAMES.index(name), :]


def side_of(person, which):
    """Left or right: the side of the racket foot (0) or of the other one (1)."""
    return person.hand if which == 0 else {"right": "left", "left": "right"}[person.hand]


def hops(seed):
    return [e for e in played(seed).rally.exchanges if e.mode == plans.HOP]


@given(st.integers(0, 2**31), st.integers(2, 9))
@settings(deadline=None)
def test_strokes_of_a_rally_come_when_strokes_of_a_rally_can(seed, strokes):
    rally = plans.draw_rally(np.random.default_rng(seed), plans.RALLY, strokes)
    contacts = [e.contact_s for e in rally.exchanges]
    assert len(contacts) == strokes
    intervals = np.diff(contacts)
    assert (intervals >= plans.INTERVAL_S[0]).all()
    assert (intervals <= plans.INTERVAL_S[1]).all()
    for number, exchange in enumerate(rally.exchanges):
        assert exchange.own_contact_s > exchange.contact_s + 0.2
        assert exchange.serve == (number == 0 and rally.own_serve_s is None)
        if exchange.hop is None:
            continue
        hop = exchange.hop
        landing = hop.landing_s - exchange.contact_s
        assert plans.LANDING_S[0] - 1e-9 <= landing <= plans.LANDING_S[1] + 1e-9
        assert 0.0 <= hop.landing_s - hop.first_s <= plans.FEET_APART_S + 1e-9
        assert plans.IN_AIR_S[0] <= hop.air_s <= plans.IN_AIR_S[1]
        assert plans.HOP_M[0] <= hop.apex_m <= plans.HOP_M[1]
        planted = exchange.leave_s - hop.landing_s
        assert plans.PLANTED_S[0] - 1e-9 <= planted <= plans.PLANTED_S[1] + 1e-9


def test_one_stroke_in_five_is_met_on_the_move():
    rng = np.random.default_rng(1)
    modes = [e.mode for _ in range(400) for e in plans.draw_rally(rng, plans.RALLY, 6).exchanges]
    assert modes.count(plans.MOVING) / len(modes) == pytest.approx(0.2, abs=0.03)


@given(SEEDS)
@few_clips
def test_planted_feet_stay_where_they_are(seed):
    for who in people(seed):
        person = getattr(played(seed), who)
        times, joints = movie(seed, who)
        for which in (0, 1):
            planted = person.planted(times)[:, which]
            side = side_of(person, which)
            heel, toe = joint(joints, f"{side}_heel"), joint(joints, f"{side}_toe")
            both = planted[1:] & planted[:-1]
            for points in (0.5 * (heel + toe)[:, :2], toe):
                moved = np.linalg.norm(np.diff(points, axis=0), axis=1)[both]
                assert moved.max(initial=0.0) < 0.002
            assert toe[planted, 2].max(initial=0.0) < 0.01
            edges = np.flatnonzero(np.diff(planted.astype(int))) + 1
            for piece in np.split(np.arange(len(times)), edges):
                if planted[piece[0]]:
                    assert np.ptp((0.5 * (heel + toe))[piece, :2], axis=0).max() < 0.01


@given(SEEDS)
@few_clips
def test_legs_keep_their_lengths_and_knees_bend_forwards(seed):
    for who in people(seed):
        person = getattr(played(seed), who)
        _, joints = movie(seed, who)
        if person.hand == "left":
            joints = mirror_joints(joints)
        across = joint(joints, "right_hip") - joint(joints, "left_hip")
        forward = np.stack([-across[:, 1], across[:, 0]], axis=1)
        forward /= np.linalg.norm(forward, axis=1, keepdims=True)
        for side, lengths in zip(("left", "right"), leg_lengths(person.skeleton), strict=True):
            hip, knee, ankle, heel, toe = (
                joint(joints, f"{side}_{name}") for name in ("hip", "knee", "ankle", "heel", "toe")
            )
            np.testing.assert_allclose(np.linalg.norm(knee - hip, axis=1), lengths[0], atol=1e-6)
            np.testing.assert_allclose(np.linalg.norm(ankle - knee, axis=1), lengths[1], atol=1e-3)
            toes = (toe - heel)[:, :2]
            pole = 0.6 * toes / np.linalg.norm(toes, axis=1, keepdims=True) + 0.4 * forward
            bend = (knee - 0.5 * (hip + ankle))[:, :2]
            assert np.sum(bend * pole, axis=1).min() > -0.02


@given(SEEDS)
@few_clips
def test_in_a_hop_both_feet_are_off_the_floor_and_the_hips_fall_freely(seed):
    person = played(seed).defender
    for exchange in hops(seed):
        hop = exchange.hop
        times = np.linspace(hop.takeoff_s, hop.first_s, 23)
        feet = person.motion.feet_at(times)
        assert not person.planted(times[1:-1]).any()
        assert feet[:, :, 4].max() <= plans.HOP_M[1] + 1e-9
        assert (feet[1:-1, :, 4] > 0).all()
        numbers = person.motion.hips(times)[:, 2]
        step = times[1] - times[0]
        np.testing.assert_allclose(np.diff(numbers, 2) / step**2, -9.81, rtol=0.02)


@given(SEEDS)
@few_clips
def test_the_hips_sink_after_the_landing(seed):
    person = played(seed).defender
    for exchange in hops(seed):
        times = np.linspace(exchange.hop.first_s, exchange.leave_s, 60)
        heights = person.motion.hips(times)[:, 2]
        assert 0.045 < heights[0] - heights.min() < 0.14


@given(SEEDS)
@few_clips
def test_set_strokes_are_met_planted_and_the_others_never(seed):
    play = played(seed)
    faced = [s for s in play_truth(play)["strokes"] if s["side"] == "faced"]
    exchanges = play.rally.exchanges if play.opposite != NOBODY else ()
    assert len(faced) == len(exchanges)
    for stroke, exchange in zip(faced, exchanges, strict=True):
        window = np.arange(exchange.contact_s - BEFORE_S, exchange.contact_s + AFTER_S, 0.002)
        both = play.defender.planted(window).all(axis=1)
        assert stroke["set"] == (exchange.mode != plans.MOVING)
        assert both.any() == stroke["set"]
        if exchange.mode == plans.HOP:
            last = max(stroke["landing_s"].values())
            assert last == pytest.approx(exchange.hop.landing_s, abs=1e-3)
            assert stroke["planted_start_s"] == pytest.approx(last, abs=1e-3)
            assert stroke["planted_end_s"] == pytest.approx(exchange.leave_s, abs=1e-3)
            assert 0.39 < stroke["stance_width_of_height"] < 0.61


@given(SEEDS)
@few_clips
def test_strokes_of_both_sides_alternate(seed):
    strokes = play_truth(played(seed))["strokes"]
    sides = [stroke["side"] for stroke in strokes]
    if played(seed).opposite == NOBODY:
        assert set(sides) == {"own"}
    else:
        assert all(a != b for a, b in zip(sides[:-1], sides[1:], strict=True))
    assert not any(stroke["serve"] for stroke in strokes[1:])


@given(st.integers(0, 2**31))
def test_who_leaves_the_return_to_the_partner_goes_before_it_is_played(seed):
    rng = np.random.default_rng(seed)
    for member in plans.share_rally(rng, plans.draw_rally(rng, plans.RALLY, 6)):
        for exchange in member.exchanges:
            if exchange.leave_s is not None:
                assert exchange.leave_s <= exchange.own_contact_s - plans.COVER_S


@given(st.integers(0, 7))
@settings(max_examples=5, deadline=None)
def test_two_defenders_face_the_same_strokes_and_share_the_returns(seed):
    play = draw_play(seed, "tune", Options(strokes=3, pair=True))
    truth = play_truth(play)
    both = [truth, truth["partner"]]
    if play.opposite != NOBODY:
        times = [[s["time_s"] for s in t["strokes"] if s["side"] == "faced"] for t in both]
        assert times[0] == times[1]
    own = sorted(s["time_s"] for t in both for s in t["strokes"] if s["side"] == "own")
    serves = [] if play.rally.own_serve_s is None else [play.rally.own_serve_s]
    expected = serves + [e.own_contact_s for e in play.rally.exchanges]
    np.testing.assert_allclose(own, expected, atol=1e-3)
    for person in play.defenders:
        for exchange in person.rally.exchanges:
            window = np.arange(exchange.contact_s - BEFORE_S, exchange.contact_s + AFTER_S, 0.002)
            planted = person.planted(window).all(axis=1).any()
            assert planted == (exchange.mode != plans.MOVING)
    hips = [person.joints(play.frame_times)[:, 7, :2] for person in play.defenders]
    assert np.linalg.norm(hips[0] - hips[1], axis=1).min() > 0.6


@given(SEEDS)
@few_clips
def test_true_measures_are_those_of_the_joints(seed):
    play = played(seed)
    truth = play_truth(play)
    arrays = play_arrays(play)
    np.testing.assert_allclose(arrays["defender"], truth["joints"], atol=6e-4)
    rate = play.frame_rate
    assert len(truth["ready_positions"]) > 0
    for position in truth["ready_positions"]:
        start = max(position["start_s"], position["contact_s"] - BEFORE_S)
        frames = [
            k
            for k in range(position["start_frame"], position["end_frame"] + 1)
            if k / rate >= start - 1e-4
        ]
        found = [
            measure(arrays["defender"][k].astype(float), play.defender.hand)
            for k in frames or [position["end_frame"]]
        ]
        for name, digit in (("hip_yaw_deg", 0.1), ("lead_angle_deg", 0.1), ("base_m", 1e-3)):
            mean = np.mean([getattr(m, name) for m in found], axis=0)
            np.testing.assert_allclose(position[name], mean, atol=digit)


@given(SEEDS)
@few_clips
def test_joints_of_a_motion_are_those_of_the_posed_figure(seed):
    for who in people(seed):
        person = getattr(played(seed), who)
        times, joints = movie(seed, who)
        wrists = np.char.endswith(JOINT_NAMES, "wrist")
        for k in range(7, len(times), 211):
            posed = solve(person.skeleton, person.motion.posture(times[k])).joints
            expected = posed if person.hand == "right" else mirror_joints(posed)
            error = np.linalg.norm(joints[k] - expected, axis=1)
            assert error[~wrists].max() < 1e-6
            # The forearm's twist about itself carries the wrist along by millimetres.
            assert error[wrists].max() < 0.012


@given(SEEDS)
@few_clips
def test_an_attackers_wrist_is_fast_at_the_contact(seed):
    play = played(seed)
    if play.opposite != "player":
        return
    times, joints = movie(seed, "attacker")
    wrist = joint(joints, f"{play.attacker.hand}_wrist")
    speeds = np.linalg.norm(np.diff(wrist, axis=0), axis=1) * MOVIE_HZ
    for exchange in play.rally.exchanges:
        if not exchange.serve:
            near = np.abs(times[:-1] - exchange.contact_s) < 0.03
            assert 3.5 < speeds[near].max() < 12.0
    assert (joints[..., 1] > 0).all()


def test_a_clip_follows_from_its_seed_and_split(tmp_path):
    first, again = (draw_play(3, "train", Options(strokes=2)) for _ in range(2))
    other = draw_play(3, "test", Options(strokes=2))
    assert play_truth(first) == play_truth(again)
    assert play_truth(first)["joints"] != play_truth(other)["joints"]
    write_motion(first, tmp_path, "clip")
    with np.load(tmp_path / "clip.joints.npz") as arrays:
        assert arrays["defender"].shape == (len(first.frame_times), len(JOINT_NAMES), 3)


def test_every_hit_is_heard_in_the_track_and_the_pictures_stay(tmp_path):
    seed = next(s for s in range(24) if played(s).opposite == "player")
    play = played(seed)
    track = draw_sound(play)
    assert len(track) == pytest.approx(len(play.frame_times) / play.frame_rate * RATE, abs=2)
    spread = np.abs(np.diff(track))
    for exchange in play.rally.exchanges:
        heard = round(exchange.own_contact_s * RATE)
        assert spread[heard : heard + 4000].max() > 5 * np.median(spread)
    path = tmp_path / "clip.mp4"
    with VideoWriter(path, (64, 48), 10.0) as video:
        for k in range(20):
            video.write(np.full((48, 64, 3), 10 * k, np.uint8), k / 10.0)
    with av.open(str(path)) as silent:
        before = [frame.pts * frame.time_base for frame in silent.decode(video=0)]
    add_sound(path, track[: 2 * RATE])
    with av.open(str(path)) as loud:
        assert loud.streams.audio[0].codec_context.name == "aac"
        assert loud.streams.audio[0].codec_context.channels == 1
        after = [frame.pts * frame.time_base for frame in loud.decode(video=0)]
    assert after == before
