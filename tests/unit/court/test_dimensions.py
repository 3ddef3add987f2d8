"""The court against the Laws of Badminton (Badminton World Federation), Law 1 and Diagram A."""

import numpy as np
import pytest

from stance.court.dimensions import court_lines, court_points, net_points

ALL_POINTS = court_points()


def test_outer_dimensions_and_diagonals_are_those_of_diagram_a():
    # Diagram A: 13.40 m x 6.10 m; diagonal of the full court 14.723 m, of the singles court
    # 14.366 m.
    right, top = np.max([[line.x[1], line.y[1]] for line in court_lines()], axis=0)
    left, bottom = np.min([[line.x[0], line.y[0]] for line in court_lines()], axis=0)
    assert (right - left, top - bottom) == pytest.approx((6.10, 13.40))
    assert np.hypot(right - left, top - bottom) == pytest.approx(14.723, abs=5e-4)
    singles = {line.name: line for line in court_lines()}
    width = singles["right singles side line"].x[1] - singles["left singles side line"].x[0]
    assert width == pytest.approx(5.18)
    assert np.hypot(width, 13.40) == pytest.approx(14.366, abs=5e-4)


def test_lines_and_gaps_chain_up_to_the_courts_size():
    # Diagram A, from the back line to the net and from side to side; lines are 40 mm (Law 1.1).
    lines = court_lines()
    half = [line.y for line in lines if line.name.startswith("far") and "centre" not in line.name]
    edges = np.concatenate([[0.0], np.ravel(sorted(half))])
    np.testing.assert_allclose(np.diff(edges), [1.98, 0.04, 3.88, 0.04, 0.72, 0.04], atol=1e-12)
    assert edges[-1] == pytest.approx(6.70)
    across = [line.x for line in lines if "side line" in line.name or "far centre" in line.name]
    gaps = np.diff(np.ravel(sorted(across)))
    expected = [0.04, 0.42, 0.04, 2.53, 0.04, 2.53, 0.04, 0.42, 0.04]
    np.testing.assert_allclose(gaps, expected, atol=1e-12)
    assert sum(gaps) == pytest.approx(6.10)


def test_every_line_is_40_mm_wide_and_both_halves_are_alike():
    lines = court_lines()
    for line in lines:
        assert min(np.ptp(line.x), np.ptp(line.y)) == pytest.approx(0.04)
    rectangles = {(*np.round(line.x, 6), *np.round(line.y, 6)) for line in lines}
    turned = {(-x1, -x0, -y1, -y0) for x0, x1, y0, y1 in rectangles}
    assert turned == rectangles


def test_named_points_lie_where_the_interface_says():
    assert len(ALL_POINTS) == 2 * 3 * 5 * 5
    corner = "far back line, right doubles side line"
    assert ALL_POINTS[f"{corner}, right back corner"] == pytest.approx((3.05, 6.70))
    assert ALL_POINTS[f"{corner}, centre"] == pytest.approx((3.03, 6.68))
    assert ALL_POINTS["near long service line, centre line, centre"] == pytest.approx((0, -5.92))
    # 1.98 m runs from the net to the net's side of the short service line.
    tee = ALL_POINTS["near short service line, centre line, left net corner"]
    assert tee == pytest.approx((-0.02, -1.98))


def test_net_heights_are_those_of_law_1():
    # Law 1.10: 1.524 m at the centre, 1.55 m over the side lines for doubles.
    points = net_points()
    assert points["middle"] == (0.0, 0.0, 1.524)
    assert points["left post"] == pytest.approx((-3.03, 0.0, 1.55))
    assert points["right post"] == pytest.approx((3.03, 0.0, 1.55))
