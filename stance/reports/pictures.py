"""Pictures: a player's pose and stance drawn on the clip's frames."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from stance.court.camera import Camera, project
from stance.errors import StanceError
from stance.people.landmarks import (
    LEFT_HIP,
    RIGHT_HIP,
)
from stance.reports.drawing import (
    Box,
    draw_caption,
    draw_dashes,
    draw_dot,
    draw_label,
    draw_line,
    draw_tag,
    line_thickness,
)
from stance.reports.overlay_words import Tag
from stance.reports.palette import (
    AMBER,
    DARK,
    SKY,
    WHITE,
    Colour,
    class_colours,
)
from stance.reports.skeleton import draw_skeleton
from stance.results.model import FloorContact, ReadyPosition
from stance.runtime.language import gettext as _
from stance.types import FloatArray, Hand, ImageArray

# Height and width of a key picture's part of the frame, in heights of the player.
_CROP_HEIGHT, _CROP_WIDTH = 1.6, 1.35

_SHOWN_HEIGHT = (480, 720)
_MOMENT_HEIGHT = (360, 480)

_NET_LINE_REACH_M = 0.8


@dataclass(frozen=True)
class _View:
    """Which part of a frame a picture shows: its top left corner (2,) in pixels, and the zoom."""

    corner: FloatArray
    zoom: float

    def place(self, pixels: FloatArray) -> FloatArray:
        """Places (..., 2) of the frame in the picture."""
        return (pixels - self.corner) * self.zoom


def key_picture(
    image: ImageArray, landmarks: FloatArray, position: ReadyPosition, camera: Camera, hand: Hand
) -> ImageArray:
    """The player in a ready position, cut out, with skeleton, foot line, hip line and net line.

    Parameters
    ----------
    image
        (height, width, 3) uint8 RGB, the upright frame.
    landmarks
        (33, 2) pixels of the upright frame, NaN where unknown, as numbered in
        `stance.people.landmarks`.
    position
        the ready position.
    camera
        of the frame; its court frame is that of the player's own half.
    hand
        "right" or "left".

    Returns
    -------
    (height, width, 3) uint8 RGB: 480 to 720 pixels high, less only in width where the frame is
    narrow. Small players are enlarged.
    """
    known = landmarks[np.isfinite(landmarks).all(axis=1)]
    if len(known) < 2:
        known = project(camera, [[*position.base_m, 0.0], [*position.base_m, 1.7]])
    view, picture = _cut_out(image, known, _SHOWN_HEIGHT)
    scale = picture.shape[0] / 480
    draw_skeleton(picture, view.place(landmarks), hand, scale)
    _draw_position(picture, landmarks, position, camera, view, scale)
    return picture


def moment_picture(image: ImageArray, landmarks: FloatArray, hand: Hand) -> ImageArray:
    """The player at a moment that is not measured, cut out, with the skeleton alone.

    Parameters
    ----------
    image
        (height, width, 3) uint8 RGB, the upright frame
    landmarks
        (33, 2) pixels of the upright frame, NaN where unknown
    hand
        "right" or "left"

    Returns
    -------
    (height, width, 3) uint8 RGB: 360 to 480 pixels high
    """
    known = landmarks[np.isfinite(landmarks).all(axis=1)]
    view, picture = _cut_out(image, known, _MOMENT_HEIGHT)
    draw_skeleton(picture, view.place(landmarks), hand, picture.shape[0] / 480)
    return picture


def draw_state(
    picture: ImageArray,
    landmarks: FloatArray,
    position: ReadyPosition | None,
    camera: Camera,
    hand: Hand,
    occupied: Sequence[Box] = (),
) -> list[Box]:
    """Draw a player's skeleton on a whole frame, in the colour of the class where there is one.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, the upright frame, changed in place
    landmarks
        (33, 2) pixels, NaN where unknown
    position
        the ready position that the frame is part of, which is drawn too; None between ready
        positions
    camera
        of the frame; its court frame is that of the player's own half
    hand
        "right" or "left"
    occupied
        where other players' labels are

    Returns
    -------
    list[Box]
        Where the player's labels are.
    """
    scale = max(picture.shape[0], picture.shape[1]) / 1280
    if position is None:
        draw_skeleton(picture, landmarks, hand, scale)
        return []
    draw_skeleton(picture, landmarks, hand, scale, position.stance_class)
    view = _View(np.zeros(2), 1.0)
    return _draw_position(picture, landmarks, position, camera, view, scale, occupied)


def draw_tags(
    picture: ImageArray, landmarks: FloatArray, tags: Sequence[Tag], occupied: Sequence[Box] = ()
) -> list[Box]:
    """Write tags above a player's head, one above the other; the boxes in which they stand.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB, changed in place
    landmarks
        (33, 2) pixels, NaN where unknown
    tags
        the lowest first
    occupied
        where other players' tags are
    """
    known = landmarks[np.isfinite(landmarks).all(axis=1)]
    if not len(known):
        return []
    scale = max(picture.shape[0], picture.shape[1]) / 1280
    head = np.array([known[:, 0].mean(), known[:, 1].min()])
    boxes: list[Box] = []
    for number, tag in enumerate(tags):
        place = head - [0.0, (12 + 30 * number) * scale]
        taken = [*occupied, *boxes]
        boxes.append(draw_tag(picture, tag.text, place, _tag_colours(tag), scale, taken))
    return boxes


def court_picture(
    background: ImageArray,
    lines: Sequence[FloatArray],
    net: Sequence[FloatArray],
    marks: FloatArray,
    caption: Sequence[str],
) -> ImageArray:
    """Draw a court over a still picture, to see whether it lies where the painted one does.

    Parameters
    ----------
    background
        (height, width, 3) uint8 RGB; stays as it is.
    lines
        middles of the painted lines, each (points, 2) pixels.
    net
        the same for the net's tape, drawn dashed.
    marks
        (marks, 2) pixels where points were marked.
    caption
        lines of text; none, no bar.
    """
    picture: ImageArray = background.copy()
    unit = max(picture.shape[:2]) / 1280
    for line in lines:
        for start, end in itertools.pairwise(line):
            draw_line(picture, start, end, SKY, line_thickness(1.5 * unit))
    for line in net:
        draw_dashes(picture, line[0], line[-1], WHITE, line_thickness(1.5 * unit), 14 * unit)
    for mark in marks:
        draw_dot(picture, mark, AMBER, 5 * unit, ring=True)
    if caption:
        draw_caption(picture, caption)
    return picture


def jpeg(picture: ImageArray, most_bytes: int) -> bytes:
    """The picture as JPEG, with lower quality and then size until it fits.

    Parameters
    ----------
    picture
        (height, width, 3) uint8 RGB.
    most_bytes
        size aimed at; the smallest version is returned where none fits.

    Raises
    ------
    StanceError
        OpenCV can't write JPEG.
    """
    for scale in (1.0, 0.75, 0.5):
        size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
        smaller = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        for quality in (88, 80, 70, 60):
            done, data = cv2.imencode(
                ".jpg",
                cv2.cvtColor(smaller, cv2.COLOR_RGB2BGR),
                [cv2.IMWRITE_JPEG_QUALITY, quality],
            )
            if not done:
                raise StanceError(_("A picture for the report could not be written as JPEG."))
            if data.size <= most_bytes:
                return data.tobytes()
    return data.tobytes()


def foot_middle(foot: FloorContact) -> FloatArray:
    """Where a foot stands: the middle (2,) of heel and toe, metres on the floor."""
    middle: FloatArray = np.array([foot.heel_m, foot.toe_m]).mean(axis=0)
    return middle


def _cut_out(
    image: ImageArray, known: FloatArray, shown_height: tuple[int, int]
) -> tuple[_View, ImageArray]:
    """The part of a frame around a player's known points (n, 2), so high in pixels."""
    box = _crop_box(image, known)
    shown = float(np.clip(box.bottom - box.top, *shown_height))
    view = _View(np.array([box.left, box.top], float), shown / (box.bottom - box.top))
    method = cv2.INTER_CUBIC if view.zoom > 1 else cv2.INTER_AREA
    size = (round((box.right - box.left) * view.zoom), round(shown))
    part = image[box.top : box.bottom, box.left : box.right]
    enlarged = cv2.resize(part, size, interpolation=method)
    return view, np.ascontiguousarray(enlarged, dtype=np.uint8)


