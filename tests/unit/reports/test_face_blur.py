"""No face is left in a blurred picture, and the player's stance is."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.court.camera import project
from stance.people.landmarks import LEFT_HIP, LEFT_TOE
from stance.reports.face_blur import blur_faces
from tests.unit.figures import behind_camera, figure

RANDOM = np.random.default_rng(0)
NOISE = RANDOM.integers(0, 256, (720, 1280, 3), np.uint8)


@pytest.fixture(scope="module")
def body():
    """A player 360 pixels high in the middle of the picture."""
    landmarks = project(behind_camera(), figure((0.0, -4.0)))
    landmarks = (landmarks - landmarks.mean(axis=0)) / np.ptp(landmarks[:, 1]) * 360
    return landmarks + [640, 360]


def detail(image, place, reach):
    """How rough a picture is around a place."""
    x, y = np.round(place).astype(int)
    part = image[max(y - reach, 0) : y + reach, max(x - reach, 0) : x + reach].astype(float)
    return np.abs(np.diff(part, axis=1)).mean()


def test_the_head_and_all_far_from_the_player_lose_their_detail_and_the_body_keeps_it(body):
    blurred = blur_faces(NOISE, [body])
    rough = detail(NOISE, (640, 360), 100)
    for landmark in range(11):
        assert detail(blurred, body[landmark], 12) < rough / 5
    for bystander in ((100, 100), (1200, 400), (640, 60), (200, 700)):
        assert detail(blurred, bystander, 40) < rough / 5
    for landmark in (LEFT_HIP, LEFT_TOE, LEFT_TOE + 1):
        x, y = np.round(body[landmark]).astype(int)
        assert (blurred[y - 5 : y + 5, x - 5 : x + 5] == NOISE[y - 5 : y + 5, x - 5 : x + 5]).all()


def test_a_head_whose_landmarks_are_unknown_is_blurred_above_the_shoulders(body):
    headless = body.copy()
    headless[:11] = np.nan
    blurred = blur_faces(NOISE, [headless])
    assert detail(blurred, body[:11].mean(axis=0), 12) < detail(NOISE, body[0], 12) / 5


def test_what_is_between_the_limbs_and_others_heads_before_the_body_lose_their_detail(body):
    apart = body.copy()
    apart[[LEFT_TOE, LEFT_TOE - 2, LEFT_TOE - 4, LEFT_TOE - 6]] -= [100, 0]
    rough = detail(NOISE, (640, 360), 100)
    between = (apart[LEFT_TOE] + apart[LEFT_TOE + 1]) / 2 - [0, 20]
    assert detail(blur_faces(NOISE, [apart]), between, 12) < rough / 5
    other = body + (body[LEFT_HIP] - body[0])
    assert detail(blur_faces(NOISE, [body]), body[LEFT_HIP], 12) > rough / 2
    assert detail(blur_faces(NOISE, [body], [other]), body[LEFT_HIP], 12) < rough / 5


def test_without_a_player_all_is_blurred_and_the_picture_itself_stays():
    before = NOISE.copy()
    blurred = blur_faces(NOISE, [np.full((33, 2), np.nan)])
    assert (before == NOISE).all()
    for place in ((640, 360), (100, 100)):
        assert detail(blurred, place, 40) < detail(NOISE, place, 40) / 5


@settings(max_examples=25, deadline=None)
@given(
    st.tuples(st.floats(-3e4, 3e4), st.floats(-3e4, 3e4)),
    st.floats(0, 50),
    st.lists(st.integers(0, 32), max_size=30),
)
def test_any_body_in_any_picture_is_drawn_without_fault(body, place, size, unknown):
    landmarks = (body - 500) * size + place
    landmarks[unknown] = np.nan
    small = NOISE[:40, :64]
    assert blur_faces(small, [landmarks, body]).shape == small.shape
