"""Cameras fitted back from their own homography, stripes and edges."""

from dataclasses import replace

import numpy as np
import pytest

from stance.court.camera import Camera, camera_centre, project
from stance.court.detection.fitting import (
    fit_to_edges,
    fit_to_homography,
    fit_to_stripes,
    normal_jacobian,
)
from stance.court.pose import move_camera
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    CORNER,
    GREEN,
    SIDE,
    SIZE,
    STAND,
    WHITE,
    drawn,
    floor_errors,
    homography_of,
    lab,
    pixels_of,
    stripes_of,
)

# Log focal length, turn in radians, shift in metres: some ten pixels in the picture.
STEP = np.array([0.02, 0.004, -0.003, 0.002, 0.05, -0.03, 0.1, 0.0])


def apart_px(first, second):
    """The largest distance, pixels, between two cameras' views of the near half."""
    places = np.array([[x, y] for x in (-3.0, 0.0, 3.0) for y in (-6.0, -4.0, -2.0)])
    return np.linalg.norm(pixels_of(first, places) - pixels_of(second, places), axis=1).max()


@pytest.mark.parametrize("camera", [BEHIND, CORNER, SIDE])
def test_a_camera_nearby_is_drawn_to_the_homography(camera):
    start = move_camera(camera, STEP)
    assert apart_px(start, camera) > 5
    assert apart_px(fit_to_homography(start, homography_of(camera)), camera) < 0.05


@pytest.mark.parametrize("camera", [BEHIND, CORNER])
def test_a_camera_some_pixels_off_is_drawn_to_the_stripes(camera):
    start = move_camera(camera, 0.5 * STEP)
    assert apart_px(start, camera) > 2.5
    found = fit_to_stripes(start, stripes_of(camera))
    assert apart_px(found, camera) < 0.5


def test_without_stripes_nearby_nothing_is_fitted():
    far = replace(BEHIND, translation=BEHIND.translation + [0.0, 3.0, 0.0])
    assert fit_to_stripes(far, stripes_of(BEHIND).select(np.arange(2))) is None


@pytest.mark.parametrize("distortion", [0.0, -0.05])
def test_a_camera_is_fitted_back_from_its_own_edges_with_its_lens(distortion):
    light = lab(drawn(CORNER, [(BADMINTON, WHITE)], GREEN, distortion))[..., 0]
    start = replace(move_camera(CORNER, 0.3 * STEP), distortion=distortion / 2)
    found = fit_to_edges(start, np.ascontiguousarray(light), 2.5)
    assert found.camera.distortion == pytest.approx(distortion, abs=0.01)
    assert floor_errors(CORNER, found.camera, distortion).max() < 0.05
    offset = found.edges.offset[np.isfinite(found.edges.offset)]
    assert np.median(np.abs(offset)) < 0.3


@pytest.mark.parametrize("distortion", [-0.4, 0.43])
def test_a_long_lens_may_have_more_distortion_than_a_phones(distortion):
    light = lab(drawn(STAND, [(BADMINTON, WHITE)], GREEN, distortion))[..., 0]
    found = fit_to_edges(STAND, np.ascontiguousarray(light), 2.5)
    # What is held for a phone's lens would stop it at 0.2; the prior draws it there from farther.
    assert found.camera.distortion == pytest.approx(distortion, rel=0.35)
    assert floor_errors(STAND, found.camera, distortion).max() < 0.05


def test_a_bend_that_no_lens_has_is_given_up():
    bent = replace(STAND, distortion=0.75)
    light = lab(drawn(STAND, [(BADMINTON, WHITE)], GREEN, 0.75))[..., 0]
    assert fit_to_edges(bent, np.ascontiguousarray(light), 2.5) is None


def test_a_picture_without_lines_fits_no_camera():
    blank = np.full((SIZE[1], SIZE[0]), 50.0, np.float32)
    assert fit_to_edges(BEHIND, blank, 2.5) is None


def test_a_camera_below_the_floor_is_given_up():
    light = np.ascontiguousarray(lab(drawn(BEHIND, [(BADMINTON, WHITE)], GREEN))[..., 0])
    low = Camera(BEHIND.matrix, BEHIND.rotation, -BEHIND.rotation @ [0.8, -11.5, 0.1], SIZE)
    assert camera_centre(low)[2] < 0.2
    assert fit_to_edges(low, light, 2.5) is None


def test_derivatives_along_normals_agree_with_finite_differences():
    bent = replace(CORNER, distortion=-0.04)
    points = np.array([[-2.0, -5.0, 0.0], [1.0, -2.0, 0.0]])
    normal = np.array([[0.6, 0.8], [-0.8, 0.6]])

    def along_normals(camera):
        return np.sum(normal * project(camera, points), axis=1)

    expected = [
        (along_normals(move_camera(bent, step)) - along_normals(move_camera(bent, -step))) / 2e-6
        for step in 1e-6 * np.eye(8)
    ]
    found = normal_jacobian(bent, points, normal)
    np.testing.assert_allclose(found, np.transpose(expected), rtol=1e-4, atol=1e-3)
