"""A court agrees with the lines it lies on, and with no others."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from stance.court.camera import HALF_TURN
from stance.court.detection.agreement import AGREES, measure_agreement
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    BLUE,
    CORNER,
    FRONT,
    GREEN,
    SIDE,
    VOLLEYBALL,
    WHITE,
    WOOD,
    YELLOW,
    camera_at,
    drawn,
)

CAMERAS = [BEHIND, CORNER, SIDE, FRONT]


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize(("paint", "floor"), [(WHITE, GREEN), (YELLOW, WOOD), (BLUE, WOOD)])
def test_a_court_on_its_lines_agrees_whatever_their_colour(camera, paint, floor):
    picture = drawn(camera, [(BADMINTON, paint)], floor, distortion=-0.03, net=True)
    assert measure_agreement(camera, picture).agrees
    grown = np.diag([1.5, 1.5, 1.0]) @ camera.matrix
    larger = replace(camera, matrix=grown, image_size=(1920, 1080))
    assert measure_agreement(larger, cv2.resize(picture, (1920, 1080))).agrees


@pytest.mark.parametrize("camera", CAMERAS)
def test_the_half_that_is_called_near_makes_no_difference(camera):
    picture = drawn(camera, [(BADMINTON, WHITE)], GREEN)
    turned = replace(camera, rotation=camera.rotation @ HALF_TURN)
    seen, seen_turned = (measure_agreement(c, picture).seen for c in (camera, turned))
    assert seen == pytest.approx(seen_turned, abs=0.1)


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("floor", [GREEN, WOOD])
def test_another_clips_court_disagrees(camera, floor):
    layers = [(VOLLEYBALL, YELLOW), (BADMINTON, WHITE)]
    picture = drawn(camera, layers, floor, net=True)
    for other in CAMERAS:
        agreement = measure_agreement(other, picture)
        assert agreement.agrees == (other is camera)
        assert agreement.disagrees == (other is not camera)


@pytest.mark.parametrize("camera", CAMERAS)
@pytest.mark.parametrize("pan_deg", [-3.0, 3.0])
def test_a_phone_that_was_turned_disagrees(camera, pan_deg):
    turn = cv2.Rodrigues(np.radians([0.0, pan_deg, 0.0]))[0]
    before = replace(camera, rotation=turn @ camera.rotation, translation=turn @ camera.translation)
    agreement = measure_agreement(before, drawn(camera, [(BADMINTON, WHITE)], GREEN))
    assert agreement.disagrees and not agreement.agrees


def test_a_court_pushed_along_the_lines_of_one_way_does_not_agree():
    pushed = camera_at((0.8, -11.2, 2.4), (0.0, -2.2, 0.0), 900)
    agreement = measure_agreement(pushed, drawn(BEHIND, [(BADMINTON, WHITE)], GREEN))
    assert agreement.seen < AGREES


@pytest.mark.parametrize("camera", CAMERAS)
def test_where_no_lines_show_a_court_neither_agrees_nor_disagrees(camera):
    bare = drawn(camera, [], GREEN)
    dark = (drawn(camera, [(BADMINTON, WHITE)], GREEN) * 0.02).astype(np.uint8)
    for picture in (bare, dark):
        agreement = measure_agreement(camera, picture)
        assert not agreement.agrees and not agreement.disagrees
