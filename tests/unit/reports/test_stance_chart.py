"""The view from above: to scale, mirrored for left-handers, honest about what is not known."""

import math
import re
from xml.etree import ElementTree

import numpy as np
import pytest

from stance.reports.stance_chart import view_from_above
from tests.unit.reports.svg import texts
from tests.unit.results.invented import UNKNOWN, invented_position


def shoe_middles(svg):
    """Middles of the two shoes' outlines, racket side first."""
    paths = [e.get("d") for e in ElementTree.fromstring(svg).iter() if "Q" in (e.get("d") or "")]
    return [
        np.array(re.findall(r"-?[\d.]+", path), float).reshape(-1, 2).mean(axis=0) for path in paths
    ]


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
