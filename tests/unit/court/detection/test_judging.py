"""Judgements of the true camera, and of readings that explain less."""

from dataclasses import replace

import numpy as np
import pytest

from stance.court.detection.edges import locate_edges
from stance.court.detection.fitting import FittedCamera
from stance.court.detection.judging import judge
from stance.court.detection.line_samples import LINE_EDGES
from stance.court.detection.stripes import find_stripes
from stance.court.dimensions import court_lines
from tests.unit.court.detection.pictures import (
    BADMINTON,
    BEHIND,
    GREEN,
    WHITE,
    drawn,
    lab,
)

FOREIGN = (-3.0, 3.0, -4.02, -3.98)


@pytest.fixture(scope="module")
def picture():
    return lab(drawn(BEHIND, [(BADMINTON, WHITE)], GREEN, net=True))


def judged(lab_picture, seen=None):
    """What is judged of the true camera, only the lines of some names being seen where given."""
    light = np.ascontiguousarray(lab_picture[..., 0])
    edges = locate_edges(BEHIND, light, 2.5, 2.5)
    if seen is not None:
        names = np.array([line.name for line in court_lines()])[LINE_EDGES.lines[edges.sample]]
        edges = replace(edges, offset=np.where(np.isin(names, seen), edges.offset, np.nan))
    return judge(FittedCamera(BEHIND, edges), find_stripes(lab_picture), light)


def test_the_true_camera_explains_the_picture(picture):
    reading = judged(picture)
    assert reading.lines_along == 5 and reading.lines_across >= 3
    assert reading.explained > 10 * reading.missing and reading.stray < 0.1 * reading.explained
    assert reading.error_px < 0.5 and reading.tape.share > 0.9
    assert reading.score == pytest.approx(
        reading.explained
        - 0.8 * reading.missing
        - 0.4 * reading.stray
        + 0.5 * reading.tape.length * (1.3 * reading.tape.share - 0.3)
    )


def test_the_halves_of_the_centre_line_are_one_line_along_the_court(picture):
    halves = judged(picture, ["near centre line", "far centre line"])
    assert (halves.lines_along, halves.lines_across) == (1, 0)
    with_side = judged(picture, ["near centre line", "far centre line", "left doubles side line"])
    assert with_side.lines_along == 2


def test_lines_that_are_not_seen_are_missing(picture):
    part = judged(picture, ["near back line", "left doubles side line"])
    whole = judged(picture)
    assert (part.lines_along, part.lines_across) == (1, 1)
    assert part.explained + part.missing == pytest.approx(whole.explained + whole.missing)
    assert part.score < whole.score


def test_a_line_where_the_court_has_none_is_stray(picture):
    foreign = lab(drawn(BEHIND, [([*BADMINTON, FOREIGN], WHITE)], GREEN, net=True))
    assert judged(foreign).stray > judged(picture).stray + 0.2
