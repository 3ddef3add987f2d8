"""Colours that all pictures and charts share."""

from stance.types import Counted, StanceClass

Colour = tuple[int, int, int]
"""Red, green and blue, 0 to 255."""

# Colours of the report are CSS variables with a value for SVG that stands alone.
CLASS_FILLS: dict[Counted, str] = {
    "square": "var(--square,#8fd0c4)",
    "slightly_racket_leg_back": "var(--slight,#2a9d8f)",
    "over_side_on": "var(--over,#5b1a4f)",
    "not_assessed": "var(--paper,#ffffff)",
    "racket_foot_leading": "var(--feet,#d98200)",
}

# Of what is written on a class's colour.
CLASS_INKS: dict[StanceClass, str] = {
    "square": "var(--on-square,#0d2b27)",
    "slightly_racket_leg_back": "var(--on-slight,#0b2421)",
    "over_side_on": "var(--on-over,#ffffff)",
    "not_assessed": "var(--ink,#1b2430)",
}

# Names under which the templates of the charts know their colours.
CHART_COLOURS = {
    "INK": "var(--ink,#1b2430)",
    "FAINT": "var(--faint,#5d6875)",
    "PAPER": "var(--paper,#ffffff)",
    "RAIL": "var(--rail,#e8ecf0)",
    "COURT": "var(--court,#eef3ee)",
    "SHOE": "var(--shoe,#7b8794)",
    "FEET": "var(--feet,#d98200)",
    "HIPS": "var(--hips,#1f6fb4)",
    "LIMIT": "var(--notice-edge,#d98200)",
}

AMBER, SKY, WHITE, DARK = (255, 176, 0), (110, 200, 255), (255, 255, 255), (16, 20, 26)


def class_colours(stance_class: StanceClass) -> tuple[Colour, Colour]:
    """A class's colour and that of what is written on it, as in the report: red, green, blue."""
    return _read(CLASS_FILLS[stance_class]), _read(CLASS_INKS[stance_class])


def _read(variable: str) -> Colour:
    """The value of a CSS variable where nothing else is set."""
    red, green, blue = bytes.fromhex(variable.rpartition("#")[2][:6])
    return red, green, blue


RACKET_SIDE, OTHER_SIDE = (255, 255, 255), (190, 200, 210)
