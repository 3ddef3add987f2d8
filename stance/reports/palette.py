"""Colours and shapes that all pictures and charts share."""

# Colours of the report are CSS variables with a value for SVG that stands alone.
CLASS_FILLS = {
    "square": "var(--square,#8fd0c4)",
    "slightly_racket_leg_back": "var(--slight,#2a9d8f)",
    "over_side_on": "var(--over,#5b1a4f)",
    "not_assessed": "var(--paper,#ffffff)",
}

INK = "var(--ink,#1b2430)"

FAINT = "var(--faint,#5d6875)"

PAPER = "var(--paper,#ffffff)"

FEET = "var(--feet,#d98200)"

HIPS = "var(--hips,#1f6fb4)"

AMBER, SKY, WHITE, DARK = (255, 176, 0), (110, 200, 255), (255, 255, 255), (16, 20, 26)

RACKET_SIDE, OTHER_SIDE = (255, 255, 255), (190, 200, 210)

_ANKLES, _HEELS, _TOES = (27, 28), (29, 30), (31, 32)
