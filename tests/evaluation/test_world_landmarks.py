"""World landmarks in the court's axes, against SciPy's rotations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, viewing_ray
from tests.evaluation.world_landmarks import crop_rotation, world_in_court
from tests.unit.court.cameras import camera_at
from tests.unit.figures import behind_camera

REAR_CORNER = camera_at([4.2, -10.0, 1.6], 25.0, 6.0, 2.0)

cameras = st.builds(
    camera_at,
    st.tuples(st.floats(-6, 6), st.floats(-13, -8), st.floats(0.8, 4.0)),
    st.floats(-30, 30),
    st.floats(0, 25),
    st.floats(-5, 5),
    st.floats(700, 2000),
)


@given(cameras, st.tuples(st.floats(0, 1280), st.floats(0, 720)))
def test_crop_rotation_is_the_smallest_turn_to_the_pixel(camera, pixel):
    rotation = crop_rotation(camera, pixel)
    ray = viewing_ray(camera, pixel)
    np.testing.assert_allclose(rotation @ [0, 0, 1], ray, atol=1e-9)
    straight = camera.rotation[2]
    axis = np.cross(straight, ray)
    sine = np.linalg.norm(axis)
    angle = np.arctan2(sine, straight @ ray)
    turn = Rotation.from_rotvec(axis / max(sine, 1e-12) * angle).as_matrix()
    np.testing.assert_allclose(rotation, turn @ camera.rotation.T, atol=1e-7)
    Rotation.from_matrix(rotation)
    assert np.linalg.det(rotation) == pytest.approx(1)


def test_a_crop_in_the_middle_needs_no_turn():
    rotation = crop_rotation(REAR_CORNER, [640, 360])
    np.testing.assert_allclose(rotation, REAR_CORNER.rotation.T, atol=1e-12)


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
