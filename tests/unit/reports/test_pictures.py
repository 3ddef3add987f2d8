"""Pictures and charts: what is drawn lies where it should, and nothing trips on the unknown."""

import math
import re
from dataclasses import replace
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.court.camera import Camera, project
from stance.court.dimensions import court_lines
from stance.reports.court_map import court_map, spread_labels
from stance.reports.pictures import (
    jpeg,
    key_picture,
    overlay_picture,
)
from stance.reports.sentences import facing_words, overlay_caption
from stance.reports.stance_chart import view_from_above
from stance.reports.time_line import time_line
from tests.unit.results.invented import (
    UNKNOWN,
    invented_player,
    invented_position,
)

AMBER, SKY = (255, 176, 0), (110, 200, 255)
UNSEEN = np.full((33, 2), np.nan)


def corner_camera(size=(1280, 720), focal=1150.0) -> Camera:
    """A phone 3 m up behind the left rear corner that looks at the near half."""
    place, target = np.array([-4.2, -10.5, 3.0]), np.array([0.6, -4.0, 0.7])
    away = (target - place) / np.linalg.norm(target - place)
    right = np.cross(away, [0, 0, 1.0])
    right /= np.linalg.norm(right)
    rotation = np.array([right, np.cross(away, right), away])
    matrix = np.array([[focal, 0, size[0] / 2], [0, focal, size[1] / 2], [0, 0, 1.0]])
    return Camera(matrix, rotation, -rotation @ place, size)


def invented_landmarks(position, camera, hand="right"):
    """The 33 landmarks of a crouching figure that stands as the position says."""
    side = 1.0 if hand == "right" else -1.0
    base = np.array([*position.base_m, 0.0])

    def across(angle_deg, half):
        angle = math.radians(angle_deg)
        return half * np.array([side * math.cos(angle), math.sin(angle), 0.0])

    forward = np.array([0.0, 0.18, 0.0])
    joints = np.full((33, 3), np.nan)
    pairs = {}
    pairs[11] = (base + [0, 0.1, 1.22], across(position.shoulder_yaw_deg, 0.18))
    pairs[13] = (base + [0, 0.25, 1.0], across(position.shoulder_yaw_deg, 0.3))
    pairs[15] = (base + [0, 0.5, 1.05], across(position.shoulder_yaw_deg, 0.22))
    pairs[23] = (base + [0, -0.05, 0.8], across(position.hip_yaw_deg, 0.13))
    pairs[25] = (base + forward + [0, 0, 0.45], across(position.lead_angle_deg, 0.3))
    for number, (middle, half) in pairs.items():
        racket, other = (number + 1, number) if hand == "right" else (number, number + 1)
        joints[racket], joints[other] = middle + half, middle - half
    for index, foot in enumerate(position.feet):
        is_left = (index == 0) == (hand == "left")
        heel, toe = np.array([*foot.heel_m, 0.02]), np.array([*foot.toe_m, 0.02])
        joints[27 + (not is_left)] = heel + 0.2 * (toe - heel) + [0, 0, 0.09]
        joints[29 + (not is_left)], joints[31 + (not is_left)] = heel, toe
    joints[0] = base + [0, 0.22, 1.42]
    return project(camera, joints)


def invented_frame(camera, landmarks, size=(1280, 720)):
    """A hall with court lines and a plain figure, (height, width, 3) RGB."""
    width, height = size
    shade = np.linspace(70, 130, height)[:, None, None]
    image = np.repeat(shade * [0.75, 1.0, 0.85], width, axis=1).astype(np.uint8)
    for line in court_lines():
        corners = [(line.x[i], line.y[j], 0.0) for i, j in ((0, 0), (1, 0), (1, 1), (0, 1))]
        pixels = project(camera, corners)
        if np.isfinite(pixels).all():
            cv2.fillPoly(image, [pixels.round().astype(np.int32)], (235, 238, 235), cv2.LINE_AA)
    limbs = ((11, 12, 23), (12, 24, 23))
    dots = np.nan_to_num(landmarks).round().astype(np.int64)
    for a, b, c in limbs:
        cv2.fillPoly(image, [dots[[a, b, c]].astype(np.int32)], (40, 60, 120), cv2.LINE_AA)
    for start, end in (
        (11, 13),
        (13, 15),
        (12, 14),
        (14, 16),
        (23, 25),
        (25, 27),
        (24, 26),
        (26, 28),
        (27, 31),
        (28, 32),
    ):
        cv2.line(image, dots[start].tolist(), dots[end].tolist(), (205, 160, 130), 11, cv2.LINE_AA)
    cv2.circle(image, dots[0].tolist(), 13, (205, 160, 130), cv2.FILLED, cv2.LINE_AA)
    return image


