"""What the network says: exact under mirror and turn, right on the sample clip."""

import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.court.calibration import calibrate
from stance.court.camera import Camera, project
from stance.court.court_file import read_court_file
from stance.errors import StanceError
from stance.measures.network_outputs import ERRORS, FACTORS_FILE, TARGETS
from stance.measures.orientation import Observation, OrientationNetwork, estimate, line_yaw, observe
from stance.people.landmarker import Landmarker
from stance.people.landmarks import Box, Pose
from stance.runtime import model_files
from stance.runtime.model_files import models_folder, network_checksum
from stance.video.reader import read_frames_at
from tests.paths import DATA
from tests.rendering.skeleton import JOINT_NAMES
from tests.training.prediction_errors import prediction_errors
from tests.unit.figures import behind_camera, figure, track_of


# Racket hip, other hip (x, y) and the yaw they make, by hand from docs/definitions.md.
@pytest.mark.parametrize(
    ("racket", "other", "hand", "expected"),
    [
        ((0.2, -4.0), (-0.2, -4.0), "right", 0.0),
        ((-0.2, -4.0), (0.2, -4.0), "left", 0.0),
        ((0.2, -4.2), (-0.2, -3.8), "right", -45.0),  # racket side back
        ((-0.2, -4.2), (0.2, -3.8), "left", -45.0),
        ((0.1, -3.8), (0.1, -4.0), "right", 90.0),  # racket side nearest the net
        ((-0.2, -4.0), (0.2, -4.0), "right", 180.0),  # back to the net
    ],
)
def test_yaw_has_the_sign_of_the_definitions(
    racket: tuple[float, float], other: tuple[float, float], hand: str, expected: float
) -> None:
    assert line_yaw(np.array(other), np.array(racket), hand) == pytest.approx(expected)


@given(st.floats(-179, 179), st.sampled_from(["right", "left"]))
def test_a_mirrored_player_has_the_same_yaw(angle: float, hand: str) -> None:
    radians = np.radians(angle)
    racket = np.array([np.cos(radians), np.sin(radians)])
    mirror = np.array([-1.0, 1.0])
    other_hand = "left" if hand == "right" else "right"
    assert line_yaw(-racket, racket, hand) == pytest.approx(
        line_yaw(-racket * mirror, racket * mirror, other_hand)
    )


def observation_of(camera: Camera, base: tuple[float, float], yaw_deg: float) -> Observation:
    """An observation of hips turned by an angle against the view, feet as they are."""
    track = track_of(camera, figure(base)[None], 30.0)
    pose = Pose(track.pixels[0], track.visibility[0], track.world[0])
    yaw = np.radians(yaw_deg)
    predictions = np.array(
        [
            np.cos(yaw),
            np.sin(yaw),
            np.cos(yaw / 2),
            np.sin(yaw / 2),
            0.4,
            0.86,
            0.6,
            0.84,
            0.7,
            0.8,
            0.03,
            -0.05,
            0.24,
            0.8,
        ]
    )
    return Observation(pose, predictions, np.array([6.0, 5.0, 1.0, 1.2, 0.6, 0.9, 7.0, 8.0]))


def mirrored(camera: Camera, observation: Observation) -> Observation:
    """The observation of the mirrored scene, for a camera that looks along the court's middle."""
    order = [0, 1, 2, 3, 6, 7, 4, 5, 9, 8, 10, 11, 12, 13]
    predictions = observation.predictions[order] * [1, -1, 1, -1, -1, 1, -1, 1, 1, 1, -1, 1, 1, 1]
    predictions[[4, 6]] += 1.0
    return Observation(
        observation.pose.mirrored(2 * float(camera.matrix[0, 2])),
        predictions,
        observation.errors[[0, 1, 2, 3, 4, 5, 7, 6]],
    )


@settings(max_examples=25)
@given(st.floats(-1.5, 1.5), st.floats(-6.0, -2.5), st.floats(-80, 80))
def test_a_mirrored_left_hander_has_the_same_measures(x: float, y: float, yaw: float) -> None:
    camera = behind_camera()
    observation = observation_of(camera, (x, y), yaw)
    one = estimate(camera, observation, "right")
    other = estimate(camera, mirrored(camera, observation), "left")
    assert one is not None and other is not None
    assert other.hip_yaw == pytest.approx(one.hip_yaw, abs=1e-6)
    assert other.shoulder_yaw == pytest.approx(one.shoulder_yaw, abs=1e-6)
    np.testing.assert_allclose(other.feet * (-1, 1), one.feet, atol=1e-9)
    np.testing.assert_allclose(other.hips * (-1, 1), one.hips, atol=1e-9)
    np.testing.assert_allclose(other.knee_flexion, one.knee_flexion, atol=1e-6)
    np.testing.assert_allclose(
        other.line_covariance * [[1, -1], [-1, 1]], one.line_covariance, atol=1e-12
    )


