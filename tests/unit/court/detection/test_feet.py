"""Where in the picture feet move."""

import cv2
import numpy as np
import pytest

from stance.court.detection.feet import find_moving_feet
from tests.unit.court.detection.pictures import BADMINTON, CORNER, GREEN, WHITE, drawn


def test_people_who_move_are_seen_by_their_feet():
    background = drawn(CORNER, [(BADMINTON, WHITE)], GREEN)
    picture = background.copy()
    cv2.ellipse(picture, (500, 380), (30, 100), 0, 0, 360, (30, 30, 160), -1)
    feet = find_moving_feet([picture], background)
    assert feet == pytest.approx(np.array([[500.0, 480.0]]), abs=6)
    assert find_moving_feet([background], background).shape == (0, 2)