def invented_scene(position, hand="right"):
    """Frame, landmarks and camera for a position."""
    camera = corner_camera()
    landmarks = invented_landmarks(position, camera, hand)
    return invented_frame(camera, landmarks), landmarks, camera


def texts(svg):
    found = [element.text or "" for element in ElementTree.fromstring(svg).iter()]
    return [text for text in found if text.strip()]


def shoe_middles(svg):
    """Middles of the two shoes' outlines, racket side first."""
    paths = [e.get("d") for e in ElementTree.fromstring(svg).iter() if "Q" in (e.get("d") or "")]
    return [
        np.array(re.findall(r"-?[\d.]+", path), float).reshape(-1, 2).mean(axis=0) for path in paths
    ]


@pytest.mark.parametrize(
    ("angle", "part", "words"),
    [
        (-16.2, "foot", "racket foot 16 degrees back"),
        (1.0, "hip", "racket hip 1 degree leading"),
        (-0.3, "hip", "along the net line"),
        (-120.0, "hip", "racket hip 120 degrees back, back to the net"),
        (math.nan, "foot", "not known"),
    ],
)
def test_angles_in_words(angle, part, words):
    assert facing_words(angle, part) == words


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
    picture = overlay_picture(image, landmarks, position, camera, "right", ())
    assert picture.shape == image.shape
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
    overlay_picture(image, landmarks, position, camera, "right", ("one", "two"))
    key_picture(image, landmarks, position, camera, "right")
    assert (image == before).all()


def test_between_ready_positions_only_the_caption_and_skeleton_show():
    image, landmarks, camera = invented_scene(invented_position())
    caption = overlay_caption(3.14, None)
    assert caption[0] == "3.1 s   between ready positions"
    picture = overlay_picture(image, landmarks, None, camera, "right", caption)
    assert not (picture == AMBER).all(axis=2).any()
    assert (picture[:3] < image[:3]).all()
    unseen = overlay_picture(image, None, None, camera, "right", caption)
    assert (unseen[200:] == image[200:]).all()


def test_the_caption_says_what_the_player_does():
    first, second = overlay_caption(0.5, invented_position(), 3)
    assert first == "0.5 s   ready position 3: slightly racket-leg-back"
    assert second == "feet: racket foot 16 degrees back;  hips: racket hip 7 degrees back"


@pytest.mark.parametrize("place", [(1.5, -4.2), (-4.2, -30.0), (math.nan, math.nan)])
def test_unknown_landmarks_and_places_are_left_out(place):
    position = replace(UNKNOWN, base_m=place)
    image, landmarks, camera = invented_scene(invented_position())
    for seen in (UNSEEN, np.where(np.arange(33)[:, None] == 24, np.nan, landmarks)):
        picture = key_picture(image, seen, position, camera, "left")
        assert picture.shape[0] >= 480
        overlay_picture(image, seen, position, camera, "left", ("x",))


@given(st.floats(-400, 1700), st.floats(-400, 1100), st.floats(0.02, 2.0))
def test_a_player_anywhere_gives_a_picture(x, y, size):
    position = invented_position()
    image, landmarks, camera = invented_scene(position)
    moved = (landmarks - np.nanmean(landmarks, axis=0)) * size + [x, y]
    picture = key_picture(image, moved, position, camera, "right")
    assert 480 <= picture.shape[0] <= 720 and picture.shape[1] >= 40


