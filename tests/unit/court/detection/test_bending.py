"""How much a lens bends the picture is told by lines that are straight on the floor."""

import numpy as np
import pytest

from stance.court.detection.bending import find_bends, straighten_stripes
from stance.court.detection.stripes import find_stripes
from tests.unit.court.detection.pictures import (
    BADMINTON,
    CORNER,
    GREEN,
    SIZE,
    WHITE,
    WIDE,
    WIDE_LENS,
    drawn,
    lab,
    stripes_of,
)


def test_a_lens_that_hardly_bends_needs_no_bend():
    stripes = find_stripes(lab(drawn(CORNER, [(BADMINTON, WHITE)], GREEN, distortion=-0.03)))
    assert find_bends(stripes, SIZE) == ()


def test_a_wide_angle_lens_is_seen_to_bend():
    stripes = find_stripes(lab(drawn(WIDE, [(BADMINTON, WHITE)], GREEN, WIDE_LENS)))
    bends = find_bends(stripes, SIZE)
    assert len(bends) == 2
    assert bends[0] == pytest.approx(2 * bends[1]) and -1.6 < bends[0] < -0.6


def test_straightened_stripes_keep_all_but_their_ends():
    stripes = stripes_of(CORNER)
    straight = straighten_stripes(stripes, -0.5, SIZE)
    np.testing.assert_array_equal(straight.width, stripes.width)
    away = stripes.ends - np.array(SIZE) / 2
    moved = straight.ends - np.array(SIZE) / 2
    farther = np.linalg.norm(moved, axis=-1) / np.linalg.norm(away, axis=-1)
    squared = np.sum((away / SIZE[0]) ** 2, axis=-1)
    np.testing.assert_allclose(farther, 1 / (1 - 0.5 * squared))
