"""Where a pose stands on the floor: feet, base and scale."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import Camera, depth, project
from stance.people.floor import (
    HEEL_HEIGHT,
    TOE_HEIGHT,
    base_on_floor,
    feet_on_floor,
    metres_per_pixel,
)
from stance.people.landmarks import LEFT_HEEL, LEFT_TOE, RIGHT_HEEL, RIGHT_TOE
from tests.unit.figures import behind_camera


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


def test_size_of_a_pixel_is_depth_over_focal_length() -> None:
    camera = behind_camera()
    heels = np.array([[-0.4, -5.0], [0.3, -5.0]])
    pixels = pose_of_feet(camera, heels, heels)
    expected = depth(camera, np.array([-0.05, -5.0, 0.0])) / 1000.0
    assert metres_per_pixel(camera, pixels[None])[0] == pytest.approx(expected)
