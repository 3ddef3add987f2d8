"""Pictures: what is drawn lies where it should, and nothing trips on the unknown."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import project
from stance.reports.overlay_words import Tag
from stance.reports.palette import AMBER, SKY, class_colours
from stance.reports.pictures import (
    court_picture,
    draw_state,
    draw_tags,
    jpeg,
    key_picture,
    moment_picture,
)
from tests.unit.reports.scenes import invented_scene
from tests.unit.results.invented import UNKNOWN, invented_position

UNSEEN = np.full((33, 2), np.nan)


def test_the_key_picture_shows_the_player_at_least_480_pixels_high():
    position = invented_position()
    image, landmarks, camera = invented_scene(position)
    picture = key_picture(image, landmarks, position, camera, "right")
    assert picture.dtype == np.uint8 and picture.shape[2] == 3
    assert 480 <= picture.shape[0] <= 720
    for size in (0.2, 3.0):
        resized = cv2.resize(image, None, fx=size, fy=size)
        zoomed = replace(camera, matrix=np.diag([size, size, 1.0]) @ camera.matrix)
        picture = key_picture(resized, landmarks * size, position, zoomed, "right")
        assert 480 <= picture.shape[0] <= 720


def test_overlay_lines_lie_on_feet_and_hips():
    position = invented_position(lead_deg=-35.0, hip_deg=-20.0)
    image, landmarks, camera = invented_scene(position)
    picture = image.copy()
    draw_state(picture, landmarks, position, camera, "right")
    middles = [np.mean([foot.heel_m, foot.toe_m], axis=0) for foot in position.feet]
    feet = project(camera, [[*middle, 0.0] for middle in middles])
    for part in (0.0, 0.3, 0.5, 0.7):
        x, y = (feet[0] + part * (feet[1] - feet[0])).astype(int)
        assert tuple(picture[y, x]) == AMBER
    x, y = landmarks[[23, 24]].mean(axis=0).astype(int)
    assert tuple(picture[y, x]) == SKY


def test_the_frame_itself_stays_as_it_is():
    position = invented_position()
    image, landmarks, camera = invented_scene(position)
    before = image.copy()
    key_picture(image, landmarks, position, camera, "right")
    assert (image == before).all()


def test_between_ready_positions_no_measures_show():
    image, landmarks, camera = invented_scene(invented_position())
    draw_state(image, landmarks, None, camera, "right")
    assert not (image == AMBER).all(axis=2).any()


@pytest.mark.parametrize("place", [(1.5, -4.2), (-4.2, -30.0), (math.nan, math.nan)])
def test_unknown_landmarks_and_places_are_left_out(place):
    position = replace(UNKNOWN, base_m=place)
    image, landmarks, camera = invented_scene(invented_position())
    for seen in (UNSEEN, np.where(np.arange(33)[:, None] == 24, np.nan, landmarks)):
        picture = key_picture(image, seen, position, camera, "left")
        assert picture.shape[0] >= 480
        draw_state(image.copy(), seen, position, camera, "left")


@given(st.floats(-400, 1700), st.floats(-400, 1100), st.floats(0.02, 2.0))
def test_a_player_anywhere_gives_a_picture(x, y, size):
    position = invented_position()
    image, landmarks, camera = invented_scene(position)
    moved = (landmarks - np.nanmean(landmarks, axis=0)) * size + [x, y]
    picture = key_picture(image, moved, position, camera, "right")
    assert 480 <= picture.shape[0] <= 720 and picture.shape[1] >= 40


def test_a_moment_shows_the_skeleton_and_no_measures():
    image, landmarks, _ = invented_scene(invented_position())
    picture = moment_picture(image, landmarks, "right")
    assert 360 <= picture.shape[0] <= 480
    assert not (picture == AMBER).all(axis=2).any() and not (picture == SKY).all(axis=2).any()
    nowhere = moment_picture(image, np.full((33, 2), np.nan), "right")
    assert nowhere.shape[1] / nowhere.shape[0] == pytest.approx(1280 / 720, abs=0.01)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_no_label_lies_on_the_feet_or_on_another_players_label(hand):
    position = invented_position()
    image, landmarks, camera = invented_scene(position, hand)
    picture = image.copy()
    one = draw_state(picture, landmarks, position, camera, hand)
    two = draw_state(picture, landmarks, position, camera, hand, one)
    boxes = [*one, *two]
    assert len(one) == len(two) == 3
    assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])
    middles = [np.mean([foot.heel_m, foot.toe_m], axis=0) for foot in position.feet]
    x, y = project(camera, [[*middle, 0.0] for middle in middles]).mean(axis=0).astype(int)
    assert not any(b.left <= x < b.right and b.top <= y < b.bottom for b in boxes)


def test_tags_stand_above_the_players_head_one_above_the_other():
    image, landmarks, _ = invented_scene(invented_position())
    picture = image.copy()
    tags = [Tag("square", "A: set, square"), Tag("theirs", "their contact")]
    lower, upper = draw_tags(picture, landmarks, tags)
    assert upper.bottom < lower.top and lower.bottom < np.nanmin(landmarks[:, 1])
    fill, _ink = class_colours("square")
    assert (picture[lower.top + 3, lower.left + 3 : lower.right - 3] == fill).all()
    assert (picture[upper.top + 3, upper.left + 3] != fill).any()
    same = image.copy()
    assert draw_tags(same, np.full((33, 2), np.nan), tags) == []
    assert draw_tags(same, landmarks, []) == [] and (same == image).all()


def test_tags_of_two_players_who_stand_together_do_not_cover_each_other():
    image, landmarks, _ = invented_scene(invented_position())
    one = draw_tags(image, landmarks, [Tag("square", "Mia: set, square"), Tag("own", "own")])
    two = draw_tags(image, landmarks + [20, 5], [Tag("name", "Ann"), Tag("own", "own")], one)
    boxes = [*one, *two]
    assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_a_jpeg_keeps_to_its_size_where_it_can():
    noise = np.random.default_rng(1).integers(0, 256, (600, 500, 3), dtype=np.uint8)
    small = jpeg(noise, 60_000)
    assert small[:2] == b"\xff\xd8" and len(small) <= 60_000
    assert len(jpeg(noise, 1)) > 1
    red = np.full((64, 64, 3), (200, 10, 10), np.uint8)
    back = cv2.imdecode(np.frombuffer(jpeg(red, 10_000), np.uint8), cv2.IMREAD_COLOR)
    assert back[32, 32, 2] > 180 and back[32, 32, 0] < 40


def test_a_court_lies_on_the_picture_where_its_lines_are():
    background = np.full((720, 1280, 3), 90, np.uint8)
    line, net = (
        np.array([[100.0, 300.0], [500.0, 300.0]]),
        np.array([[50.0, 150.0], [600.0, 150.0]]),
    )
    picture = court_picture(background, [line], [net], np.array([[320.0, 250.0]]), ("court",))
    assert tuple(picture[300, 300]) == SKY
    assert (picture[250, 310:330] == AMBER).all(axis=1).any()
    assert (background == 90).all()
