"""All drawing: on pictures with OpenCV, and charts as SVG for the report.

Pixels count from the top left corner of the top left pixel. Pictures are (height, width, 3)
uint8 RGB. Every line and class has a shape, style or label of its own besides its colour, so
that it can be told in greyscale print and by the colour-blind. Classes run from light to dark;
the foot line is amber, the hip line blue, the net line dashed, in pictures and charts alike.
"""

import itertools
import math
from collections.abc import Sequence
from html import escape

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.camera import Camera, project
from stance.court import COURT_LENGTH, COURT_WIDTH, court_lines
from stance.errors import StanceError
from stance.result import CLASS_NAMES, FloorContact, PlayerResult, ReadyPosition

Picture = NDArray[np.uint8]
FloatArray = NDArray[np.float64]

# Colours of the report are CSS variables with a value for SVG that stands alone.
CLASS_FILLS = {
    "square": "var(--square,#8fd0c4)",
    "slightly_racket_leg_back": "var(--slight,#2a9d8f)",
    "over_side_on": "var(--over,#5b1a4f)",
    "not_assessed": "var(--paper,#ffffff)",
}
_INK = "var(--ink,#1b2430)"
_FAINT = "var(--faint,#5d6875)"
_PAPER = "var(--paper,#ffffff)"
_FEET = "var(--feet,#d98200)"
_HIPS = "var(--hips,#1f6fb4)"

_AMBER, _SKY, _WHITE, _DARK = (255, 176, 0), (110, 200, 255), (255, 255, 255), (16, 20, 26)
_RACKET_SIDE, _OTHER_SIDE = (255, 255, 255), (190, 200, 210)

_HEAD, _SHOULDERS, _HIP_JOINTS = 0, (11, 12), (23, 24)
_ANKLES, _HEELS, _TOES = (27, 28), (29, 30), (31, 32)
# Bones of one side by their left landmarks; the right one's number is one higher.
_SIDE_BONES = ((11, 23), (11, 13), (13, 15), (23, 25), (25, 27), (27, 29), (29, 31), (27, 31))

# Width that a number over the time line takes on a phone.
_NUMBER_PERCENT = 6.0

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
    image: Picture, landmarks: FloatArray, position: ReadyPosition, camera: Camera, hand: str
) -> Picture:
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
    picture: Picture = np.ascontiguousarray(enlarged, dtype=np.uint8)
    corner = np.array([left, top], float)
    _draw_player(picture, (landmarks - corner) * scale, hand, shown / 480)
    _draw_position(picture, landmarks, position, camera, corner, scale, shown / 480)
    return picture


def overlay_picture(
    image: Picture, landmarks: FloatArray | None, position: ReadyPosition | None,
    camera: Camera, hand: str, caption: Sequence[str],
) -> Picture:
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
    picture: Picture = np.ascontiguousarray(image).copy()
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
    background: Picture, lines: Sequence[FloatArray], net: Sequence[FloatArray],
    marks: FloatArray, caption: Sequence[str],
) -> Picture:
    """Draw a court over a still picture, to see whether it lies where the painted one does.

    Parameters
    ----------
    background : (height, width, 3) uint8 RGB; stays as it is.
    lines : middles of the painted lines, each (points, 2) pixels.
    net : the same for the net's tape, drawn dashed.
    marks : (marks, 2) pixels where points were marked.
    caption : lines of text.
    """
    picture: Picture = background.copy()
    unit = max(picture.shape[:2]) / 1280
    for line in lines:
        for start, end in itertools.pairwise(line):
            _stroke(picture, start, end, _SKY, _thickness(1.5 * unit))
    for line in net:
        _dashed(picture, line[0], line[-1], _WHITE, _thickness(1.5 * unit), 14 * unit)
    for mark in marks:
        _dot(picture, mark, _AMBER, 5 * unit, ring=True)
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


def jpeg(picture: Picture, most_bytes: int) -> bytes:
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
                ".jpg", cv2.cvtColor(smaller, cv2.COLOR_RGB2BGR),
                [cv2.IMWRITE_JPEG_QUALITY, quality],
            )
            if not done:
                raise StanceError("A picture for the report could not be written as JPEG.")
            if data.size <= most_bytes:
                return data.tobytes()
    return data.tobytes()


