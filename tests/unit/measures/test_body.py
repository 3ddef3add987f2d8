"""Geometry of poses: hand-worked cases, and mirror, turn and scale properties."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, depth, project
from stance.measures.body import line_yaw, world_in_court
from stance.people.floor import (
    HEEL_HEIGHT,
    TOE_HEIGHT,
    base_on_floor,
    feet_on_floor,
    metres_per_pixel,
)
from stance.people.landmarks import (
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_TOE,
    MIRRORED,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_TOE,
)
from tests.unit.figures import behind_camera


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


def pose_of_feet(camera: Camera, heels: np.ndarray, toes: np.ndarray) -> np.ndarray:
    """(33, 2) pixels with left and right heel and toe where they would show."""
    pixels = np.zeros((33, 2))
    pixels[[LEFT_HEEL, RIGHT_HEEL]] = project(camera, np.column_stack([heels, [HEEL_HEIGHT] * 2]))
    pixels[[LEFT_TOE, RIGHT_TOE]] = project(camera, np.column_stack([toes, [TOE_HEIGHT] * 2]))
    return pixels


def test_feet_come_back_from_their_pixels() -> None:
    camera = behind_camera()
    heels = np.array([[-0.4, -5.0], [0.3, -5.3]])
    toes = heels + [[-0.05, 0.25], [0.08, 0.24]]
    feet = feet_on_floor(camera, pose_of_feet(camera, heels, toes), "right")
    np.testing.assert_allclose(feet[0], [heels[1], toes[1]], atol=1e-9)
    np.testing.assert_allclose(feet[1], [heels[0], toes[0]], atol=1e-9)
    np.testing.assert_allclose(
        base_on_floor(camera, pose_of_feet(camera, heels, toes)),
        (heels + toes).mean(axis=0) / 2,
        atol=1e-9,
    )


@given(st.floats(0.3, 4.0))
def test_scaling_the_picture_leaves_the_feet(scale: float) -> None:
    camera = behind_camera()
    scaled = Camera(
        np.diag([scale, scale, 1.0]) @ camera.matrix,
        camera.rotation,
        camera.translation,
        (1280, 720),
    )
    pixels = pose_of_feet(
        camera, np.array([[-0.4, -5.0], [0.3, -5.3]]), np.array([[-0.4, -4.8], [0.3, -5.0]])
    )
    np.testing.assert_allclose(
        feet_on_floor(scaled, pixels * scale, "left"),
        feet_on_floor(camera, pixels, "left"),
        atol=1e-9,
    )


@given(st.floats(-180, 180), st.floats(-40, 40), st.integers(0, 2**31))
def test_world_landmarks_turn_with_the_camera_as_scipy_turns_them(
    yaw: float, pitch: float, seed: int
) -> None:
    # Reference: scipy.spatial.transform.Rotation. A person seen in the middle of the picture.
    world = np.random.default_rng(seed).normal(size=(33, 3))
    turn = Rotation.from_euler("zx", [yaw, pitch], degrees=True)
    level = behind_camera()
    camera = Camera(
        level.matrix, level.rotation @ turn.as_matrix().T, level.translation, level.image_size
    )
    pixels = np.full((33, 2), (640.0, 360.0))
    np.testing.assert_allclose(
        world_in_court(camera, pixels, world), turn.apply(world @ level.rotation), atol=1e-9
    )


def test_world_landmarks_off_the_middle_are_turned_by_the_viewing_ray() -> None:
    # 45 degrees right of the middle: what the model sees straight ahead lies to the right.
    camera = behind_camera()
    pixels = np.full((33, 2), (640.0 + 1000.0, 360.0))
    ahead = np.zeros((33, 3))
    ahead[:, 2] = 1.0
    expected = np.array([np.sqrt(0.5), np.sqrt(0.5), 0.0])
    np.testing.assert_allclose(world_in_court(camera, pixels, ahead)[0], expected, atol=1e-9)


def test_size_of_a_pixel_is_depth_over_focal_length() -> None:
    camera = behind_camera()
    heels = np.array([[-0.4, -5.0], [0.3, -5.0]])
    pixels = pose_of_feet(camera, heels, heels)
    expected = depth(camera, np.array([-0.05, -5.0, 0.0])) / 1000.0
    assert metres_per_pixel(camera, pixels[None])[0] == pytest.approx(expected)


def test_mirroring_landmarks_twice_changes_nothing() -> None:
    np.testing.assert_array_equal(MIRRORED[MIRRORED], np.arange(33))
    assert MIRRORED[LEFT_HIP] == RIGHT_HIP
