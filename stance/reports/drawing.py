"""Lines, dots and texts on pictures, that show on any background; only here OpenCV draws."""

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from stance.reports.palette import DARK, WHITE, Colour
from stance.types import FloatArray, ImageArray

_SHIFT = 4
"""OpenCV's fixed-point places: sixteenths of a pixel."""

_FAR_OUTSIDE = 20_000.0
"""OpenCV's line drawing overflows on far larger coordinates."""

_FONT = cv2.FONT_HERSHEY_SIMPLEX


@dataclass(frozen=True)
class Box:
    """A rectangle in a picture, pixels."""

    left: int
    top: int
    right: int
    bottom: int

    def overlaps(self, other: "Box") -> bool:
        """Whether two rectangles share a pixel."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )


def draw_line(
    picture: ImageArray,
    start: FloatArray,
    end: FloatArray,
    colour: Colour,
    thickness: int,
    edge: Colour = DARK,
) -> None:
    """Draw a line with an edge into a picture; none to an unknown end.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, changed in place.
    start, end
        (2,) pixels, NaN where unknown.
    colour
        red, green, blue, 0 to 255.
    thickness
        pixels, see `line_thickness`.
    edge
        red, green, blue.
    """
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return
    ends = _fixed(start), _fixed(end)
    for shade, width in ((edge, thickness + 2), (colour, thickness)):
        cv2.line(picture, *ends, shade, width, cv2.LINE_AA, _SHIFT)


def draw_dashes(
    picture: ImageArray,
    start: FloatArray,
    end: FloatArray,
    colour: Colour,
    thickness: int,
    dash: float,
) -> None:
    """Draw a dashed line, each dash about `dash` pixels long; else as `draw_line`."""
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return
    number = max(3, int(np.hypot(*(end - start)) / dash)) // 2 * 2 + 1
    stops = np.linspace(start, end, number + 1)
    for first, last in zip(stops[0::2], stops[1::2], strict=True):
        draw_line(picture, first, last, colour, thickness)


def draw_dot(
    picture: ImageArray, place: FloatArray, colour: Colour, radius: float, ring: bool = False
) -> None:
    """Draw a disc with a dark edge, or a ring; nothing where the place (2,) is unknown."""
    if not np.isfinite(place).all():
        return
    size = round(radius * (1 << _SHIFT))
    edge = round((radius + 1.5) * (1 << _SHIFT))
    for shade, reach in ((DARK, edge), (colour, size), *([(DARK, size // 2)] if ring else [])):
        cv2.circle(picture, _fixed(place), reach, shade, cv2.FILLED, cv2.LINE_AA, _SHIFT)


def draw_label(
    picture: ImageArray,
    text: str,
    ends: FloatArray,
    colour: Colour,
    scale: float,
    occupied: Sequence[Box],
) -> Box:
    """Write a label near one end of a line, where it covers no other label.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, changed in place.
    text
        what to write.
    ends
        (2, 2) pixels, of the line.
    colour
        RGB, of the text.
    scale
        size of the text; 1 for a picture 480 pixels high.
    occupied
        where other labels are.

    Returns
    -------
    Box
        Where the label is.
    """
    text, size = _bare(text), 0.6 * max(scale, 0.7)
    (width, height), _ = cv2.getTextSize(text, _FONT, size, 1)
    pad, away = round(4 * scale) + 1, 16 * scale
    box_width, box_height = width + 2 * pad, height + 2 * pad
    left_end, right_end = sorted(ends.tolist())
    places = [
        (right_end[0] + away, right_end[1] - box_height / 2),
        (left_end[0] - away - box_width, left_end[1] - box_height / 2),
        (right_end[0] - box_width / 2, right_end[1] + away),
        (left_end[0] - box_width / 2, left_end[1] + away),
        (right_end[0] - box_width / 2, right_end[1] - away - box_height),
        (left_end[0] - box_width / 2, left_end[1] - away - box_height),
    ]
    boxes = []
    for x, y in places:
        left = int(np.clip(x, 0, max(picture.shape[1] - box_width, 0)))
        top = int(np.clip(y, 0, max(picture.shape[0] - box_height, 0)))
        box = Box(left, top, left + box_width, top + box_height)
        moved = abs(left - x) + abs(top - y)
        boxes.append((sum(map(box.overlaps, occupied)), moved > 2, box))
    *_, box = min(boxes, key=lambda choice: choice[:2])
    cv2.rectangle(picture, (box.left, box.top), (box.right, box.bottom), DARK, cv2.FILLED)
    baseline = (box.left + pad, box.top + pad + height)
    cv2.putText(picture, text, baseline, _FONT, size, colour, 1, cv2.LINE_AA)
    return box


def draw_tag(
    picture: ImageArray,
    text: str,
    place: FloatArray,
    colours: tuple[Colour, Colour],
    scale: float,
    occupied: Sequence[Box] = (),
) -> Box:
    """Write a text on a field whose lower edge's middle is at a place, inside the picture.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, changed in place.
    text
        what to write.
    place
        (2,) pixels.
    colours
        of the field and of the text on it.
    scale
        size of the text; 1 for a picture 1280 pixels wide.
    occupied
        where other tags are; above them, where the place is taken.

    Returns
    -------
    Box
        Where the tag is.
    """
    field, ink = colours
    text, size = _bare(text), 0.6 * max(scale, 0.6)
    (width, height), _ = cv2.getTextSize(text, _FONT, size, 1)
    pad = round(5 * scale) + 1
    box_width, box_height = width + 2 * pad, height + 2 * pad
    left = int(np.clip(place[0] - box_width / 2, 0, max(picture.shape[1] - box_width, 0)))
    bottom = min(round(float(place[1])), picture.shape[0])
    box = Box(left, bottom - box_height, left + box_width, bottom)
    for other in sorted(occupied, key=lambda taken: -taken.bottom):
        if box.overlaps(other):
            box = Box(box.left, other.top - 2 - box_height, box.right, other.top - 2)
    top = max(box.top, 0)
    box = Box(box.left, top, box.right, top + box_height)
    cv2.rectangle(picture, (box.left, box.top), (box.right, box.bottom), DARK, 3)
    cv2.rectangle(picture, (box.left, box.top), (box.right, box.bottom), field, cv2.FILLED)
    baseline = (box.left + pad, box.top + pad + height)
    cv2.putText(picture, text, baseline, _FONT, size, ink, 1, cv2.LINE_AA)
    return box


def can_write(text: str) -> bool:
    """Whether a text can be written in a picture, its accents left away."""
    return _bare(text).isascii()


def draw_caption(picture: ImageArray, lines: Sequence[str]) -> None:
    """Draw a dark bar at the top with lines of text, shrunk until the longest fits."""
    lines = [_bare(line) for line in lines]
    height, width = picture.shape[:2]
    size = max(height, width) / 1280 * 0.75
    margin = round(size * 16)
    widest = max(cv2.getTextSize(line, _FONT, size, 1)[0][0] for line in lines)
    size *= min(1.0, (width - 2 * margin) / max(widest, 1))
    step = round(size * 36)
    bar = picture[: step * len(lines) + margin]
    bar[:] = (bar * 0.25 + np.array(DARK) * 0.75).astype(np.uint8)
    thickness = max(1, round(size))
    for row, line in enumerate(lines, start=1):
        cv2.putText(picture, line, (margin, row * step), _FONT, size, WHITE, thickness, cv2.LINE_AA)


def line_thickness(width: float) -> int:
    """A line's width in whole pixels, thick enough to be seen."""
    return max(2, round(width))


def _bare(text: str) -> str:
    """A text without its accents, which the letters of OpenCV lack."""
    spread = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in spread if not unicodedata.combining(letter))


def _fixed(place: FloatArray) -> tuple[int, int]:
    """A place in OpenCV's fixed-point pixels, which count from the middle of the first pixel."""
    x, y = (min(max(value - 0.5, -_FAR_OUTSIDE), _FAR_OUTSIDE) for value in place.tolist())
    return round(x * (1 << _SHIFT)), round(y * (1 << _SHIFT))