@settings(max_examples=25)
@given(st.floats(-180, 180), st.floats(-1.5, 1.5), st.floats(-2.0, 2.0))
def test_turning_the_court_under_player_and_camera_turns_the_answer(
    turn: float, dx: float, dy: float
) -> None:
    camera = behind_camera()
    observation = observation_of(camera, (0.5, -4.0), -25.0)
    angle = np.radians(turn)
    rotation = np.array(
        [[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1.0]]
    )
    # New court coordinates X' = rotation X + shift; the picture stays the same.
    shift = np.array([dx, dy, 0.0])
    moved = Camera(
        camera.matrix,
        camera.rotation @ rotation.T,
        camera.translation - camera.rotation @ rotation.T @ shift,
        camera.image_size,
    )
    one, other = estimate(camera, observation, "right"), estimate(moved, observation, "right")
    assert one is not None and other is not None
    difference = (other.hip_yaw - one.hip_yaw - turn + 180) % 360 - 180
    assert difference == pytest.approx(0.0, abs=1e-6)
    np.testing.assert_allclose(other.feet, one.feet @ rotation[:2, :2].T + shift[:2], atol=1e-8)
    np.testing.assert_allclose(
        other.line_covariance,
        rotation[:2, :2] @ one.line_covariance @ rotation[:2, :2].T,
        atol=1e-10,
    )


def test_feet_above_the_horizon_give_no_estimate() -> None:
    camera = behind_camera()
    observation = observation_of(camera, (0.5, -4.0), 0.0)
    assert estimate(camera, observation.moved(0.0, -700.0), "right") is None


def test_errors_turn_the_short_way_round() -> None:
    true = np.zeros(len(TARGETS))
    true[[0, 2]] = -1.0
    predictions = true.copy()
    predictions[1] = -np.tan(np.radians(4.0))
    predictions[[4, 6]] = 0.02, 0.01
    errors = dict(zip(ERRORS, prediction_errors(predictions, true), strict=True))
    assert abs(errors["hips"]) == pytest.approx(4.0)
    assert errors["line across"] == pytest.approx(-0.01 * 256)
    assert errors["base across"] == pytest.approx(0.015 * 256)


@pytest.fixture(scope="module")
def sample() -> tuple[dict, Camera, list]:
    truth = json.loads((DATA / "rear_corner_drill.truth.json").read_text())
    camera = calibrate(
        read_court_file(DATA / "rear_corner_drill.court.json", tuple(truth["image_size"]))
    ).camera
    frames = [(p["start_frame"] + p["end_frame"]) // 2 for p in truth["ready_positions"]]
    return truth, camera, list(read_frames_at(DATA / "rear_corner_drill.mp4", frames))


def test_the_drills_hips_and_feet_are_read(sample: tuple[dict, Camera, list]) -> None:
    truth, camera, frames = sample
    reader = OrientationNetwork()
    hips, feet = [], []
    with Landmarker("full") as landmarker:
        for frame in frames:
            joints = np.array(truth["joints"][frame.index])
            pixels = project(camera, joints)
            low, high = pixels.min(axis=0), pixels.max(axis=0)
            side = 1.5 * float((high - low).max())
            x, y = (low + high) / 2 - side / 2
            pose = landmarker.detect(frame.image, Box(x, y, side))
            assert pose is not None
            observation = observe(reader, frame.image, pose, camera)
            assert observation is not None
            found = estimate(camera, observation, "right")
            assert found is not None
            left, right = (joints[JOINT_NAMES.index(f"{s}_hip"), :2] for s in ("left", "right"))
            hips.append(found.hip_yaw - np.degrees(np.arctan2(*(right - left)[::-1])))
            true = [
                (
                    joints[JOINT_NAMES.index(f"{s}_heel"), :2]
                    + joints[JOINT_NAMES.index(f"{s}_toe"), :2]
                )
                / 2
                for s in ("right", "left")
            ]
            feet.append(np.linalg.norm(found.feet.mean(axis=1) - true, axis=-1))
    # Test split: 6.0 degrees and about 1 cm (docs/accuracy.md); one body, eight stances.
    assert np.abs(hips).mean() < 8.0
    assert np.mean(feet) < 0.06


def test_a_damaged_network_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    content = (models_folder() / "orientation.json").read_text()
    assert len(network_checksum(FACTORS_FILE)) == 64
    (tmp_path / "orientation.json").write_text(content)
    monkeypatch.setattr(model_files, "models_folder", lambda: tmp_path)
    with pytest.raises(StanceError, match="missing"):
        OrientationNetwork()
    (tmp_path / "orientation.onnx").write_bytes(b"damaged")
    with pytest.raises(StanceError, match="damaged"):
        OrientationNetwork()
