"""The network says what scikit-learn's would, of all that it is shown and of nothing else."""

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sklearn.exceptions import ConvergenceWarning
from sklearn.neural_network import MLPClassifier
from threadpoolctl import threadpool_limits

from stance.strokes.motion import describe_motion, moments
from stance.strokes.network import (
    OFFSETS,
    StrokeNetwork,
    load_network,
    scale_inputs,
    stack_windows,
)
from tests.unit.figures import behind_camera, track_of
from tests.unit.strokes.movements import LASTS_S, play_about

NUMBERS = 3
INPUTS = NUMBERS * len(OFFSETS)
REACH = max(OFFSETS)


def classifier(seed: int) -> MLPClassifier:
    """A classifier of three classes with weights at random."""
    rng = np.random.default_rng(seed)
    # Untrained weights are near nothing: one step on noise sets the layers up.
    made = MLPClassifier((24, 16), max_iter=1, random_state=seed)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        made.fit(rng.normal(size=(60, INPUTS)), np.arange(60) % 3)
    for layer in (*made.coefs_, *made.intercepts_):
        layer[:] = rng.normal(scale=0.2, size=layer.shape)
    return made


def network_of(*classifiers: MLPClassifier) -> StrokeNetwork:
    """The network of classifiers whose words are averaged."""
    return StrokeNetwork(
        np.full(INPUTS, 0.3),
        np.full(INPUTS, 1.7),
        tuple(tuple(zip(made.coefs_, made.intercepts_, strict=True)) for made in classifiers),
    )


def motion_of(seed: int, count: int = 60) -> np.ndarray:
    """Motion at random."""
    return np.random.default_rng(seed).normal(size=(count, NUMBERS))


@given(seed=st.integers(0, 1000))
@settings(max_examples=10)
def test_log_odds_are_those_of_scikit_learns_classifier_smoothed_over_three_moments(
    seed: int,
) -> None:
    first, second = classifier(seed), classifier(seed + 1)
    network, motion = network_of(first, second), motion_of(seed)
    windows = scale_inputs(stack_windows(motion), network.centre, network.spread)
    mean = (first.predict_proba(windows) + second.predict_proba(windows)) / 2.0
    smooth = (mean[:-2] + 2.0 * mean[1:-1] + mean[2:]) / 4.0
    wanted = np.log(smooth[:, 1:] / smooth[:, :1])
    sure = smooth.min(axis=1) > 2e-4
    np.testing.assert_allclose(network.log_odds(motion)[1:-1][sure], wanted[sure], rtol=1e-9)


@given(moment=st.integers(0, 99), number=st.integers(0, NUMBERS - 1))
@settings(max_examples=20)
def test_every_number_of_the_seconds_around_a_moment_counts_and_none_beyond_it(
    moment: int, number: int
) -> None:
    network, motion = network_of(classifier(3)), motion_of(4, 100)
    other = motion.copy()
    other[moment, number] += 0.8
    changed = (network.log_odds(other) != network.log_odds(motion)).any(axis=1)
    shown = {moment - offset for offset in OFFSETS} & set(range(100))
    # What is said is smoothed over three moments.
    assert set(np.flatnonzero(changed)) == {m for m in range(100) if shown & {m - 1, m, m + 1}}


def test_windows_show_the_moments_around_each_one() -> None:
    motion = motion_of(1)
    windows = stack_windows(motion).reshape(60, len(OFFSETS), NUMBERS)
    for place, offset in enumerate(OFFSETS):
        for moment in (0, 20, 59):
            wanted = motion[moment + offset] if 0 <= moment + offset < 60 else np.nan
            np.testing.assert_array_equal(windows[moment, place], np.broadcast_to(wanted, NUMBERS))


def test_what_is_unknown_counts_as_usual_and_what_is_far_out_as_no_further_than_some_spreads() -> (
    None
):
    centre, spread = np.array([1.0, -2.0]), np.array([0.5, 3.0])
    scaled = scale_inputs(np.array([[np.nan, -2.0], [1.5, np.nan]]), centre, spread)
    np.testing.assert_array_equal(scaled, [[0.0, 0.0], [1.0, 0.0]])
    far, farther = scale_inputs(np.array([[100.0, 100.0], [1e6, 1e6]]), centre, spread)
    np.testing.assert_array_equal(far, farther)


def test_nothing_is_said_of_moments_in_which_the_player_is_not_seen() -> None:
    motion = motion_of(5)
    motion[20:30] = np.nan
    odds = network_of(classifier(5)).log_odds(motion)
    assert np.isnan(odds[20:30]).all()
    assert np.isfinite(np.delete(odds, np.s_[20:30], axis=0)).all()


def test_no_word_is_surer_than_so_much() -> None:
    sure = classifier(6)
    sure.intercepts_[-1][:] = (50.0, 0.0, -50.0)
    assert network_of(sure).log_odds(motion_of(6)) == pytest.approx(np.log(1e-4))


def test_what_is_said_does_not_depend_on_the_number_of_threads() -> None:
    motion = np.random.default_rng(0).normal(size=(400, 28))
    said = []
    for threads in (1, 2):
        with threadpool_limits(threads, "blas"):
            said.append(load_network().log_odds(motion))
    np.testing.assert_array_equal(*said)


def test_the_network_in_the_models_folder_read_motion_as_it_is_described() -> None:
    camera = behind_camera()
    times = np.arange(0.0, LASTS_S, 1.0 / 30.0)
    track = track_of(camera, play_about(times), 30.0)
    motion = describe_motion(track, camera, moments(0.0, LASTS_S - 0.1))
    network = load_network()
    assert network.centre.shape == network.spread.shape == (motion.shape[1] * len(OFFSETS),)
    odds = network.log_odds(motion)
    assert odds.shape == (len(motion), 2)
    # There is no speed at the ends.
    assert np.isfinite(odds[1:-1]).all()
