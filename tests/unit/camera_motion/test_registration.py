"""Pictures are registered on a reference picture."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.camera_motion.registration import (
    ViewRegistrar,
    apply_homography,
    mean_displacement,
    picture_grid,
)
from stance.video.reader import read_frames
from tests.unit.camera_motion.halls import hall, write


@given(st.lists(st.floats(-0.2, 0.2), min_size=8, max_size=8), st.integers(1, 6))
def test_pixels_are_mapped_as_opencv_maps_them(entries, count):
    homography = np.append(np.array(entries) * ([1, 1, 50, 1, 1, 50, 1e-3, 1e-3]), 0.0)
    homography = homography.reshape(3, 3) + np.eye(3)
    pixels = np.random.default_rng(count).uniform(0, 1000, (count, 2))
    expected = cv2.perspectiveTransform(pixels[:, None], homography)[:, 0]
    np.testing.assert_allclose(apply_homography(homography, pixels), expected, rtol=1e-9)


def test_a_shift_displaces_all_pixels_by_its_length():
    shift = np.array([[1.0, 0.0, 3.0], [0.0, 1.0, -4.0], [0.0, 0.0, 1.0]])
    assert mean_displacement(shift, picture_grid((640, 360))) == pytest.approx(5.0)


def test_of_a_view_lost_for_a_moment_the_gap_is_filled_and_a_lost_end_left_out(tmp_path):
    covered = np.full((360, 640, 3), 30, np.uint8)
    pictures = [hall()] * 10 + [covered] * 5 + [hall()] * 10 + [covered] * 5
    clip, size = write(tmp_path / "clip.mp4", pictures)
    registrar = ViewRegistrar(size, (3,))
    seen = [registrar.register(frame).from_reference is not None for frame in read_frames(clip)]
    assert seen == [True] * 10 + [False] * 5 + [True] * 10 + [False] * 5
    ((view,),) = registrar.views()
    assert [registration.frame for registration in view] == list(range(25))
    assert all(registration.from_reference is not None for registration in view)
