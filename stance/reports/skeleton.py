"""A player's skeleton in a picture; the racket side is brighter and thicker."""

from dataclasses import dataclass

from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_ELBOW,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    LEFT_WRIST,
    NOSE,
    RIGHT_SHOULDER,
)
from stance.reports.drawing import draw_dot, draw_line, line_thickness
from stance.reports.palette import (
    DARK,
    OTHER_SIDE,
    RACKET_SIDE,
    WHITE,
    Colour,
    class_colours,
)
from stance.types import NOT_ASSESSED, FloatArray, Hand, ImageArray, StanceClass

# Bones of one side by their left landmarks; the right one's number is one higher.
_SIDE_BONES = (
    (LEFT_SHOULDER, LEFT_HIP),
    (LEFT_SHOULDER, LEFT_ELBOW),
    (LEFT_ELBOW, LEFT_WRIST),
    (LEFT_HIP, LEFT_KNEE),
    (LEFT_KNEE, LEFT_ANKLE),
    (LEFT_ANKLE, LEFT_HEEL),
    (LEFT_HEEL, LEFT_TOE),
    (LEFT_ANKLE, LEFT_TOE),
)


@dataclass(frozen=True)
class _Colours:
    """Of the racket side, the other side and the edges."""

    racket: Colour = RACKET_SIDE
    other: Colour = OTHER_SIDE
    edge: Colour = DARK


def draw_skeleton(
    picture: ImageArray,
    landmarks: FloatArray,
    hand: Hand,
    scale: float,
    stance_class: StanceClass = NOT_ASSESSED,
) -> None:
    """Draw a skeleton, in the colour of the class where there is one, else in white.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, changed in place
    landmarks
        (33, 2) pixels of the picture, NaN where unknown
    hand
        "right" or "left"
    scale
        of the lines; 1 for a frame 1280 pixels wide
    stance_class
        of the ready position that is shown
    """
    colours = _choose_colours(stance_class)
    racket = 1 if hand == "right" else 0
    thin, thick = line_thickness(1.6 * scale), line_thickness(2.6 * scale)
    shoulders = landmarks[[LEFT_SHOULDER, RIGHT_SHOULDER]]
    neck = shoulders.mean(axis=0)
    draw_line(picture, landmarks[NOSE], neck, colours.other, thin, colours.edge)
    draw_line(picture, shoulders[0], shoulders[1], colours.other, thin, colours.edge)
    for side in (1 - racket, racket):
        colour, width = (colours.racket, thick) if side == racket else (colours.other, thin)
        for start, end in _SIDE_BONES:
            ends = landmarks[start + side], landmarks[end + side]
            draw_line(picture, *ends, colour, width, colours.edge)
    draw_dot(picture, landmarks[NOSE], WHITE, 3.5 * scale)


def _choose_colours(stance_class: StanceClass) -> _Colours:
    """The racket side in the class's colour, the other side paler; a light edge on a dark one."""
    if stance_class == NOT_ASSESSED:
        return _Colours()
    fill, ink = class_colours(stance_class)
    red, green, blue = ((3 * own + 2 * pale) // 5 for own, pale in zip(fill, WHITE, strict=True))
    return _Colours(fill, (red, green, blue), WHITE if ink == WHITE else DARK)
