"""Which frames of a spell are observed and shown, and how sure the mean of the angles is."""

from collections.abc import Sequence
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import sem

from stance.runtime.progress import Timings
from stance.watching import close_observer as module
from stance.watching.close_observer import (
    CloseObserver,
    SegmentObservations,
    SegmentSpells,
    SpellFrames,
    frames_for_pictures,
    scatter_of_mean,
    spread_order,
)
from stance.watching.options import QUICK
from stance.watching.player_crop import PlayerCrop, take_crop
from tests.unit.figures import behind_camera
from tests.unit.watching.made_players import plain_frame, pose_at

CAMERA = behind_camera()

# Planted from 1 s to 3 s of a clip of 30 frames a second.
PLANTED = SpellFrames(30, 90, 1.0, 3.0)


@given(st.lists(st.integers(0, 10**6), max_size=60, unique=True).map(sorted))
def test_observations_reach_every_frame_once(frames: list[int]) -> None:
    assert sorted(spread_order(frames)) == frames


@given(st.integers(1, 60))
def test_observations_spread_over_a_spell_from_its_middle_however_many_are_made(count: int) -> None:
    order = spread_order(range(count))
    assert abs(order[0] - (count - 1) / 2) <= 0.5
    for made in (some for some in (3, 5) if some <= count):
        # In as many stretches of equal length, give or take a frame, one observation each.
        for number, frame in enumerate(sorted(order[:made])):
            assert number * count / made - 1 <= frame < (number + 1) * count / made + 1


@given(
    st.lists(st.tuples(st.floats(-20, 20), st.floats(-20, 20)), min_size=2, max_size=8),
    st.floats(-180, 180),
)
def test_scatter_is_the_standard_error_of_the_mean_wherever_on_the_circle(
    angles: list[tuple[float, float]],
    turn: float,
) -> None:
    # SciPy's `sem`: the standard deviation with n - 1, over the root of n.
    wanted = max(sem([one for one, _ in angles]), sem([two for _, two in angles]))
    turned = [
        ((one + turn + 180) % 360 - 180, (two + turn + 180) % 360 - 180) for one, two in angles
    ]
    assert scatter_of_mean(turned) == pytest.approx(wanted, abs=1e-6)


def crops_of(frames: Sequence[int]) -> dict[int, PlayerCrop]:
    """Crops of somebody who stands still, in some frames."""
    pose = pose_at(CAMERA, (0.0, -4.0))
    return {index: take_crop(plain_frame(index), pose) for index in frames}


def observed(
    monkeypatch: pytest.MonkeyPatch, spells: SegmentSpells, frames: Sequence[int]
) -> SegmentObservations:
    """What is observed where every observation succeeds and all measures agree."""
    seen = SimpleNamespace(moved=lambda *_: seen)
    measures = SimpleNamespace(lead_angle=(1.0, 2.0), hip_yaw=(3.0, 4.0))
    monkeypatch.setattr(module, "OrientationNetwork", object)
    monkeypatch.setattr(module, "observe", lambda *_: seen)
    monkeypatch.setattr(module, "measure", lambda *_: measures)
    observer = CloseObserver(QUICK, Timings())
    place = observer.observe_spells(spells, crops_of(frames), CAMERA)
    observer.finish()
    return place.result()


def test_planted_feet_are_observed_shortly_before_they_leave(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = observed(monkeypatch, SegmentSpells({"right": ()}, (PLANTED,)), range(10, 100))
    (spell,) = made.planted
    assert (spell.start_frame, spell.end_frame, spell.start_s, spell.end_s) == (30, 90, 1.0, 3.0)
    assert len(spell.observed_frames) == QUICK.observations
    # In the last second.
    assert all(60 < frame <= 90 for frame in spell.observed_frames)
    assert spell.key_frame in spell.observed_frames
    assert set(spell.observed_frames) == set(made.observations)


def test_a_wait_is_observed_from_its_middle_and_not_twice_for_both_hands(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    waits = {"right": (PLANTED,), "left": (PLANTED,)}
    made = observed(monkeypatch, SegmentSpells(waits, ()), range(10, 100))
    (right,), (left,) = made.spells["right"], made.spells["left"]
    assert right == left
    assert 60 in right.observed_frames
    assert len(made.observations) == QUICK.observations
    assert right.key_frame in made.key_crops


def test_planted_feet_without_crops_at_the_end_are_observed_before(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    frames = [*range(30, 40), *range(91, 95)]
    made = observed(monkeypatch, SegmentSpells({"right": ()}, (PLANTED,)), frames)
    assert made.planted[0].observed_frames


def test_a_spell_without_crops_is_told_though_nothing_is_observed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made = observed(monkeypatch, SegmentSpells({"right": ()}, (PLANTED,)), range(100, 110))
    (spell,) = made.planted
    assert spell.observed_frames == () and spell.key_frame == spell.start_frame
    assert not made.observations and not made.key_crops


@given(rate=st.sampled_from([12.5, 25.0, 30.0, 60.0, 120.0]), lasts_s=st.floats(0.1, 3.0))
def test_pictures_show_the_contact_the_landing_and_the_leaving(rate: float, lasts_s: float) -> None:
    last = round((1.0 + lasts_s) * rate)
    start = round(rate)
    spell = SpellFrames(start, last, start / rate, last / rate)
    shown = np.array(frames_for_pictures(spell, range(round((2.0 + lasts_s) * rate)))) / rate
    assert np.diff(shown).min() > 0.09
    earliest = min(spell.start_s - 0.3, spell.end_s - 0.45)
    assert earliest - 1e-9 <= shown.min() and shown.max() <= max(spell.start_s + 0.2, spell.end_s)
    # Whatever of contact, landing and leaving is asked for, a picture is near.
    for moment in (spell.start_s - 0.25, spell.start_s, spell.end_s):
        assert np.abs(shown - moment).min() < 0.1 + 1.0 / rate


def test_pictures_of_a_long_spell_leave_out_its_middle() -> None:
    shown = np.array(frames_for_pictures(SpellFrames(30, 330, 1.0, 11.0), range(400)))
    assert not ((shown > 45) & (shown < 300)).any()
    assert len(shown) <= 14
