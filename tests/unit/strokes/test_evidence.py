"""What both sides' motion and the sound say is put together, and what is unknown says nothing."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.strokes.evidence import Evidence, gather_evidence
from stance.strokes.motion import moments

TIMES = moments(0.0, 20.0)

# Says what it is given as motion: (moments, 2) log odds of an own stroke and of one faced.
ECHO = SimpleNamespace(log_odds=lambda motion: motion)


def odds(own: float, faced: float) -> np.ndarray:
    """The same log odds at every moment."""
    return np.tile((own, faced), (len(TIMES), 1))


def gathered(near: list[np.ndarray], far: list[np.ndarray], *onsets_s: float) -> Evidence:
    """The evidence from players on both halves and onsets of the sound."""
    return gather_evidence(ECHO, TIMES, {"near": near, "far": far}, np.array(onsets_s))


def test_of_a_pair_whoever_shows_most_counts() -> None:
    evidence = gathered([odds(-1.0, -8.0), odds(-7.0, -2.0)], [odds(-6.0, -3.0)])
    np.testing.assert_array_equal(evidence.striking[0], (-1.0, -6.0))
    # The far side's strokes are faced by the near pair, and the other way round.
    np.testing.assert_array_equal(evidence.facing[0], (-3.0, -2.0))
    np.testing.assert_array_equal(evidence.total[0], (-4.0, -8.0))
    np.testing.assert_array_equal(evidence.strikers[0][0], (-1.0, -7.0))


def test_who_is_not_seen_leaves_the_word_to_the_partner() -> None:
    unseen = odds(np.nan, np.nan)
    evidence = gathered([unseen, odds(-7.0, -2.0)], [unseen])
    np.testing.assert_array_equal(evidence.striking[0], (-7.0, np.nan))
    np.testing.assert_array_equal(evidence.facing[0], (np.nan, -2.0))
    assert np.isfinite(evidence.total).all()


def test_a_side_on_which_nobody_is_seen_adds_the_same_at_every_moment() -> None:
    rng = np.random.default_rng(1)
    near = np.column_stack([rng.normal(-5.0, 2.0, len(TIMES)), np.full(len(TIMES), -4.0)])
    total = gathered([near], []).total
    np.testing.assert_allclose(np.ptp(total - near, axis=0), 0.0, atol=1e-9)
    assert np.array_equal(total, gathered([near], [odds(np.nan, np.nan)]).total)


def test_what_the_defenders_show_may_be_a_moment_early_or_late() -> None:
    striking, facing = odds(-5.0, -5.0), odds(-5.0, -5.0)
    striking[50, 0] = facing[51, 1] = 0.0
    far = gathered([facing], [striking]).total[:, 1]
    assert np.argmax(far) == 50 and far[50] == 0.0


def test_a_hit_is_heard_a_little_after_the_stroke_and_rarely_before() -> None:
    heard = TIMES[gathered([odds(-5.0, -5.0)], [], 10.03).heard]
    assert heard.min() >= 9.9 and heard.max() <= 10.1
    assert np.abs(heard - 10.0).min() < 0.03


@given(st.lists(st.floats(0.0, 20.0), min_size=1, max_size=12))
def test_rare_onsets_speak_for_a_stroke_and_silence_against_one(onsets_s: list[float]) -> None:
    evidence = gathered([odds(-5.0, -5.0)], [], *onsets_s)
    assert evidence.heard.any()
    assert evidence.sound[evidence.heard].min() > 0.5
    assert evidence.sound[~evidence.heard].max() < -0.5
    # Motion may still overrule it.
    assert np.abs(evidence.sound).max() < 3.0


@pytest.mark.parametrize("onsets_s", [[], TIMES.tolist()], ids=["never", "always"])
def test_sound_adds_nothing_without_onsets_or_where_one_lies_at_every_moment(
    onsets_s: list[float],
) -> None:
    np.testing.assert_allclose(gathered([odds(-5.0, -5.0)], [], *onsets_s).sound, 0.0, atol=1e-9)