def _crop_box(image: ImageArray, known: FloatArray) -> Box:
    """The part of the frame around a player's known points (n, 2), inside it."""
    image_height, image_width = image.shape[:2]
    if len(known) < 2 or not np.isfinite(known).all():
        return Box(0, 0, image_width, image_height)
    lowest, highest = known.min(axis=0), known.max(axis=0)
    tall, wide = highest[1] - lowest[1], highest[0] - lowest[0]
    tall = max(tall, 0.6 * wide, 24.0)
    middle = (lowest + highest) / 2
    width = min(round(max(_CROP_WIDTH * tall, _CROP_WIDTH * wide)), image_width)
    height = min(round(_CROP_HEIGHT * tall), image_height)
    left = int(np.clip(round(middle[0] - width / 2), 0, image_width - width))
    top = int(np.clip(round(middle[1] - height / 2), 0, image_height - height))
    return Box(left, top, left + width, top + height)


def _tag_colours(tag: Tag) -> tuple[Colour, Colour]:
    """Of a tag's field and of its text."""
    if tag.about == "theirs":
        return DARK, AMBER
    if tag.about == "own":
        return DARK, SKY
    return (DARK, WHITE) if tag.about == "name" else class_colours(tag.about)


def _draw_position(
    picture: ImageArray,
    landmarks: FloatArray,
    position: ReadyPosition,
    camera: Camera,
    view: _View,
    scale: float,
    occupied: Sequence[Box] = (),
) -> list[Box]:
    """Net line, foot line and hip line, with labels; where these are."""

    def shown(floor_points: FloatArray) -> FloatArray:
        points = np.column_stack([floor_points, np.zeros(len(floor_points))])
        return view.place(project(camera, points))

    base = np.array(position.base_m)
    if not np.isfinite(base).all():
        # Without a place on the court the net line is drawn through the feet as they are seen.
        base = np.mean([foot_middle(foot) for foot in position.feet], axis=0)
    reach = np.array([_NET_LINE_REACH_M, 0.0])
    net = shown(np.array([base - reach, base + reach]))
    feet = shown(np.array([foot_middle(foot) for foot in position.feet]))
    hips = view.place(landmarks[[LEFT_HIP, RIGHT_HIP]])
    draw_dashes(picture, net[0], net[1], WHITE, line_thickness(2.5 * scale), 12 * scale)
    draw_line(picture, feet[0], feet[1], AMBER, line_thickness(5 * scale))
    # The racket foot's end is a full disc, the other foot's a ring.
    draw_dot(picture, feet[0], AMBER, 9 * scale)
    draw_dot(picture, feet[1], AMBER, 9 * scale, ring=True)
    draw_line(picture, hips[0], hips[1], SKY, line_thickness(4 * scale))
    for joint in hips:
        draw_dot(picture, joint, SKY, 6 * scale, ring=True)
    # No label lies on the line between the feet.
    taken = [*occupied]
    if np.isfinite(feet).all():
        (left, top), (right, bottom) = feet.min(axis=0), feet.max(axis=0)
        taken.append(Box(int(left), int(top), int(right) + 1, int(bottom) + 1))
    labels: list[Box] = []
    for text, ends, colour in (
        (_("hips"), hips, SKY),
        (_("racket foot"), feet[[0, 0]], AMBER),
        (_("net line"), net, WHITE),
    ):
        if np.isfinite(ends).all():
            labels.append(draw_label(picture, text, ends, colour, scale, [*taken, *labels]))
    return labels
