"""What a calibration adds on the floor, and layouts too weak to measure with."""

import numpy as np
import pytest

from stance.court.calibration import calibrate
from stance.court.floor_error import FloorError, floor_direction_error
from stance.errors import InputError
from tests.unit.court.cameras import NEAR_HALF, REAR_CORNER, SIX, VIEWS, marked_by


@pytest.mark.parametrize("view", VIEWS)
def test_a_whole_half_carries_the_direction(view):
    # Measured before: 2 px of noise on all crossings of the near half add 0.2 to 0.6 degrees.
    errors = []
    for seed in range(3):
        marked = marked_by(VIEWS[view], NEAR_HALF, noise=2.0, seed=seed)
        camera = calibrate(marked).camera
        errors.append(floor_direction_error(camera, (0.0, -4.0)))
    assert 0.15 < np.mean([error.direction_deg for error in errors]) < 0.8
    assert max(error.position_m for error in errors) < 0.06


def test_an_exact_camera_adds_nothing_and_an_unseen_base_has_no_error():
    assert floor_direction_error(REAR_CORNER, (0, -4)) == FloorError(0.0, 0.0)
    camera = calibrate(marked_by(REAR_CORNER, NEAR_HALF)).camera
    assert np.isnan(floor_direction_error(camera, (4.2, -13.5)).direction_deg)


def test_four_crossings_that_cannot_carry_the_measures_are_refused():
    tramline_corner = [[3.03, -6.68], [2.57, -6.68], [2.57, -5.92], [3.03, -5.92]]
    for seed in range(5):
        marked = marked_by(REAR_CORNER, tramline_corner, noise=0.5, seed=seed)
        with pytest.raises(InputError, match="cannot carry the measures|do not fit together"):
            calibrate(marked)
    with pytest.raises(InputError, match="as far apart as the picture shows"):
        calibrate(marked_by(REAR_CORNER, tramline_corner))


def test_four_well_spread_corners_are_enough():
    found = calibrate(marked_by(REAR_CORNER, SIX[:4], noise=1.0))
    assert floor_direction_error(found.camera, (0, -4)).direction_deg < 3
