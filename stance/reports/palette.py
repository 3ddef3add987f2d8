"""Colours that all pictures and charts share."""

from stance.types import Counted, StanceClass

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

RACKET_SIDE, OTHER_SIDE = (255, 255, 255), (190, 200, 210)