def test_a_jpeg_keeps_to_its_size_where_it_can():
    noise = np.random.default_rng(1).integers(0, 256, (600, 500, 3), dtype=np.uint8)
    small = jpeg(noise, 60_000)
    assert small[:2] == b"\xff\xd8" and len(small) <= 60_000
    assert len(jpeg(noise, 1)) > 1
    red = np.full((64, 64, 3), (200, 10, 10), np.uint8)
    back = cv2.imdecode(np.frombuffer(jpeg(red, 10_000), np.uint8), cv2.IMREAD_COLOR)
    assert back[32, 32, 2] > 180 and back[32, 32, 0] < 40


def test_the_view_from_above_is_to_scale_with_the_net_at_the_top():
    position = invented_position(lead_deg=-30.0)
    racket, other = shoe_middles(view_from_above(position, "right"))
    # Racket foot of a right-hander to the right and, where it is back, further down.
    assert racket[0] > other[0] and racket[1] > other[1]
    svg = view_from_above(position, "right")
    start, _, end = map(float, re.search(r"M([\d.]+) ([\d.]+)v4H([\d.]+)", svg).groups())
    metres = np.hypot(*(racket - other)) / ((end - start) / 0.5)
    assert metres == pytest.approx(0.7, abs=0.01)
    angle = math.degrees(math.atan2(-(racket - other)[1], (racket - other)[0]))
    assert angle == pytest.approx(-30.0, abs=0.5)


def test_a_mirrored_player_has_the_mirrored_view():
    for lead, hip in ((-30.0, -12.0), (50.0, 70.0)):
        right = view_from_above(invented_position(lead, hip), "right")
        left = view_from_above(invented_position(lead, hip, (-1.5, -4.2), hand="left"), "left")
        for one, other in zip(shoe_middles(right), shoe_middles(left), strict=True):
            assert one[0] + other[0] == pytest.approx(320.0, abs=0.3)
            assert one[1] == pytest.approx(other[1], abs=0.3)
        assert texts(right) == texts(left)


def test_a_view_without_feet_says_so():
    assert "not known" in " ".join(texts(view_from_above(UNKNOWN, "right")))


def test_an_assumed_camera_shows_no_distance_to_the_net():
    position = invented_position()
    assert "net, 4.2 m away" in texts(view_from_above(position, "right"))
    assert "net" in texts(view_from_above(position, "right", place_known=False))


def test_the_time_line_links_each_ready_position_to_its_card():
    player = invented_player("<b>&")
    root = ElementTree.fromstring(time_line(player, 22.0, "player-1"))
    links = [e.get("href") for e in root.iter() if e.tag.endswith("}a")]
    assert list(dict.fromkeys(links)) == [f"#player-1-{number}" for number in range(1, 9)]
    assert root.get("aria-label") == "Time line of player <b>&: 8 ready positions"


@pytest.mark.parametrize("duration", [0.0, 0.9, 20.0, 61.0, 3600.0])
def test_a_time_line_of_any_length_holds_its_bars(duration):
    positions = tuple(
        invented_position(start_s=duration * part, end_s=duration * (part + 0.1))
        for part in (0.0, 0.45, 0.9)
    )
    player = replace(invented_player(), ready_positions=positions)
    root = ElementTree.fromstring(time_line(player, duration, "p"))
    assert float(root.get("height")) <= 12 * 78
    for bar in root.iter("{http://www.w3.org/2000/svg}rect"):
        if "%" in bar.get("width") and bar.get("x") != "0":
            begin, width = (float(bar.get(name).rstrip("%")) for name in ("x", "width"))
            assert begin >= 0 and begin + width <= 100.5 and width >= 0


def test_the_court_map_holds_every_known_place():
    player = invented_player()
    player = replace(player, ready_positions=(*player.ready_positions, UNKNOWN))
    svg = court_map(player)
    assert texts(svg) == ["net", *map(str, range(1, 9))]


def test_marks_at_one_place_are_drawn_apart():
    spread = spread_labels(np.full((6, 2), 100.0), 20.0, (0, 0, 200, 200))
    apart = np.hypot(*(spread[:, None] - spread[None]).transpose(2, 0, 1))
    assert apart[~np.eye(6, dtype=bool)].min() > 15