def view_from_above(position: ReadyPosition, hand: str, place_known: bool = True) -> str:
    """Feet and hips from above, to scale, the net at the top: an SVG picture as text.

    The racket side's shoe is filled. A wedge about the foot line shows one standard error to
    each side.

    Parameters
    ----------
    position : the ready position.
    hand : "right" or "left".
    place_known : whether the camera knows where on the court the player stands.
    """
    middles = np.array([_foot_middle(foot) for foot in position.feet])
    hips = np.array(position.hips_m)
    centre = middles.mean(axis=0)
    if not np.isfinite(middles).all():
        return _svg(320, 60, "View from above: not known", [
            _text(160, 35, "The place of the feet is not known.", anchor="middle")])
    half_width = max(0.5, 0.5 * float(np.hypot(*(middles[0] - middles[1]))) + 0.2)
    scale = 150 / half_width
    soles = np.array([[foot.heel_m, foot.toe_m] for foot in position.feet]).reshape(-1, 2)
    half_height = max(50.0, float(np.abs(soles - centre)[:, 1].max()) * scale + 16)
    origin = np.array([160.0, 62 + half_height])
    bottom = 2 * half_height + 62 + 38

    def on_paper(points: FloatArray) -> FloatArray:
        return np.asarray((points - centre) * [scale, -scale] + origin, float)

    parts = _net_on_top(float(position.base_m[1]) if place_known else math.nan)
    parts.append(_line(np.array([4.0, origin[1]]), np.array([316.0, origin[1]]),
                       f"stroke:{_FAINT};stroke-width:1.5;stroke-dasharray:6 5"))
    # Written on the other foot's side, where the racket foot's label is not.
    x, end = (4.0, "start") if hand == "right" else (316.0, "end")
    parts.append(_text(x, origin[1] + 14, "net line", anchor=end, small=True))
    feet = on_paper(middles)
    parts.append(_error_wedge(feet, position.lead_angle_se_deg))
    for foot, is_racket_side in zip(position.feet, (True, False), strict=True):
        parts.append(_shoe(on_paper(np.array(foot.heel_m)), on_paper(np.array(foot.toe_m)),
                           is_racket_side))
    parts.append(_line(feet[1], feet[0], f"stroke:{_FEET};stroke-width:4;stroke-linecap:round"))
    heel, toe = on_paper(soles[:2])
    label_x, label_y = _beyond(heel, toe, 16)
    parts.append(_text(label_x, label_y + 4, "racket", anchor="middle", small=True))
    if np.isfinite(hips).all() and math.isfinite(position.hip_yaw_deg):
        parts += _hip_line(on_paper(hips), position.hip_yaw_deg, hand)
    parts.append(_scale_bar(314 - 0.5 * scale, 314.0, bottom))
    parts += _key_line(6, bottom - 18, _FEET, "feet", position.lead_angle_deg, "foot")
    parts += _key_line(6, bottom, _HIPS, "hips", position.hip_yaw_deg, "hip")
    feet_words = facing_words(position.lead_angle_deg, "foot")
    hip_words = facing_words(position.hip_yaw_deg, "hip")
    return _svg(320, bottom + 8, f"View from above: feet, {feet_words}; hips, {hip_words}", parts)


