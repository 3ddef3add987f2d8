"""The learned correction: exact under mirror, turn and scale; better than raw landmarks."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.camera import Camera
from stance.correction import (
    Correction,
    Network,
    estimate,
    load_correction,
    run_network,
    save_correction,
    view_features,
)
from stance.poses import Look, Pose
from tests.figures import behind_camera, figure, track_of


def look_at(camera: Camera, base: tuple[float, float], turn_deg: float = 0.0) -> Look:
    """A faultless look at the stick figure, turned about the vertical."""
    angle = np.radians(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0],
                     [0, 0, 1.0]])
    joints = figure((0.0, 0.0)) @ turn.T + (*base, 0.0)
    track = track_of(camera, joints[None], 30.0)
    pose = Pose(track.pixels[0], track.visibility[0], track.world[0])
    return Look(pose, pose, np.array([0.01, 0.01]))


def mirrored(camera: Camera, look: Look) -> Look:
    """The look at the mirrored scene, for a camera that looks along the court's middle."""
    pose = look.full.mirrored(2 * float(camera.matrix[0, 2]))
    return Look(pose, pose, look.unsteadiness)


@settings(max_examples=25)
@given(st.floats(-1.5, 1.5), st.floats(-6.0, -2.5), st.floats(-80, 80))
def test_a_mirrored_left_hander_has_the_same_measures(x: float, y: float, turn: float) -> None:
    camera = behind_camera()
    look = look_at(camera, (x, y), turn)
    one = estimate(camera, look, "right")
    other = estimate(camera, mirrored(camera, look), "left")
    assert one is not None and other is not None
    assert other.hip_yaw == pytest.approx(one.hip_yaw, abs=1e-6)
    assert other.hip_yaw_se == pytest.approx(one.hip_yaw_se, abs=1e-6)
    np.testing.assert_allclose(other.feet * (-1, 1), one.feet, atol=1e-9)
    np.testing.assert_allclose(other.knee_flexion, one.knee_flexion, atol=1e-6)


@settings(max_examples=25)
@given(st.floats(-180, 180), st.floats(-1.5, 1.5), st.floats(-2.0, 2.0))
def test_turning_the_court_under_player_and_camera_turns_the_answer(
        turn: float, dx: float, dy: float) -> None:
    camera = behind_camera()
    look = look_at(camera, (0.5, -4.0), -25.0)
    angle = np.radians(turn)
    rotation = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0],
                         [0, 0, 1.0]])
    # New court coordinates X' = rotation X + shift; the picture stays the same.
    shift = np.array([dx, dy, 0.0])
    moved = Camera(camera.matrix, camera.rotation @ rotation.T,
                   camera.translation - camera.rotation @ rotation.T @ shift, camera.image_size)
    one, other = estimate(camera, look, "right"), estimate(moved, look, "right")
    assert one is not None and other is not None
    difference = (other.hip_yaw - one.hip_yaw - turn + 180) % 360 - 180
    assert difference == pytest.approx(0.0, abs=1e-6)
    np.testing.assert_allclose(other.feet, one.feet @ rotation[:2, :2].T + shift[:2], atol=1e-8)
    assert other.hip_yaw_se == pytest.approx(one.hip_yaw_se, rel=1e-6)


@given(st.floats(0.4, 2.5))
def test_scaling_the_picture_changes_only_the_feature_of_size(scale: float) -> None:
    camera = behind_camera()
    look = look_at(camera, (0.5, -4.0), 20.0)
    scaled = Camera(np.diag([scale, scale, 1.0]) @ camera.matrix, camera.rotation,
                    camera.translation, camera.image_size)
    pose = Pose(look.full.pixels * scale, look.full.visibility, look.full.world)
    one = view_features(camera, look, "right")[1]
    other = view_features(scaled, Look(pose, pose, look.unsteadiness), "right")[1]
    changed = np.flatnonzero(np.abs(one - other) > 1e-7)
    assert len(changed) <= 1
    if len(changed):
        assert (other - one)[changed[0]] == pytest.approx(np.log(scale))


def test_feet_above_the_horizon_give_no_estimate() -> None:
    camera = behind_camera()
    look = look_at(camera, (0.5, -4.0))
    pose = Pose(look.full.pixels - (0.0, 500.0), look.full.visibility, look.full.world)
    assert estimate(camera, Look(pose, pose, look.unsteadiness), "right") is None


def test_a_network_is_run_as_scikit_learn_runs_it() -> None:
    # Reference: scikit-learn's MLPRegressor.
    from sklearn.neural_network import MLPRegressor

    rng = np.random.default_rng(2)
    x, y = rng.normal(size=(80, 5)), rng.normal(size=(80, 3))
    regressor = MLPRegressor(hidden_layer_sizes=(7, 6), max_iter=30, random_state=1).fit(x, y)
    network = Network(np.zeros(5, np.float32), np.ones(5, np.float32),
                      tuple(w.astype(np.float32) for w in regressor.coefs_),
                      tuple(b.astype(np.float32) for b in regressor.intercepts_),
                      np.zeros(3, np.float32), np.ones(3, np.float32))
    np.testing.assert_allclose(run_network(network, x), regressor.predict(x), atol=1e-5)


def test_a_saved_correction_comes_back_and_has_the_same_bytes(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    correction = load_correction()
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        save_correction(tmp_path / name / "correction.npz", correction)
    assert (tmp_path / "a/correction.npz").read_bytes() == (
        tmp_path / "b/correction.npz").read_bytes()
    monkeypatch.setattr("stance.correction.models_folder", lambda: tmp_path / "a")
    load_correction.cache_clear()
    again = load_correction()
    load_correction.cache_clear()
    assert isinstance(again, Correction)
    np.testing.assert_array_equal(again.errors.weights[0], correction.errors.weights[0])
    np.testing.assert_array_equal(again.factors, correction.factors)
    assert len(again.networks) == len(correction.networks)
