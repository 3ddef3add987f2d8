"""The skeleton: in the colour of the class where there is one, else white."""

import pytest

from stance.reports.palette import class_colours
from stance.reports.skeleton import draw_skeleton
from tests.unit.reports.scenes import invented_scene
from tests.unit.results.invented import invented_position


def shades_of_the_racket_shin(stance_class):
    """Colours across the racket side's shin."""
    image, landmarks, _ = invented_scene(invented_position())
    draw_skeleton(image, landmarks, "right", 1.0, stance_class)
    x, y = landmarks[[26, 28]].mean(axis=0).astype(int)
    return {tuple(pixel) for pixel in image[y, x - 8 : x + 9].tolist()}


@pytest.mark.parametrize("stance_class", ["square", "slightly_racket_leg_back", "over_side_on"])
def test_the_racket_side_has_the_colour_of_the_class(stance_class):
    fill, _ink = class_colours(stance_class)
    unknown = shades_of_the_racket_shin("not_assessed")
    assert fill in shades_of_the_racket_shin(stance_class) and fill not in unknown
    assert (255, 255, 255) in unknown


def test_a_dark_colour_has_a_light_edge():
    fill, ink = class_colours("over_side_on")
    assert max(fill) < 100 and ink == (255, 255, 255)
    assert max(min(shade) for shade in shades_of_the_racket_shin("over_side_on")) > 200
