"""Edges of lines in a drawn picture, around where cameras put them."""

from dataclasses import replace

import numpy as np
import pytest

from stance.court.detection.edges import locate_edges
from stance.court.detection.line_samples import LINE_EDGES
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    GREEN,
    SIZE,
    WHITE,
    drawn,
    lab,
    pixels_of,
)


@pytest.fixture(scope="module")
def light():
    return np.ascontiguousarray(lab(drawn(BEHIND, [(BADMINTON, WHITE)], GREEN))[..., 0])


def test_the_true_cameras_edges_are_where_it_puts_them(light):
    edges = locate_edges(BEHIND, light, 4.0, 2.5)
    clear = edges.length > 5
    assert clear.sum() > 100 and np.isfinite(edges.offset[clear]).mean() > 0.95
    assert np.nanmedian(np.abs(edges.offset[clear])) < 0.25
    pixels = pixels_of(BEHIND, LINE_EDGES.places[edges.sample])
    assert ((pixels > 0) & (pixels < SIZE)).all()


@pytest.mark.parametrize("shift", [(2.0, 0.0), (0.0, -1.5)])
def test_offsets_tell_by_how_much_a_camera_is_off(light, shift):
    matrix = BEHIND.matrix.copy()
    matrix[:2, 2] += shift
    edges = locate_edges(replace(BEHIND, matrix=matrix), light, 4.0, 2.5)
    expected = -edges.normal @ shift
    clear = np.isfinite(edges.offset) & (edges.length > 5)
    assert np.median(np.abs(edges.offset - expected)[clear]) < 0.3


def test_a_floor_without_lines_has_no_edges():
    blank = np.full((SIZE[1], SIZE[0]), 50.0, np.float32)
    assert np.isnan(locate_edges(BEHIND, blank, 4.0, 2.5).offset).all()


def test_dark_lines_are_no_edges_of_bright_ones(light):
    edges = locate_edges(BEHIND, 100.0 - light, 2.0, 2.5)
    wide = edges.length > 20
    assert np.isfinite(edges.offset[wide]).mean() < 0.2
