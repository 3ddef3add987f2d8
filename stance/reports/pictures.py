"""Pictures: a player's pose and stance drawn on the clip's frames."""

import itertools
import math
from collections.abc import Sequence

import cv2
import numpy as np

from stance.court.camera import Camera, project
from stance.errors import StanceError
from stance.reports.palette import AMBER, DARK, OTHER_SIDE, RACKET_SIDE, SKY, WHITE
from stance.results.model import FloorContact, ReadyPosition
from stance.types import CLASS_NAMES, FloatArray, Hand, ImageArray

_HEAD, _SHOULDERS, _HIP_JOINTS = 0, (11, 12), (23, 24)

# Bones of one side by their left landmarks; the right one's number is one higher.
_SIDE_BONES = ((11, 23), (11, 13), (13, 15), (23, 25), (25, 27), (27, 29), (29, 31), (27, 31))

_CROP_HEIGHT = 1.6

_CROP_WIDTH = 1.35

_SHOWN_HEIGHT = (480, 720)

_NET_LINE_REACH_M = 0.8


def facing_words(angle_deg: float, part: str) -> str:
    """An angle against the net line in words: "racket foot 16 degrees back".

    Parameters
    ----------
    angle_deg : degrees, negative where the racket side is back; NaN is "not known".
    part : "foot", "hip" or "shoulder".
    """
    if not math.isfinite(angle_deg):
        return "not known"
    size = round(abs(angle_deg))
    if size == 0:
        return "along the net line"
    unit = "degree" if size == 1 else "degrees"
    side = "back" if angle_deg < 0 else "leading"
    turned = ", back to the net" if size > 90 and part != "foot" else ""
    return f"racket {part} {size} {unit} {side}{turned}"


def key_picture(
    image: ImageArray, landmarks: FloatArray, position: ReadyPosition, camera: Camera, hand: Hand
) -> ImageArray:
    """The player in a ready position, cut out, with skeleton, foot line, hip line and net line.

    Parameters
    ----------
    image : (height, width, 3) uint8 RGB, the upright frame.
    landmarks : (33, 2) pixels of the upright frame, NaN where unknown; mediapipe's numbers.
    position : the ready position.
    camera : of the frame; its court frame is that of the player's own half.
    hand : "right" or "left".

    Returns
    -------
    (height, width, 3) uint8 RGB: 480 to 720 pixels high, less only in width where the frame is
    narrow. Small players are enlarged.
    """
    left, top, right, bottom = _crop_box(image, landmarks, position, camera)
    shown = float(np.clip(bottom - top, *_SHOWN_HEIGHT))
    scale = shown / (bottom - top)
    method = cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA
    size = (round((right - left) * scale), round(shown))
    enlarged = cv2.resize(image[top:bottom, left:right], size, interpolation=method)
    picture: ImageArray = np.ascontiguousarray(enlarged, dtype=np.uint8)
    corner = np.array([left, top], float)
    _draw_player(picture, (landmarks - corner) * scale, hand, shown / 480)
    _draw_position(picture, landmarks, position, camera, corner, scale, shown / 480)
    return picture


def overlay_picture(
    image: ImageArray,
    landmarks: FloatArray | None,
    position: ReadyPosition | None,
    camera: Camera,
    hand: Hand,
    caption: Sequence[str],
) -> ImageArray:
    """A whole frame with the player's skeleton and a caption, for the overlay video.

    Parameters
    ----------
    image : (height, width, 3) uint8 RGB, the upright frame; stays as it is.
    landmarks : (33, 2) pixels, NaN where unknown; None where the player was not found.
    position : the ready position that the frame is part of; None between ready positions.
    camera : of the frame; its court frame is that of the player's own half.
    hand : "right" or "left".
    caption : lines of text for the bar at the top, see `overlay_caption`; none, no bar.

    Returns
    -------
    (height, width, 3) uint8 RGB, the size of the frame.
    """
    picture: ImageArray = np.ascontiguousarray(image).copy()
    scale = max(picture.shape[0], picture.shape[1]) / 1280
    corner = np.zeros(2)
    if landmarks is not None:
        _draw_player(picture, landmarks, hand, scale)
        if position is not None:
            _draw_position(picture, landmarks, position, camera, corner, 1.0, scale)
    if caption:
        _draw_caption(picture, caption)
    return picture


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
    background : (height, width, 3) uint8 RGB; stays as it is.
    lines : middles of the painted lines, each (points, 2) pixels.
    net : the same for the net's tape, drawn dashed.
    marks : (marks, 2) pixels where points were marked.
    caption : lines of text.
    """
    picture: ImageArray = background.copy()
    unit = max(picture.shape[:2]) / 1280
    for line in lines:
        for start, end in itertools.pairwise(line):
            _stroke(picture, start, end, SKY, _thickness(1.5 * unit))
    for line in net:
        _dashed(picture, line[0], line[-1], WHITE, _thickness(1.5 * unit), 14 * unit)
    for mark in marks:
        _dot(picture, mark, AMBER, 5 * unit, ring=True)
    _draw_caption(picture, caption)
    return picture


def overlay_caption(
    time_s: float, position: ReadyPosition | None, number: int | None = None
) -> tuple[str, str]:
    """Two lines for the overlay video's caption bar: what the player does, and the measures."""
    if position is None:
        return f"{time_s:.1f} s   between ready positions", ""
    name = CLASS_NAMES[position.stance_class]
    feet = facing_words(position.lead_angle_deg, "foot")
    hips = facing_words(position.hip_yaw_deg, "hip")
    return f"{time_s:.1f} s   ready position {number}: {name}", f"feet: {feet};  hips: {hips}"


