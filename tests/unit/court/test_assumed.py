"""The camera that is assumed where no court is known."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from stance.court.assumed import assumed_camera
from stance.court.camera import camera_centre, floor_point, project
from stance.court.floor_error import floor_direction_error
from tests.unit.court.cameras import SIZE


@pytest.mark.parametrize("facing", ["away", "towards"])
def test_the_assumed_camera_sees_the_player_where_he_is(facing):
    feet, head = [740.0, 610.0], [735.0, 300.0]
    found = assumed_camera(feet, head, SIZE, facing)
    camera = found.camera
    assert found.source == "assumed" and found.error_px is None
    assert camera_centre(camera)[2] == pytest.approx(1.5)
    base = floor_point(camera, feet)
    assert base[1] == pytest.approx(-4.0)
    top = project(camera, base + [0, 0, 1.70])
    assert top[1] == pytest.approx(head[1])
    along_net = project(camera, base + [0.5, 0, 0]) - feet
    assert along_net[1] == pytest.approx(0, abs=1e-9)
    assert (along_net[0] > 0) == (facing == "away")
    Rotation.from_matrix(camera.rotation)
    assert np.linalg.det(camera.rotation) == pytest.approx(1)


@pytest.mark.parametrize("facing", ["away", "towards"])
@pytest.mark.parametrize("feet", [(640, 600), (200, 500), (1000, 690)])
def test_the_assumed_cameras_errors_are_honestly_large(facing, feet):
    camera = assumed_camera(feet, (feet[0], feet[1] - 250), SIZE, facing).camera
    assert np.sqrt(camera.covariance[0, 0]) == pytest.approx(0.25)
    error = floor_direction_error(camera, floor_point(camera, feet)[:2])
    assert 10 < error.direction_deg < 25
    assert error.position_m == pytest.approx(1.0, abs=0.1)


def test_a_head_below_the_feet_is_a_mistake_of_the_caller():
    with pytest.raises(ValueError, match="above"):
        assumed_camera((640, 300), (640, 500), SIZE)
