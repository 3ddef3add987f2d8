"""Families of lines whose true labelling is known."""

import numpy as np
import pytest

from stance.court.detection.axes import find_court_axes
from stance.court.detection.families import LineFamily, group_lines, label_lines
from stance.court.detection.line_samples import X_OF_LINES_ALONG, Y_OF_LINES_ACROSS
from tests.unit.court.detection.pictures import BEHIND, SIZE, stripes_of
from tests.unit.court.detection.test_axes import true_rays


def family_of(lines, scale, offset):
    """Lines at places, all as heavy, a pixel being 5 mm, too thin for their width to be known."""
    count = len(lines)
    return LineFamily(
        scale * np.array(lines) + offset,
        np.full(count, 0.3),
        np.full(count, 0.005 * abs(scale)),
        np.full(count, np.nan),
        np.ones(count, bool),
    )


@pytest.mark.parametrize("axis, lines", [(0, X_OF_LINES_ALONG), (1, Y_OF_LINES_ACROSS)])
def test_stripes_of_one_direction_become_its_lines(axis, lines):
    axes = find_court_axes(*true_rays(BEHIND), SIZE)
    stripes = stripes_of(BEHIND)
    family = group_lines(axes, stripes, axis, SIZE)
    assert np.all(np.diff(family.place) > 0)
    label = label_lines(family, lines, SIZE, 10)[0]
    expected = label[0] * lines + label[1]
    apart = np.abs(family.place[:, None] - expected).min(axis=1)
    # Every line that was grouped is one of the court's, and those in the picture are all there.
    assert (apart < 4 * family.pixel).all()
    assert len(family.place) == len(
        {int(k) for k in np.argmin(np.abs(family.place[:, None] - expected), axis=1)}
    )
    assert len(family.place) == (5 if axis == 0 else 6)
    assert (np.abs(stripes.along[family.members]) @ [1.0, 0.0] > 0.9).all() == (axis == 1)


@pytest.mark.parametrize("scale, offset", [(0.4, 0.1), (1.7, -2.0)])
def test_the_true_labelling_of_a_family_comes_first(scale, offset):
    labels = label_lines(family_of(X_OF_LINES_ALONG, scale, offset), X_OF_LINES_ALONG, SIZE, 20)
    np.testing.assert_allclose(labels[0], [scale, offset, 5 * 0.3], atol=1e-9)
    assert np.all(np.diff(labels[:, 2]) <= 0)


def test_a_line_that_is_missing_and_one_too_many_do_not_mislead():
    lines = [*np.delete(Y_OF_LINES_ACROSS, 2), 4.1]
    labels = label_lines(family_of(sorted(lines), 0.8, 0.3), Y_OF_LINES_ACROSS, SIZE, 20)
    np.testing.assert_allclose(labels[0], [0.8, 0.3, 5 * 0.3], atol=1e-9)


def test_lines_that_are_far_too_wide_are_no_courts():
    family = family_of(X_OF_LINES_ALONG, 1.0, 0.0)
    wide = LineFamily(family.place, family.weight, family.pixel, np.full(5, 0.12), family.members)
    thin = LineFamily(family.place, family.weight, family.pixel, np.full(5, 0.04), family.members)
    by_width = [label_lines(lines, X_OF_LINES_ALONG, SIZE, 1)[0] for lines in (wide, thin)]
    assert by_width[1][2] == pytest.approx(1.5)
    assert by_width[0][0] != pytest.approx(1.0) or by_width[0][2] < 0.1


def test_one_line_alone_cannot_be_labelled():
    assert label_lines(family_of([0.0], 1.0, 0.0), X_OF_LINES_ALONG, SIZE, 5).shape == (0, 3)
