"""The moments that show best what is right and what is to be worked on."""

from stance.assessment.examples import clearest_right, clearest_wrong
from stance.assessment.picture_key import PictureKey
from tests.unit.assessment.advised import (
    BACK,
    HIPS_BACK,
    ON_THE_MOVE,
    RACKET_FOOT_IN_FRONT,
    SQUARE,
    defender,
)


def keys(player, *moments):
    numbers = range(1, len(player.strokes_faced) + 1)
    return {PictureKey("A", n, moment) for n in numbers for moment in ("key", *moments)}


def test_the_surest_class_is_shown_on_either_side():
    player = defender([(-8.0, 9.0), SQUARE, (-30.0, -45.0), HIPS_BACK, (-6.0, -47.0)])
    assert clearest_right(player, "right", keys(player)) == PictureKey("A", 2)
    assert clearest_wrong(player, "over_side_on", keys(player)) == PictureKey("A", 4)


def test_of_equally_sure_ones_the_most_turned_is_clearest_over_side_on_and_the_least_else():
    player = defender([(-55.0, -50.0), (-70.0, -60.0), (-60.0, -58.0), (-2.0, 1.0), (1.0, 0.0)])
    assert clearest_wrong(player, "over_side_on", keys(player)) == PictureKey("A", 2)
    assert clearest_right(player, "over_side_on", keys(player)) == PictureKey("A", 5)


def test_a_racket_foot_in_front_is_no_example_of_what_is_right():
    player = defender([RACKET_FOOT_IN_FRONT] * 3 + [BACK])
    assert clearest_right(player, "right", keys(player)) == PictureKey("A", 4)
    assert clearest_wrong(player, "racket_foot_in_front", keys(player)).number in (1, 2, 3)
    assert clearest_wrong(player, "right", keys(player)) is None


def test_late_landings_are_shown_at_the_contact_of_the_latest_beside_the_earliest():
    player = defender([SQUARE] * 3, landing_s=[0.1, 0.29, 0.27])
    shown = keys(player, "contact")
    assert clearest_wrong(player, "late", shown) == PictureKey("A", 2, "contact")
    assert clearest_right(player, "late", shown) == PictureKey("A", 1, "contact")
    assert clearest_right(player, "late", shown - {PictureKey("A", 1, "contact")}) is None
    assert clearest_wrong(player, "late", shown - {PictureKey("A", 2, "contact")}).number == 3


def test_a_stroke_met_on_the_move_is_shown_by_its_own_number():
    player = defender([SQUARE, ON_THE_MOVE, SQUARE])
    assert clearest_wrong(player, "on_the_move", keys(player, "stroke")) == PictureKey(
        "A", 2, "stroke"
    )


def test_without_a_picture_there_is_no_example():
    player = defender([SQUARE, HIPS_BACK])
    assert clearest_right(player, "right", set()) is None
    assert clearest_wrong(player, "over_side_on", {PictureKey("A", 1)}) is None