def time_line(player: PlayerResult, duration_s: float, anchor: str) -> str:
    """When the player waited, and in which class: an SVG picture as text.

    Its width is that of the page; long clips take several rows. Each ready position links to
    `#<anchor>-<number>`.

    Parameters
    ----------
    player : the player.
    duration_s : seconds, of the clip.
    anchor : start of the cards' names, unique on the page.
    """
    row_s, rows = _time_rows(duration_s)
    row_height, bar_top, bar_height = 78, 28, 24
    parts = [_patterns(anchor)]
    for row in range(rows):
        top, begin = row * row_height, row * row_s
        parts.append(f'<rect x="0" y="{top + bar_top}" width="100%" height="{bar_height}" rx="4" '
                     f'style="fill:var(--rail,#e8ecf0)"/>')
        parts += _time_axis(begin, row_s, top + bar_top + bar_height)
    last_place, raised = (-1, 0.0), False
    for number, position in enumerate(player.ready_positions, start=1):
        first_row = min(int(position.start_s // row_s), rows - 1)
        last_row = min(int(position.end_s // row_s), rows - 1)
        for row in range(first_row, last_row + 1):
            begin = max(position.start_s - row * row_s, 0.0) / row_s * 100
            end = min(position.end_s - row * row_s, row_s) / row_s * 100
            y = row * row_height + bar_top
            label = ""
            if row == first_row:
                middle = (begin + end) / 2
                close = last_place[0] == row and middle - last_place[1] < _NUMBER_PERCENT
                raised = close and not raised
                last_place = row, middle
                label = _text_at_percent(middle, y - 5 - 11 * raised, str(number))
            parts.append(
                f'<a href="#{anchor}-{number}"><title>{number}: '
                f'{CLASS_NAMES[position.stance_class]}, {position.start_s:.1f} to '
                f'{position.end_s:.1f} s</title>'
                f'{_class_bar(position.stance_class, anchor, begin, end, y, bar_height)}'
                f'{label}</a>')
    label = f"Time line of player {player.player}: {len(player.ready_positions)} ready positions"
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="100%" height="{rows * row_height}" '
            f'role="img" aria-label="{escape(label)}">{"".join(parts)}</svg>')


def class_swatch(class_name: str, anchor: str) -> str:
    """A small field in a class's colour and pattern, for a key: an SVG picture as text.

    Parameters
    ----------
    class_name : the class, or "not_assessed".
    anchor : of a time line on the same page, which holds the patterns.
    """
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="22" height="14" aria-hidden="true">'
            f'{_class_bar(class_name, anchor, 0.0, 100.0, 0, 14)}</svg>')


def court_map(player: PlayerResult) -> str:
    """Where the player waited on the half court, to scale, net at the top: SVG as text.

    Parameters
    ----------
    player : the player; bases are drawn in the court frame of the player's own half.
    """
    scale, margin, top = 46.0, 14.0, 30.0
    width = COURT_WIDTH * scale + 2 * margin
    height = COURT_LENGTH / 2 * scale + top + 12

    def on_paper(x: float, y: float) -> tuple[float, float]:
        return margin + (x + COURT_WIDTH / 2) * scale, top - y * scale

    left, right = on_paper(-COURT_WIDTH / 2, 0)[0], on_paper(COURT_WIDTH / 2, 0)[0]
    parts = []
    parts.append(f'<rect x="{left:.1f}" y="{top}" width="{COURT_WIDTH * scale:.1f}" '
                 f'height="{COURT_LENGTH / 2 * scale:.1f}" style="fill:var(--court,#eef3ee)"/>')
    for line in court_lines():
        if line.y[0] < 0:
            x, y = on_paper(line.x[0], min(line.y[1], 0.0))
            parts.append(f'<rect x="{x:.1f}" y="{y:.1f}" '
                         f'width="{(line.x[1] - line.x[0]) * scale:.1f}" '
                         f'height="{(min(line.y[1], 0.0) - line.y[0]) * scale:.1f}" '
                         f'style="fill:{_FAINT}"/>')
    parts.append(f'<line x1="{left - 8:.1f}" y1="{top}" x2="{right + 8:.1f}" y2="{top}" '
                 f'style="stroke:{_INK};stroke-width:4;stroke-dasharray:3 2"/>')
    parts.append(_text(width / 2, top - 10, "net", anchor="middle"))
    places = {
        number: on_paper(*position.base_m)
        for number, position in enumerate(player.ready_positions, start=1)
        if np.isfinite(position.base_m).all()
    }
    spread = _spread(np.array(list(places.values()), float).reshape(-1, 2), 22.0,
                     (12.0, top + 12, width - 12, height - 12))
    for (x, y), (label_x, label_y) in zip(places.values(), spread, strict=True):
        parts.append(f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{label_x:.1f}" y2="{label_y:.1f}" '
                     f'style="stroke:{_INK};stroke-width:1"/>'
                     f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5" style="fill:{_INK}"/>')
    for number, (x, y) in zip(places, spread, strict=True):
        parts.append(_marker(player.ready_positions[number - 1].stance_class, number, x, y))
    label = f"Where player {player.player} waited on the half court"
    return _svg(width, height, label, parts)


# Pictures


def _crop_box(
    image: Picture, landmarks: FloatArray, position: ReadyPosition, camera: Camera
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


def _draw_player(picture: Picture, landmarks: FloatArray, hand: str, scale: float) -> None:
    """Skeleton; the racket side is brighter and thicker."""
    racket = 1 if hand == "right" else 0
    thin, thick = _thickness(1.6 * scale), _thickness(2.6 * scale)
    trunk_top = landmarks[list(_SHOULDERS)].mean(axis=0)
    _stroke(picture, landmarks[_HEAD], trunk_top, _OTHER_SIDE, thin)
    _stroke(picture, landmarks[_SHOULDERS[0]], landmarks[_SHOULDERS[1]], _OTHER_SIDE, thin)
    for side in (1 - racket, racket):
        colour, width = (_RACKET_SIDE, thick) if side == racket else (_OTHER_SIDE, thin)
        for start, end in _SIDE_BONES:
            _stroke(picture, landmarks[start + side], landmarks[end + side], colour, width)
    _dot(picture, landmarks[_HEAD], _WHITE, 3.5 * scale)


def _draw_position(
    picture: Picture, landmarks: FloatArray, position: ReadyPosition, camera: Camera,
    corner: FloatArray, zoom: float, scale: float,
) -> None:
    """Net line, foot line and hip line, with labels."""
    def shown(floor_points: FloatArray) -> FloatArray:
        points = np.column_stack([floor_points, np.zeros(len(floor_points))])
        return (project(camera, points) - corner) * zoom

    base = np.array(position.base_m)
    reach = np.array([_NET_LINE_REACH_M, 0.0])
    net = shown(np.array([base - reach, base + reach]))
    feet = shown(np.array([_foot_middle(foot) for foot in position.feet]))
    hips = (landmarks[list(_HIP_JOINTS)] - corner) * zoom
    _dashed(picture, net[0], net[1], _WHITE, _thickness(2.5 * scale), 12 * scale)
    _stroke(picture, feet[0], feet[1], _AMBER, _thickness(5 * scale))
    # The racket foot's end is a full disc, the other foot's a ring.
    _dot(picture, feet[0], _AMBER, 9 * scale)
    _dot(picture, feet[1], _AMBER, 9 * scale, ring=True)
    _stroke(picture, hips[0], hips[1], _SKY, _thickness(4 * scale))
    for joint in hips:
        _dot(picture, joint, _SKY, 6 * scale, ring=True)
    occupied: list[tuple[int, int, int, int]] = []
    for text, ends, colour in (
        ("hips", hips, _SKY), ("racket foot", feet[[0, 0]], _AMBER),
        ("net line", net, _WHITE),
    ):
        if np.isfinite(ends).all():
            _label(picture, text, ends, colour, scale, occupied)


def _label(
    picture: Picture, text: str, ends: FloatArray, colour: tuple[int, int, int], scale: float,
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
        covered = sum(_overlaps((left, top, left + box_width, top + box_height), other)
                      for other in occupied)
        boxes.append((covered, moved > 2, left, top))
    _, _, left, top = min(boxes, key=lambda box: box[:2])
    right, bottom = left + box_width, top + box_height
    occupied.append((left, top, right, bottom))
    cv2.rectangle(picture, (left, top), (right, bottom), _DARK, cv2.FILLED)
    cv2.putText(picture, text, (left + pad, top + pad + height), cv2.FONT_HERSHEY_SIMPLEX, size,
                colour, 1, cv2.LINE_AA)


def _overlaps(one: tuple[int, int, int, int], other: tuple[int, int, int, int]) -> bool:
    return (one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3])


def _draw_caption(picture: Picture, lines: Sequence[str]) -> None:
    """A dark bar at the top with lines of text, shrunk until the longest fits."""
    height, width = picture.shape[:2]
    size = max(height, width) / 1280 * 0.75
    margin = round(size * 16)
    widest = max(cv2.getTextSize(line, cv2.FONT_HERSHEY_SIMPLEX, size, 1)[0][0] for line in lines)
    size *= min(1.0, (width - 2 * margin) / max(widest, 1))
    step = round(size * 36)
    bar = picture[: step * len(lines) + margin]
    bar[:] = (bar * 0.25 + np.array(_DARK) * 0.75).astype(np.uint8)
    for row, line in enumerate(lines, start=1):
        cv2.putText(picture, line, (margin, row * step), cv2.FONT_HERSHEY_SIMPLEX, size, _WHITE,
                    max(1, round(size)), cv2.LINE_AA)


def _stroke(
    picture: Picture, start: FloatArray, end: FloatArray, colour: tuple[int, int, int],
    thickness: int,
) -> None:
    """A line with a dark edge, that shows on any background; none to an unknown end."""
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return
    ends = _fixed(start), _fixed(end)
    for shade, width in ((_DARK, thickness + 2), (colour, thickness)):
        cv2.line(picture, *ends, shade, width, cv2.LINE_AA, _SHIFT)


def _dashed(
    picture: Picture, start: FloatArray, end: FloatArray, colour: tuple[int, int, int],
    thickness: int, dash: float,
) -> None:
    if not (np.isfinite(start).all() and np.isfinite(end).all()):
        return
    number = max(3, int(np.hypot(*(end - start)) / dash)) // 2 * 2 + 1
    stops = np.linspace(start, end, number + 1)
    for first, last in zip(stops[0::2], stops[1::2], strict=True):
        _stroke(picture, first, last, colour, thickness)


def _dot(
    picture: Picture, place: FloatArray, colour: tuple[int, int, int], radius: float,
    ring: bool = False,
) -> None:
    if not np.isfinite(place).all():
        return
    size = round(radius * (1 << _SHIFT))
    edge = round((radius + 1.5) * (1 << _SHIFT))
    cv2.circle(picture, _fixed(place), edge, _DARK, cv2.FILLED, cv2.LINE_AA, _SHIFT)
    cv2.circle(picture, _fixed(place), size, colour, cv2.FILLED, cv2.LINE_AA, _SHIFT)
    if ring:
        cv2.circle(picture, _fixed(place), size // 2, _DARK, cv2.FILLED, cv2.LINE_AA, _SHIFT)


_SHIFT = 4  # OpenCV's fixed-point places: sixteenths of a pixel
_FAR_OUTSIDE = 20_000.0  # OpenCV's line drawing overflows on far larger coordinates


def _fixed(place: FloatArray) -> tuple[int, int]:
    """A place in OpenCV's fixed-point pixels, which count from the middle of the first pixel."""
    x, y = (min(max(value - 0.5, -_FAR_OUTSIDE), _FAR_OUTSIDE) for value in place.tolist())
    return round(x * (1 << _SHIFT)), round(y * (1 << _SHIFT))


def _thickness(width: float) -> int:
    return max(2, round(width))


def _foot_middle(foot: FloorContact) -> FloatArray:
    middle: FloatArray = np.array([foot.heel_m, foot.toe_m]).mean(axis=0)
    return middle


# Charts


def _svg(width: float, height: float, label: str, parts: Sequence[str]) -> str:
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'role="img" aria-label="{escape(label)}">{"".join(parts)}</svg>')


def _text(x: float, y: float, text: str, anchor: str = "start", small: bool = False) -> str:
    size = 11 if small else 13
    fill = _FAINT if small else _INK
    return (f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" '
            f'style="font-size:{size}px;fill:{fill}">{escape(text)}</text>')


def _text_at_percent(percent: float, y: float, text: str, anchor: str = "middle") -> str:
    return (f'<text x="{percent:.2f}%" y="{y:.0f}" text-anchor="{anchor}" '
            f'style="font-size:12px;fill:{_INK}">{escape(text)}</text>')


def _line(start: FloatArray, end: FloatArray, style: str) -> str:
    return (f'<line x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}" '
            f'style="{style}"/>')


def _beyond(place: FloatArray, centre: FloatArray, distance: float) -> tuple[float, float]:
    """A place moved away from a centre."""
    direction = (place - centre) / max(float(np.hypot(*(place - centre))), 1e-9)
    x, y = place + direction * distance
    return float(x), float(y)


def _net_on_top(base_y_m: float) -> list[str]:
    """The net along the upper edge, its distance, and an arrow towards it."""
    distance = f"net, {-base_y_m:.1f} m away" if math.isfinite(base_y_m) else "net"
    mesh = "".join(f"M{x} 6v9" for x in range(20, 310, 10))
    thin = f"fill:none;stroke:{_FAINT};stroke-width:1"
    bold = f"fill:none;stroke:{_INK};stroke-width:2.2;stroke-linejoin:round;stroke-linecap:round"
    return [
        f'<path d="{mesh}" style="{thin}"/>',
        f'<rect x="10" y="6" width="300" height="9" style="fill:none;stroke:{_INK}"/>',
        f'<path d="M160 56V26m-6 9l6-9l6 9" style="{bold}"/>',
        _text(10, 30, distance),
    ]


def _shoe(heel: FloatArray, toe: FloatArray, filled: bool) -> str:
    """The outline of a shoe sole on a heel and a toe; the racket side's is filled."""
    along = toe - heel
    across = np.array([-along[1], along[0]])
    # Half a sole: how far along and across, in lengths from heel to toe.
    outline = [(-0.10, 0.0), (-0.10, 0.12), (0.0, 0.15), (0.25, 0.13), (0.45, 0.12),
               (0.62, 0.20), (0.85, 0.20), (1.02, 0.17), (1.12, 0.08), (1.12, 0.0)]
    whole = outline + [(a, -b) for a, b in reversed(outline[1:-1])]
    points = np.array([heel + a * along + b * across for a, b in whole])
    middles = (points + np.roll(points, -1, axis=0)) / 2
    start = middles[-1]
    path = f"M{start[0]:.1f} {start[1]:.1f}" + "".join(
        f"Q{c[0]:.1f} {c[1]:.1f} {m[0]:.1f} {m[1]:.1f}"
        for c, m in zip(points, middles, strict=True))
    fill = "var(--shoe,#7b8794)" if filled else _PAPER
    return f'<path d="{path}Z" style="fill:{fill};stroke:{_INK};stroke-width:1.6"/>'


def _error_wedge(feet: FloatArray, error_deg: float) -> str:
    """A double wedge about the foot line: one standard error to each side."""
    if not math.isfinite(error_deg):
        return ""
    centre = feet.mean(axis=0)
    wedges = ""
    for foot in feet:
        tips = []
        for angle in np.radians([-error_deg, error_deg]):
            turn = np.array([[math.cos(angle), -math.sin(angle)],
                             [math.sin(angle), math.cos(angle)]])
            tips.append(centre + turn @ (foot - centre) * 1.25)
        wedges += (f"M{centre[0]:.1f} {centre[1]:.1f}L{tips[0][0]:.1f} {tips[0][1]:.1f}"
                   f"L{tips[1][0]:.1f} {tips[1][1]:.1f}Z")
    return f'<path d="{wedges}" style="fill:{_FEET};fill-opacity:.28"/>'


def _hip_line(hips: FloatArray, hip_yaw_deg: float, hand: str) -> list[str]:
    """The hip line through the hips' middle, as long as the hips, in the measured direction."""
    side = 1.0 if hand == "right" else -1.0
    yaw = math.radians(hip_yaw_deg)
    direction = np.array([side * math.cos(yaw), -math.sin(yaw)])
    half = direction * np.hypot(*(hips[0] - hips[1])) / 2
    middle = hips.mean(axis=0)
    parts = [_line(middle - half, middle + half, f"stroke:{_PAPER};stroke-width:9"),
             _line(middle - half, middle + half, f"stroke:{_HIPS};stroke-width:5")]
    for end, fill in ((middle - half, _PAPER), (middle + half, _HIPS)):
        parts.append(f'<circle cx="{end[0]:.1f}" cy="{end[1]:.1f}" r="6" '
                     f'style="fill:{fill};stroke:{_HIPS};stroke-width:3"/>')
    return parts


def _key_line(
    x: float, y: float, colour: str, name: str, angle_deg: float, part: str
) -> list[str]:
    """A line of the key: colour, name and angle in short words."""
    style = f"stroke:{colour};stroke-width:5;stroke-linecap:round"
    words = facing_words(angle_deg, part).removeprefix(f"racket {part} ").split(",")[0]
    words = words.replace(" degrees", "°").replace(" degree", "°")
    return [_line(np.array([x, y - 4]), np.array([x + 14, y - 4]), style),
            _text(x + 22, y, f"{name}: {words}")]


def _scale_bar(start: float, end: float, y: float) -> str:
    return (f'<path d="M{start:.1f} {y - 4}v4H{end:.1f}v-4" '
            f'style="fill:none;stroke:{_INK};stroke-width:1.5"/>'
            + _text((start + end) / 2, y - 5, "0.5 m", anchor="middle", small=True))


def _patterns(anchor: str) -> str:
    """The classes' patterns: plain, stripes and cross-hatching, dashes where not assessed."""
    def pattern(name: str, drawing: str) -> str:
        return (f'<pattern id="{anchor}-{name}" width="8" height="8" '
                f'patternUnits="userSpaceOnUse"><rect width="8" height="8" '
                f'style="fill:{CLASS_FILLS[name]}"/><path d="{drawing}" '
                f'style="stroke:{_PAPER};stroke-width:1.4;fill:none"/></pattern>')

    stripes = "M-2 2L2 -2M0 8L8 0M6 10L10 6"
    return ("<defs>" + pattern("slightly_racket_leg_back", stripes)
            + pattern("over_side_on", "M0 0L8 8M8 0L0 8") + "</defs>")


def _class_bar(
    class_name: str, anchor: str, begin: float, end: float, y: float, height: float
) -> str:
    """A field in a class's colour and pattern; `begin` and `end` in percent of the width."""
    fill = (f"url(#{anchor}-{class_name})"
            if class_name in ("slightly_racket_leg_back", "over_side_on")
            else CLASS_FILLS[class_name])
    dashes = "stroke-dasharray:3 2;" if class_name == "not_assessed" else ""
    return (f'<rect x="{begin:.2f}%" y="{y}" width="{end - begin:.2f}%" height="{height}" '
            f'style="fill:{fill};stroke:{_INK};stroke-width:1;{dashes}"/>')


def _time_rows(duration_s: float) -> tuple[float, int]:
    """Seconds a row, and the number of rows: 30 s a row, more where that makes over 12 rows."""
    rows = min(max(math.ceil(duration_s / 30), 1), 12)
    return max(duration_s, 0.1) / rows, rows


def _time_axis(begin_s: float, length_s: float, y: float) -> list[str]:
    """Ticks with seconds under a row of the time line."""
    step = next((s for s in (0.5, 1, 2, 5, 10, 20, 30, 60) if length_s / s <= 7), 120)
    first = math.ceil(begin_s / step - 1e-9)
    parts = []
    while first * step <= begin_s + length_s + 1e-9:
        seconds = first * step
        percent = (seconds - begin_s) / length_s * 100
        anchor = "start" if percent < 3 else "end" if percent > 97 else "middle"
        parts.append(f'<line x1="{percent:.2f}%" y1="{y}" x2="{percent:.2f}%" y2="{y + 5}" '
                     f'style="stroke:{_FAINT};stroke-width:1"/>'
                     + _text_at_percent(percent, y + 18, f"{seconds:g} s", anchor))
        first += 1
    return parts


def _marker(class_name: str, number: int, x: float, y: float) -> str:
    """A numbered mark whose shape and colour tell the class."""
    style = f'style="fill:{CLASS_FILLS[class_name]};stroke:{_INK};stroke-width:1.2'
    shape = {
        "square": f'<rect x="{x - 9:.1f}" y="{y - 9:.1f}" width="18" height="18" {style}"/>',
        "slightly_racket_leg_back":
            f'<path d="M{x - 13:.1f} {y:.1f}l13 -12l13 12l-13 12Z" {style}"/>',
        "over_side_on": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="10.5" {style}"/>',
    }.get(class_name,
          f'<circle cx="{x:.1f}" cy="{y:.1f}" r="10.5" {style};stroke-dasharray:3 2"/>')
    ink = {
        "square": "var(--on-square,#0d2b27)",
        "slightly_racket_leg_back": "var(--on-slight,#ffffff)",
        "over_side_on": "var(--on-over,#ffffff)",
    }.get(class_name, _INK)
    return (f'{shape}<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" '
            f'style="font-size:11px;font-weight:600;fill:{ink}">{number}</text>')


def _spread(
    places: FloatArray, gap: float, bounds: tuple[float, float, float, float]
) -> FloatArray:
    """Places pushed apart until none is nearer to another than a gap, or nearly so.

    Parameters
    ----------
    places : (places, 2)
    gap : least distance wanted.
    bounds : left, top, right and bottom that they stay within.
    """
    spread = np.array([[x, y] for x, y in places], float).reshape(-1, 2)
    # A first step each in a direction of its own parts places that coincide.
    turns = np.arange(len(spread)) * 2.4
    spread += 0.5 * np.column_stack([np.cos(turns), np.sin(turns)])
    for _ in range(200):
        apart = spread[:, None] - spread[None]
        distance = np.hypot(apart[..., 0], apart[..., 1])
        np.fill_diagonal(distance, np.inf)
        lacking = np.clip(gap - distance, 0, None)
        if lacking.max(initial=0.0) < 0.05:
            break
        push = apart * (lacking / np.maximum(distance, 1e-6))[..., None]
        spread += 0.4 * push.sum(axis=1)
        spread = np.clip(spread, bounds[:2], bounds[2:])
    return spread
