"""Court files are spoilt as they say."""

import json

import cv2
import numpy as np
import pytest

from stance.court.calibration import calibrate
from stance.court.court_file import MarkedCourt
from stance.court.detection.turning import measure_turn
from tests.evaluation.court_conditions import draw_roll, draw_shift, move_marks, resize_marks
from tests.paths import DATA

COURT = json.loads((DATA / "rear_corner_drill.court.json").read_text())
SIZE = tuple(COURT["image_size"])


def pixels(court):
    return np.array([point["pixel"] for point in court["points"]])


@pytest.mark.parametrize("draw", [draw_shift, draw_roll])
def test_the_marks_of_a_moved_phone_are_brought_back_by_its_move(draw):
    for seed in range(20):
        shift = draw(np.random.default_rng(seed), SIZE)
        moved = move_marks(COURT, shift)
        kept = [point["court"] for point in moved["points"]]
        own = [p["pixel"] for p in COURT["points"] if p["court"] in kept]
        back = cv2.transform(pixels(moved)[None], shift)[0]
        np.testing.assert_allclose(back, own, atol=1e-6)
        assert (pixels(moved) >= 0).all() and (pixels(moved) <= SIZE).all()


def test_a_roll_of_one_degree_turns_the_net():
    def camera(court):
        places = np.array([point["court"] for point in court["points"]])
        return calibrate(MarkedCourt(SIZE, places, pixels(court))).camera

    moved = move_marks(COURT, draw_roll(np.random.default_rng(0), SIZE))
    assert 0.3 < measure_turn(camera(moved), camera(COURT)) < 8.0


def test_a_court_file_of_another_size_has_its_marks_where_they_were():
    larger = resize_marks(COURT, (2 * SIZE[0], 2 * SIZE[1]))
    assert larger["image_size"] == [2 * SIZE[0], 2 * SIZE[1]]
    np.testing.assert_allclose(pixels(larger), 2 * pixels(COURT))
