"""Stripes: pairs of edges in a drawn picture whose stripes are known."""

import cv2
import numpy as np
import pytest

from stance.court.detection.stripes import (
    find_line_colours,
    find_stripes,
    sample_picture,
    sample_stripes,
)
from tests.unit.court.detection.pictures import GREEN, RED, WHITE, YELLOW, lab

# (first end, last end, width), pixels, and colour.
WHITE_ONE = ((150.0, 100.0), (900.0, 180.0), 8.0, WHITE)
WHITE_TWO = ((200.0, 600.0), (1000.0, 420.0), 5.0, WHITE)
YELLOW_ONE = ((1100.0, 80.0), (1050.0, 650.0), 10.0, YELLOW)


def painted(*stripes):
    """A green picture (720, 1280, 3) with stripes, drawn at four times its size."""
    canvas = np.full((2880, 5120, 3), GREEN, np.uint8)
    for first, last, width, colour in stripes:
        first, last = np.array(first), np.array(last)
        along = (last - first) / np.linalg.norm(last - first)
        half = np.array([-along[1], along[0]]) * width / 2
        corners = np.array([first - half, last - half, last + half, first + half])
        points = np.round((4 * corners - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(canvas, [points], colour, cv2.LINE_8, 4)
    small = cv2.resize(canvas, (1280, 720), interpolation=cv2.INTER_AREA).astype(float)
    small += np.random.default_rng(0).normal(0, 2.0, small.shape)
    return np.clip(small, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("stripe", [WHITE_ONE, WHITE_TWO, YELLOW_ONE])
def test_a_painted_stripe_is_found_where_it_is_and_as_wide_as_it_is(stripe):
    first, last, width, colour = stripe
    found = find_stripes(lab(painted(stripe)))
    longest = int(np.argmax(found.length))
    ends = sorted(found.ends[longest].tolist(), key=lambda end: np.hypot(*(end - np.array(first))))
    np.testing.assert_allclose(ends, [first, last], atol=6.0)
    along = np.array(last) - first
    normal = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    # Across the stripe its middle is known much better than its ends along it.
    np.testing.assert_allclose((np.array(ends) - first) @ normal, 0.0, atol=0.5)
    assert found.width[longest] == pytest.approx(width, abs=1.0)
    np.testing.assert_allclose(
        found.inside[longest], lab(np.array([[colour]], np.uint8))[0, 0], atol=4
    )
    np.testing.assert_allclose(
        found.outside[longest], lab(np.array([[GREEN]], np.uint8))[0, 0], atol=4
    )
    assert found.along[longest] @ found.normal[longest] == pytest.approx(0.0)


def test_a_step_from_one_floor_to_another_is_no_stripe():
    picture = painted()
    picture[:, 640:] = RED
    assert len(find_stripes(lab(picture))) == 0


def test_stripes_are_told_apart_by_their_colours_the_longest_first():
    stripes = find_stripes(lab(painted(WHITE_ONE, WHITE_TWO, YELLOW_ONE)))
    colours = find_line_colours(stripes)
    wanted = [lab(np.array([[colour]], np.uint8))[0, 0] for colour in (WHITE, YELLOW)]
    for colour, known in zip(colours[:2], wanted, strict=True):
        np.testing.assert_allclose(colour.colour, known, atol=6)
    upright = np.abs(stripes.along[:, 1]) > 0.9
    assert not (colours[0].members & upright).any()
    assert (colours[1].members & upright).any() and not (colours[1].members & ~upright).any()


def test_pictures_are_sampled_between_pixels_and_repeated_beyond_the_border():
    picture = np.arange(12, dtype=np.float32).reshape(3, 4)
    places = np.array([[0.5, 0.5], [1.0, 0.5], [1.5, 1.0], [-5.0, 0.5], [99.0, 99.0]])
    np.testing.assert_allclose(sample_picture(picture, places), [0.0, 0.5, 3.0, 0.0, 11.0])
    assert sample_picture(picture, np.zeros((0, 5, 2))).shape == (0, 5)


def test_samples_lie_on_the_stripes_middle_lines():
    stripes = find_stripes(lab(painted(WHITE_ONE)))
    away = sample_stripes(stripes) - stripes.ends[:, None, 0]
    np.testing.assert_allclose(np.einsum("nsk,nk->ns", away, stripes.normal), 0.0, atol=1e-9)
    at = np.einsum("nsk,nk->ns", away, stripes.along)
    assert ((at > 0) & (at < stripes.length[:, None])).all()
