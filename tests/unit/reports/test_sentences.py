"""Angles and measures in words."""

import math

from stance.reports.sentences import (
    class_words,
    how_sure,
    measure_rows,
    number_words,
    stance_words,
)
from tests.unit.results.invented import UNKNOWN, invented_position


def test_feet_and_hips_in_words():
    assert stance_words(invented_position(-16.2, 7.0)) == "feet 16° back, hips 7° in front"
    assert stance_words(UNKNOWN) == "feet not known, hips not known"


def test_the_class_says_which_side_is_in_front_where_over_side_on():
    assert class_words(invented_position()) == "slightly racket-leg-back"
    side_on = invented_position(20, 55, stance_class="over_side_on")
    assert class_words(side_on) == "over-side-on, racket side in front"
    side_on = invented_position(-20, -55, stance_class="over_side_on")
    assert class_words(side_on) == "over-side-on, racket side back"


def test_the_rows_of_a_card_say_value_error_and_side():
    position = invented_position(lead_deg=-16.0, hip_deg=0.3, place=(1.5, -4.2))
    rows = {row["name"]: row["value"] for row in measure_rows(position, True)}
    assert rows == {
        "Feet": "16 ± 3° back",
        "Hips": "0 ± 6°",
        "Shoulders": "3 ± 7° back",
        "Racket foot": "19 ± 3 cm back",
        "Width of base": "70 ± 2 cm",
        # 0.85 leg lengths of 0.491 of the stature, in shoulder widths of 0.259 of it.
        "The same": "1.6 shoulder widths",
        "Racket knee bent": "41 ± 6°",
        "Other knee bent": "44 ± 6°",
        "From the net": "4.2 ± 0.1 m",
    }


def test_without_a_known_place_a_card_says_no_distance_to_the_net():
    names = [row["name"] for row in measure_rows(invented_position(), False)]
    assert "From the net" not in names and "Width of base" in names


def test_unknown_numbers_are_not_known_and_a_rounded_zero_has_no_sign():
    assert number_words(None, 1, " pixels") == number_words(math.nan, 1, " pixels") == "not known"
    assert number_words(-0.2, 0, "°", 1.6) == "0 ± 2°"
    assert number_words(3.62, 1, " m", 0.04) == "3.6 m"
    assert number_words(-1.25, 1, "°", math.nan) == "−1.2°"


def test_how_sure_a_class_is_in_words_and_percent():
    assert how_sure(invented_position()) == "fairly sure (91 %)"
    chances = {"square": 0.004, "slightly_racket_leg_back": 0.996, "over_side_on": 0.0}
    assert how_sure(invented_position(probabilities=chances)) == "very sure (over 99 %)"
    doubtful = {"square": 0.52, "slightly_racket_leg_back": 0.45, "over_side_on": 0.03}
    unsure = invented_position(stance_class="not_assessed", probabilities=doubtful)
    assert how_sure(unsure) == "could be square (52 %) or slightly racket-leg-back (45 %)"
    nothing = invented_position(stance_class="not_assessed", probabilities={})
    assert how_sure(nothing) == "no stance fits"
    assert UNKNOWN.stance_class == "not_assessed" and how_sure(UNKNOWN).startswith("could be ")
