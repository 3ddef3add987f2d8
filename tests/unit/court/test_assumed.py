"""The camera that is assumed where no court is known."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from stance.court.assumed import assumed_camera
from stance.court.camera import camera_centre, floor_point, project
from stance.court.floor_error import floor_direction_error
from stance.types import FILMED_FROM
from tests.unit.court.cameras import SIZE

AZIMUTHS_DEG = {
    "behind": 0,
    "rear-left": -45,
    "rear-right": 45,
    "left": -90,
    "right": 90,
    "front-left": -135,
    "front-right": 135,
    "front": 180,
}


@pytest.mark.parametrize("filmed_from", FILMED_FROM)
def test_the_assumed_camera_sees_the_player_where_he_is(filmed_from):
    feet, head = [740.0, 610.0], [735.0, 300.0]
    found = assumed_camera(feet, head, SIZE, filmed_from)
    camera = found.camera
    assert found.source == "assumed" and found.error_px is None
    assert camera_centre(camera)[2] == pytest.approx(1.5)
    base = floor_point(camera, feet)
    assert base[1] == pytest.approx(-4.0)
    top = project(camera, base + [0, 0, 1.70])
    assert top[1] == pytest.approx(head[1])
    Rotation.from_matrix(camera.rotation)
    assert np.linalg.det(camera.rotation) == pytest.approx(1)


@pytest.mark.parametrize(("filmed_from", "azimuth_deg"), AZIMUTHS_DEG.items())
def test_the_phone_stands_where_it_is_said_to_seen_from_the_player(filmed_from, azimuth_deg):
    camera = assumed_camera([SIZE[0] / 2, 610.0], [SIZE[0] / 2, 300.0], SIZE, filmed_from).camera
    base = floor_point(camera, [SIZE[0] / 2, 610.0])
    right, ahead = (camera_centre(camera) - base)[:2]
    # From straight behind the player, who looks along y to the net, towards the right.
    assert np.degrees(np.arctan2(right, -ahead)) % 360 == pytest.approx(azimuth_deg % 360)


@pytest.mark.parametrize("filmed_from", FILMED_FROM)
@pytest.mark.parametrize("feet", [(640, 600), (200, 500), (1000, 690)])
def test_the_assumed_cameras_errors_are_honestly_large(filmed_from, feet):
    camera = assumed_camera(feet, (feet[0], feet[1] - 250), SIZE, filmed_from).camera
    assert np.sqrt(camera.covariance[0, 0]) == pytest.approx(0.25)
    error = floor_direction_error(camera, floor_point(camera, feet)[:2])
    assert 20 < error.direction_deg < 27
    vertical = camera.rotation[:, 2]
    turn = np.degrees(np.sqrt(vertical @ camera.covariance[1:4, 1:4] @ vertical))
    assert turn >= 20 - 1e-6
    assert error.position_m == pytest.approx(1.0, abs=0.1)


def test_a_said_places_error_covers_its_sector_and_how_phones_are_placed():
    around = np.sort([azimuth % 360 for azimuth in AZIMUTHS_DEG.values()])
    sector = np.diff(np.append(around, around[0] + 360)).max()
    # Directions spread evenly to halfway to the next place: the sector's width over root 12.
    expected = np.hypot(sector / np.sqrt(12), 15)
    camera = assumed_camera([640, 600], [640, 350], SIZE, "front").camera
    vertical = camera.rotation[:, 2]
    turn = np.degrees(np.sqrt(vertical @ camera.covariance[1:4, 1:4] @ vertical))
    assert turn == pytest.approx(expected, abs=0.5)


def test_a_head_below_the_feet_is_a_mistake_of_the_caller():
    with pytest.raises(ValueError, match="above"):
        assumed_camera((640, 300), (640, 500), SIZE)
