"""Lines, dots and labels on pictures."""

import numpy as np
import pytest

from stance.reports.drawing import can_write, draw_dashes, draw_dot, draw_label, draw_line
from stance.reports.palette import AMBER, DARK

GREY = 128


def canvas():
    return np.full((120, 200, 3), GREY, np.uint8)


@pytest.mark.parametrize("draw", [draw_line, draw_dashes])
def test_a_line_has_its_colour_and_a_dark_edge_and_none_leads_to_an_unknown_end(draw):
    picture, start, unknown = canvas(), np.array([20.0, 60.0]), np.array([np.nan, 60.0])
    more = (10.0,) if draw is draw_dashes else ()
    draw(picture, start, np.array([180.0, 60.0]), AMBER, 4, *more)
    assert tuple(picture[60, 22]) == AMBER
    assert picture[:, 22].min() < GREY / 2
    untouched = canvas()
    draw(untouched, start, unknown, AMBER, 4, *more)
    assert (untouched == GREY).all()


def test_dashes_leave_gaps():
    picture = canvas()
    draw_dashes(picture, np.array([20.0, 60.0]), np.array([180.0, 60.0]), AMBER, 4, 20.0)
    drawn = (picture[60] == AMBER).all(axis=-1)
    assert drawn[22] and drawn[178] and not drawn[22:178].all()


def test_a_ring_is_dark_in_the_middle_and_a_disc_is_not():
    picture = canvas()
    draw_dot(picture, np.array([50.0, 60.0]), AMBER, 9)
    draw_dot(picture, np.array([150.0, 60.0]), AMBER, 9, ring=True)
    draw_dot(picture, np.array([np.nan, 60.0]), AMBER, 9)
    assert tuple(picture[60, 50]) == AMBER and tuple(picture[60, 150]) == DARK


def test_labels_at_one_place_do_not_cover_each_other():
    picture, boxes = canvas(), []
    ends = np.array([[90.0, 60.0], [110.0, 60.0]])
    for text in ("hips", "net line"):
        boxes.append(draw_label(picture, text, ends, AMBER, 1.0, boxes))
    assert not boxes[0].overlaps(boxes[1])
    assert all(0 <= box.left < box.right <= 200 and 0 <= box.top < box.bottom for box in boxes)


def test_names_with_accents_can_be_written_and_other_scripts_cannot():
    assert can_write("Zoë Müller, J-07") and not can_write("渡辺")


def test_a_label_with_accents_is_written_without_them():
    ends = np.array([[60.0, 50.0], [90.0, 50.0]])
    accented, bare = (np.zeros((100, 300, 3), np.uint8) for _ in range(2))
    draw_label(accented, "nätlinje", ends, AMBER, 1.0, [])
    draw_label(bare, "natlinje", ends, AMBER, 1.0, [])
    assert bare.any() and (accented == bare).all()