def jpeg(picture: ImageArray, most_bytes: int) -> bytes:
    """The picture as JPEG, with lower quality and then size until it fits.

    Parameters
    ----------
    picture : (height, width, 3) uint8 RGB.
    most_bytes : size aimed at; the smallest version is returned where none fits.

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
                raise StanceError("A picture for the report could not be written as JPEG.")
            if data.size <= most_bytes:
                return data.tobytes()
    return data.tobytes()


def _crop_box(
    image: ImageArray, landmarks: FloatArray, position: ReadyPosition, camera: Camera
) -> tuple[int, int, int, int]:
    """Left, top, right and bottom pixel of the cut-out, inside the image."""
    image_height, image_width = image.shape[:2]
    known = landmarks[np.isfinite(landmarks).all(axis=1)]
    if len(known) < 2:
        known = project(camera, [[*position.base_m, 0.0], [*position.base_m, 1.7]])
    if not np.isfinite(known).all():
        return 0, 0, image_width, image_height
    lowest, highest = known.min(axis=0), known.max(axis=0)
    tall, wide = highest[1] - lowest[1], highest[0] - lowest[0]
    tall = max(tall, 0.6 * wide, 24.0)
    middle = (lowest + highest) / 2
    width = min(round(max(_CROP_WIDTH * tall, _CROP_WIDTH * wide)), image_width)
    height = min(round(_CROP_HEIGHT * tall), image_height)
    left = int(np.clip(round(middle[0] - width / 2), 0, image_width - width))
    top = int(np.clip(round(middle[1] - height / 2), 0, image_height - height))
    return left, top, left + width, top + height


def _draw_player(picture: ImageArray, landmarks: FloatArray, hand: Hand, scale: float) -> None:
    """Skeleton; the racket side is brighter and thicker."""
    racket = 1 if hand == "right" else 0
    thin, thick = _thickness(1.6 * scale), _thickness(2.6 * scale)
    trunk_top = landmarks[list(_SHOULDERS)].mean(axis=0)
    _stroke(picture, landmarks[_HEAD], trunk_top, OTHER_SIDE, thin)
    _stroke(picture, landmarks[_SHOULDERS[0]], landmarks[_SHOULDERS[1]], OTHER_SIDE, thin)
    for side in (1 - racket, racket):
        colour, width = (RACKET_SIDE, thick) if side == racket else (OTHER_SIDE, thin)
        for start, end in _SIDE_BONES:
            _stroke(picture, landmarks[start + side], landmarks[end + side], colour, width)
    _dot(picture, landmarks[_HEAD], WHITE, 3.5 * scale)


def _draw_position(
    picture: ImageArray,
    landmarks: FloatArray,
    position: ReadyPosition,
    camera: Camera,
    corner: FloatArray,
    zoom: float,
    scale: float,
) -> None:
    """Net line, foot line and hip line, with labels."""

    def shown(floor_points: FloatArray) -> FloatArray:
        points = np.column_stack([floor_points, np.zeros(len(floor_points))])
        return (project(camera, points) - corner) * zoom

    base = np.array(position.base_m)
    reach = np.array([_NET_LINE_REACH_M, 0.0])
    net = shown(np.array([base - reach, base + reach]))
    feet = shown(np.array([foot_middle(foot) for foot in position.feet]))
    hips = (landmarks[list(_HIP_JOINTS)] - corner) * zoom
    _dashed(picture, net[0], net[1], WHITE, _thickness(2.5 * scale), 12 * scale)
    _stroke(picture, feet[0], feet[1], AMBER, _thickness(5 * scale))
    # The racket foot's end is a full disc, the other foot's a ring.
    _dot(picture, feet[0], AMBER, 9 * scale)
    _dot(picture, feet[1], AMBER, 9 * scale, ring=True)
    _stroke(picture, hips[0], hips[1], SKY, _thickness(4 * scale))
    for joint in hips:
        _dot(picture, joint, SKY, 6 * scale, ring=True)
    occupied: list[tuple[int, int, int, int]] = []
    for text, ends, colour in (
        ("hips", hips, SKY),
        ("racket foot", feet[[0, 0]], AMBER),
        ("net line", net, WHITE),
    ):
        if np.isfinite(ends).all():
            _label(picture, text, ends, colour, scale, occupied)


def _label(
    picture: ImageArray,
    text: str,
    ends: FloatArray,
    colour: tuple[int, int, int],
    scale: float,
    occupied: list[tuple[int, int, int, int]],
) -> None:
    """Write a label near one end of a line, where it covers no other label."""
    size = 0.6 * max(scale, 0.7)
    (width, height), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, size, 1)
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
        moved = abs(left - x) + abs(top - y)
        covered = sum(
            _overlaps((left, top, left + box_width, top + box_height), other) for other in occupied
        )
        boxes.append((covered, moved > 2, left, top))
    _, _, left, top = min(boxes, key=lambda box: box[:2])
    right, bottom = left + box_width, top + box_height
    occupied.append((left, top, right, bottom))
    cv2.rectangle(picture, (left, top), (right, bottom), DARK, cv2.FILLED)
    cv2.putText(
        picture,
        text,
        (left + pad, top + pad + height),
        cv2.FONT_HERSHEY_SIMPLEX,
        size,
        colour,
        1,
        cv2.LINE_AA,
    )


def _overlaps(one: tuple[int, int, int, int], other: tuple[int, int, int, int]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _draw_caption(picture: ImageArray, lines: Sequence[str]) -> None:
    """A dark bar at the top with lines of text, shrunk until the longest fits."""
    height, width = picture.shape[:2]
    size = max(height, width) / 1280 * 0.75
    margin = round(size * 16)
    widest = max(cv2.getTextSize(line, cv2.FONT_HERSHEY_SIMPLEX, size, 1)[0][0] for line in lines)
    size *= min(1.0, (width - 2 * margin) / max(widest, 1))
    step = round(size * 36)
    bar = picture[: step * len(lines) + margin]
    bar[:] = (bar * 0.25 + np.array(DARK) * 0.75).astype(np.uint8)
    for row, line in enumerate(lines, start=1):
        cv2.putText(
            picture,
            line,
            (margin, row * step),
            cv2.FONT_HERSHEY_SIMPLEX,
            size,
            WHITE,
            max(1, round(size)),
            cv2.LINE_AA,
        )


def _stroke(
    picture: ImageArray,
    start: FloatArray,
    end: FloatArray,
    colour: tuple[int, int, int],
    thickness: int,
) -> None:
    """A line with a dark edge, that shows on any background; none to an unknown end."""
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return
    ends = _fixed(start), _fixed(end)
    for shade, width in ((DARK, thickness + 2), (colour, thickness)):
        cv2.line(picture, *ends, shade, width, cv2.LINE_AA, _SHIFT)


def _dashed(
    picture: ImageArray,
    start: FloatArray,
    end: FloatArray,
    colour: tuple[int, int, int],
    thickness: int,
    dash: float,
) -> None:
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return
    number = max(3, int(np.hypot(*(end - start)) / dash)) // 2 * 2 + 1
    stops = np.linspace(start, end, number + 1)
    for first, last in zip(stops[0::2], stops[1::2], strict=True):
        _stroke(picture, first, last, colour, thickness)


def _dot(
    picture: ImageArray,
    place: FloatArray,
    colour: tuple[int, int, int],
    radius: float,
    ring: bool = False,
) -> None:
    if not np.isfinite(place).all():
        return
    size = round(radius * (1 << _SHIFT))
    edge = round((radius + 1.5) * (1 << _SHIFT))
    cv2.circle(picture, _fixed(place), edge, DARK, cv2.FILLED, cv2.LINE_AA, _SHIFT)
    cv2.circle(picture, _fixed(place), size, colour, cv2.FILLED, cv2.LINE_AA, _SHIFT)
    if ring:
        cv2.circle(picture, _fixed(place), size // 2, DARK, cv2.FILLED, cv2.LINE_AA, _SHIFT)


_SHIFT = 4  # OpenCV's fixed-point places: sixteenths of a pixel

_FAR_OUTSIDE = 20_000.0  # OpenCV's line drawing overflows on far larger coordinates


def _fixed(place: FloatArray) -> tuple[int, int]:
    """A place in OpenCV's fixed-point pixels, which count from the middle of the first pixel."""
    x, y = (min(max(value - 0.5, -_FAR_OUTSIDE), _FAR_OUTSIDE) for value in place.tolist())
    return round(x * (1 << _SHIFT)), round(y * (1 << _SHIFT))


def _thickness(width: float) -> int:
    return max(2, round(width))


def foot_middle(foot: FloorContact) -> FloatArray:
    middle: FloatArray = np.array([foot.heel_m, foot.toe_m]).mean(axis=0)
    return middle
