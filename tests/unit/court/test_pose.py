"""The camera from points: poses of a homography, steps between cameras, the prior."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import projection_parameter_jacobian
from stance.court.pose import (
    DISTORTION_SPREAD,
    FOCAL_SPREAD,
    USUAL_FOCAL,
    camera_matrix,
    derive_cameras,
    estimate_covariance,
    find_step,
    focal_misfit,
    move_camera,
)
from tests.unit.court.cameras import (
    NEAR_HALF,
    REAR_CORNER,
    SIX,
    SIZE,
    VIEWS,
    camera_at,
    on_floor,
)


def homography_of(camera):
    columns = [camera.rotation[:, 0], camera.rotation[:, 1], camera.translation]
    return camera.matrix @ np.column_stack(columns)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("scale", [1.0, -2.5])
def test_the_right_focal_length_gives_the_pose_of_a_homography(view, scale):
    camera = VIEWS[view]
    focal = camera.matrix[0, 0]
    found, other = derive_cameras(
        scale * homography_of(camera), [focal, 2 * focal], NEAR_HALF, SIZE
    )
    np.testing.assert_allclose(found.rotation, camera.rotation, atol=1e-9)
    np.testing.assert_allclose(found.translation, camera.translation, atol=1e-9)
    np.testing.assert_allclose(found.matrix, camera.matrix)
    assert np.linalg.det(other.rotation) == pytest.approx(1.0)
    assert np.abs(other.translation - camera.translation).max() > 0.1


@given(st.lists(st.floats(-0.3, 0.3), min_size=8, max_size=8))
def test_a_step_leads_to_the_camera_from_which_it_is_found_again(step):
    moved = move_camera(REAR_CORNER, np.array(step))
    np.testing.assert_allclose(find_step(REAR_CORNER, moved), step, atol=1e-9)


def test_the_prior_counts_focal_lengths_in_its_own_spread():
    usual = camera_at([0, -10, 1.5], 0, 5, focal=USUAL_FOCAL * SIZE[0])
    longer = camera_at([0, -10, 1.5], 0, 5, focal=USUAL_FOCAL * SIZE[0] * np.exp(2 * FOCAL_SPREAD))
    assert focal_misfit(usual) == pytest.approx(0.0, abs=1e-12)
    assert focal_misfit(longer) == pytest.approx(2.0)


def test_a_portrait_pictures_principal_point_is_its_middle():
    np.testing.assert_allclose(
        camera_matrix(900.0, (720, 1280)), [[900, 0, 360], [0, 900, 640], [0, 0, 1]]
    )


def test_the_covariance_is_the_inverse_of_what_points_and_prior_tell():
    by_camera = projection_parameter_jacobian(REAR_CORNER, on_floor(SIX)).reshape(-1, 8)
    inverse = np.linalg.inv(estimate_covariance(REAR_CORNER, SIX, 2.0))
    expected = by_camera.T @ by_camera / 4.0 + np.diag(
        [FOCAL_SPREAD**-2, 0, 0, 0, 0, 0, 0, DISTORTION_SPREAD**-2]
    )
    np.testing.assert_allclose(inverse, expected, rtol=1e-6, atol=1e-3)
