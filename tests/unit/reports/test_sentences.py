"""Angles and measures in words."""

import math

import pytest

from stance.reports.sentences import (
    facing_words,
    how_sure,
    measure_rows,
    number_words,
    overlay_caption,
    short_facing_words,
)
from tests.unit.results.invented import UNKNOWN, invented_position


@pytest.mark.parametrize(
    ("angle", "part", "words"),
    [
        (-16.2, "foot", "racket foot 16 degrees back"),
        (1.0, "hip", "racket hip 1 degree leading"),
        (-0.3, "hip", "along the net line"),
        (-120.0, "hip", "racket hip 120 degrees back, back to the net"),
        (math.nan, "foot", "not known"),
    ],
)
def test_angles_in_words(angle, part, words):
    assert facing_words(angle, part) == words


def test_the_caption_says_what_the_player_does():
    first, second = overlay_caption(0.5, invented_position(), 3)
    assert first == "0.5 s   ready position 3: slightly racket-leg-back"
    side_on = invented_position(20, 55, stance_class="over_side_on")
    assert overlay_caption(0.5, side_on, 4)[0].endswith("over-side-on, racket side leading")
    assert second == "feet: racket foot 16 degrees back;  hips: racket hip 7 degrees back"


def test_a_key_says_an_angle_in_the_fewest_words():
    assert short_facing_words(-16.2, "foot") == "16° back"
    assert short_facing_words(120.0, "hip") == "120° leading"
    assert short_facing_words(0.3, "foot") == "0°"
    assert short_facing_words(math.nan, "hip") == "not known"


def test_the_rows_of_a_card_say_value_error_and_side():
    position = invented_position(lead_deg=-16.0, hip_deg=0.3, place=(1.5, -4.2))
    rows = {row["name"]: (row["value"], row["small"]) for row in measure_rows(position, True)}
    assert rows == {
        "Racket foot": ("16 ± 3° back", ""),
        "Racket hip": ("0 ± 6°", ""),
        "Racket shoulder": ("3 ± 7° back", ""),
        "Foot stagger": ("19 ± 3 cm back", ""),
        "Stance width": ("70 ± 2 cm", "2.8 hip widths, 0.8 leg lengths"),
        "Racket knee bent": ("41 ± 6°", ""),
        "Other knee bent": ("44 ± 6°", ""),
        "From the net": ("4.20 ± 0.05 m", ""),
    }


def test_without_a_known_place_a_card_says_no_distance_to_the_net():
    names = [row["name"] for row in measure_rows(invented_position(), False)]
    assert "From the net" not in names and "Stance width" in names


def test_unknown_numbers_are_not_known_and_a_rounded_zero_has_no_sign():
    assert number_words(None, 1, " pixels") == number_words(math.nan, 1, " pixels") == "not known"
    assert number_words(-0.2, 0, "°", 1.6) == "0 ± 2°"
    assert number_words(-1.25, 1, "°", math.nan) == "−1.2°"


def test_how_sure_a_class_is_in_words_and_percent():
    assert how_sure(invented_position()) == "fairly sure, 91 %"
    doubtful = {"square": 0.52, "slightly_racket_leg_back": 0.45, "over_side_on": 0.03}
    unsure = invented_position(stance_class="not_assessed", probabilities=doubtful)
    assert how_sure(unsure) == "could be square (52 %) or slightly racket-leg-back (45 %)"
    nothing = invented_position(stance_class="not_assessed", probabilities={})
    assert how_sure(nothing) == "no class fits"
    assert UNKNOWN.stance_class == "not_assessed" and how_sure(UNKNOWN).startswith("could be ")
