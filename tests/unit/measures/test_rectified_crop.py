"""Portraits: level, straight at the player, the same rays as the picture."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from stance.court.camera import Camera, camera_centre, project, viewing_ray
from stance.measures.rectified_crop import (
    RECTIFIED_FACTOR,
    RECTIFIED_PIXELS,
    rectified_camera,
    rectified_crop,
)
from tests.unit.figures import behind_camera, figure


def rolled(camera: Camera, degrees: float) -> Camera:
    """The camera turned about its viewing axis."""
    turn = Rotation.from_rotvec([0.0, 0.0, degrees], degrees=True).as_matrix()
    return Camera(
        camera.matrix, turn @ camera.rotation, turn @ camera.translation, camera.image_size
    )


@settings(max_examples=25)
@given(st.floats(-2.0, 2.0), st.floats(-6.0, -2.5), st.floats(-8.0, 8.0))
def test_a_rectified_camera_is_level_and_holds_the_player(x: float, y: float, roll: float) -> None:
    camera = rolled(behind_camera(), roll)
    joints = figure((x, y))
    taker = rectified_camera(camera, project(camera, joints))
    np.testing.assert_allclose(taker.rotation @ taker.rotation.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(taker.rotation) == pytest.approx(1.0)
    assert taker.rotation[0, 2] == pytest.approx(0.0, abs=1e-12)
    np.testing.assert_allclose(camera_centre(taker), camera_centre(camera), atol=1e-9)
    shown = project(taker, joints)
    span = np.ptp(shown, axis=0).max()
    assert span == pytest.approx(RECTIFIED_PIXELS / RECTIFIED_FACTOR)
    np.testing.assert_allclose((shown.min(axis=0) + shown.max(axis=0)) / 2, RECTIFIED_PIXELS / 2)


@settings(max_examples=20)
@given(st.floats(-6.0, 6.0))
def test_the_phones_roll_does_not_change_the_rectified_camera_much(roll: float) -> None:
    joints = figure((1.0, -4.0))
    camera = behind_camera()
    one = rectified_camera(camera, project(camera, joints))
    other = rectified_camera(rolled(camera, roll), project(rolled(camera, roll), joints))
    # What is straight at the player is judged from the box in the picture, which rolls along.
    angle = np.degrees(np.arccos(np.clip(one.rotation[2] @ other.rotation[2], -1, 1)))
    assert angle < 1.0


@pytest.mark.parametrize("zoom", [0.4, 1.0, 3.0])
def test_a_point_shows_in_the_rectified_crop_where_its_camera_says(zoom: float) -> None:
    camera = behind_camera()
    camera = Camera(
        np.diag([zoom, zoom, 1.0]) @ camera.matrix,
        camera.rotation,
        camera.translation,
        (round(1280 * zoom), round(720 * zoom)),
    )
    joints = figure((0.8, -4.0))
    taker = rectified_camera(camera, project(camera, joints))
    point = joints.mean(axis=0)
    image = np.zeros((round(720 * zoom), round(1280 * zoom), 3), np.uint8)
    place = project(camera, point)
    radius = max(3, round(8 * zoom))
    cv2.circle(image, tuple(int(np.floor(v)) for v in place), radius, (255, 255, 255), -1)
    picture = rectified_crop(image, camera, taker)[..., 0].astype(float)
    y, x = np.mgrid[:RECTIFIED_PIXELS, :RECTIFIED_PIXELS] + 0.5
    found = np.array([(picture * x).sum(), (picture * y).sum()]) / picture.sum()
    # The circle is drawn on whole pixels of the picture.
    tolerance = 0.75 * taker.matrix[0, 0] / camera.matrix[0, 0] + 0.2
    np.testing.assert_allclose(found, project(taker, point), atol=tolerance)


def test_a_bent_picture_gives_the_same_rectified_crop_as_a_straight_one() -> None:
    straight = behind_camera()
    bent = replace(straight, distortion=-0.3)
    # Low to the left, where the lens bends most.
    joints = figure((-1.6, -4.0))
    crops = []
    for camera in (straight, bent):
        rows, columns = np.mgrid[:720, :1280] + 0.5
        rays = viewing_ray(camera, np.stack([columns, rows], axis=-1))
        waves = 127.5 + 127.5 * np.sin(60.0 * rays)
        taker = rectified_camera(straight, project(straight, joints))
        crops.append(rectified_crop(waves.astype(np.uint8), camera, taker).astype(float))
    assert np.ptp(crops[0]) > 200.0
    shown = (crops[0] > 0).any(axis=-1) & (crops[1] > 0).any(axis=-1)
    assert shown.mean() > 0.5
    assert np.abs(crops[0] - crops[1])[shown].mean() < 2.0


def test_outside_the_picture_is_black() -> None:
    camera = behind_camera()
    joints = figure((0.0, -4.0))
    pixels = project(camera, joints)
    # A picture that ends in the middle of the player.
    image = np.full((720, int(pixels[:, 0].mean()), 3), 200, np.uint8)
    picture = rectified_crop(image, camera, rectified_camera(camera, pixels))
    assert (picture[:, -40:] == 0).all()
    assert (picture[60:100, 60:90] == 200).all()
