"""A stance from above, as SVG."""

import math

import numpy as np

from stance.reports.palette import FAINT, FEET, HIPS, INK, PAPER
from stance.reports.pictures import facing_words, foot_middle
from stance.reports.svg import beyond_arrow, svg_document, svg_line, svg_text
from stance.results.model import ReadyPosition
from stance.types import FloatArray, Hand


def view_from_above(position: ReadyPosition, hand: Hand, place_known: bool = True) -> str:
    """Feet and hips from above, to scale, the net at the top: an SVG picture as text.

    The racket side's shoe is filled. A wedge about the foot line shows one standard error to
    each side.

    Parameters
    ----------
    position : the ready position.
    hand : "right" or "left".
    place_known : whether the camera knows where on the court the player stands.
    """
    middles = np.array([foot_middle(foot) for foot in position.feet])
    hips = np.array(position.hips_m)
    centre = middles.mean(axis=0)
    if not np.isfinite(middles).all():
        return svg_document(
            320,
            60,
            "View from above: not known",
            [svg_text(160, 35, "The place of the feet is not known.", anchor="middle")],
        )
    half_width = max(0.5, 0.5 * float(np.hypot(*(middles[0] - middles[1]))) + 0.2)
    scale = 150 / half_width
    soles = np.array([[foot.heel_m, foot.toe_m] for foot in position.feet]).reshape(-1, 2)
    half_height = max(50.0, float(np.abs(soles - centre)[:, 1].max()) * scale + 16)
    origin = np.array([160.0, 62 + half_height])
    bottom = 2 * half_height + 62 + 38

    def on_paper(points: FloatArray) -> FloatArray:
        return np.asarray((points - centre) * [scale, -scale] + origin, float)

    parts = _net_on_top(float(position.base_m[1]) if place_known else math.nan)
    parts.append(
        svg_line(
            np.array([4.0, origin[1]]),
            np.array([316.0, origin[1]]),
            f"stroke:{FAINT};stroke-width:1.5;stroke-dasharray:6 5",
        )
    )
    # Written on the other foot's side, where the racket foot's label is not.
    x, end = (4.0, "start") if hand == "right" else (316.0, "end")
    parts.append(svg_text(x, origin[1] + 14, "net line", anchor=end, small=True))
    feet = on_paper(middles)
    parts.append(_error_wedge(feet, position.lead_angle_se_deg))
    for foot, is_racket_side in zip(position.feet, (True, False), strict=True):
        parts.append(
            _shoe(on_paper(np.array(foot.heel_m)), on_paper(np.array(foot.toe_m)), is_racket_side)
        )
    parts.append(svg_line(feet[1], feet[0], f"stroke:{FEET};stroke-width:4;stroke-linecap:round"))
    heel, toe = on_paper(soles[:2])
    label_x, label_y = beyond_arrow(heel, toe, 16)
    parts.append(svg_text(label_x, label_y + 4, "racket", anchor="middle", small=True))
    if np.isfinite(hips).all() and math.isfinite(position.hip_yaw_deg):
        parts += _hip_line(on_paper(hips), position.hip_yaw_deg, hand)
    parts.append(_scale_bar(314 - 0.5 * scale, 314.0, bottom))
    parts += _key_line(6, bottom - 18, FEET, "feet", position.lead_angle_deg, "foot")
    parts += _key_line(6, bottom, HIPS, "hips", position.hip_yaw_deg, "hip")
    feet_words = facing_words(position.lead_angle_deg, "foot")
    hip_words = facing_words(position.hip_yaw_deg, "hip")
    return svg_document(
        320, bottom + 8, f"View from above: feet, {feet_words}; hips, {hip_words}", parts
    )


def _net_on_top(base_y_m: float) -> list[str]:
    """The net along the upper edge, its distance, and an arrow towards it."""
    distance = f"net, {-base_y_m:.1f} m away" if math.isfinite(base_y_m) else "net"
    mesh = "".join(f"M{x} 6v9" for x in range(20, 310, 10))
    thin = f"fill:none;stroke:{FAINT};stroke-width:1"
    bold = f"fill:none;stroke:{INK};stroke-width:2.2;stroke-linejoin:round;stroke-linecap:round"
    return [
        f'<path d="{mesh}" style="{thin}"/>',
        f'<rect x="10" y="6" width="300" height="9" style="fill:none;stroke:{INK}"/>',
        f'<path d="M160 56V26m-6 9l6-9l6 9" style="{bold}"/>',
        svg_text(10, 30, distance),
    ]


def _shoe(heel: FloatArray, toe: FloatArray, filled: bool) -> str:
    """The outline of a shoe sole on a heel and a toe; the racket side's is filled."""
    along = toe - heel
    across = np.array([-along[1], along[0]])
    # Half a sole: how far along and across, in lengths from heel to toe.
    outline = [
        (-0.10, 0.0),
        (-0.10, 0.12),
        (0.0, 0.15),
        (0.25, 0.13),
        (0.45, 0.12),
        (0.62, 0.20),
        (0.85, 0.20),
        (1.02, 0.17),
        (1.12, 0.08),
        (1.12, 0.0),
    ]
    whole = outline + [(a, -b) for a, b in reversed(outline[1:-1])]
    points = np.array([heel + a * along + b * across for a, b in whole])
    middles = (points + np.roll(points, -1, axis=0)) / 2
    start = middles[-1]
    path = f"M{start[0]:.1f} {start[1]:.1f}" + "".join(
        f"Q{c[0]:.1f} {c[1]:.1f} {m[0]:.1f} {m[1]:.1f}"
        for c, m in zip(points, middles, strict=True)
    )
    fill = "var(--shoe,#7b8794)" if filled else PAPER
    return f'<path d="{path}Z" style="fill:{fill};stroke:{INK};stroke-width:1.6"/>'


def _error_wedge(feet: FloatArray, error_deg: float) -> str:
    """A double wedge about the foot line: one standard error to each side."""
    if not math.isfinite(error_deg):
        return ""
    centre = feet.mean(axis=0)
    wedges = ""
    for foot in feet:
        tips = []
        for angle in np.radians([-error_deg, error_deg]):
            turn = np.array(
                [[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]]
            )
            tips.append(centre + turn @ (foot - centre) * 1.25)
        wedges += (
            f"M{centre[0]:.1f} {centre[1]:.1f}L{tips[0][0]:.1f} {tips[0][1]:.1f}"
            f"L{tips[1][0]:.1f} {tips[1][1]:.1f}Z"
        )
    return f'<path d="{wedges}" style="fill:{FEET};fill-opacity:.28"/>'


def _hip_line(hips: FloatArray, hip_yaw_deg: float, hand: Hand) -> list[str]:
    """The hip line through the hips' middle, as long as the hips, in the measured direction."""
    side = 1.0 if hand == "right" else -1.0
    yaw = math.radians(hip_yaw_deg)
    direction = np.array([side * math.cos(yaw), -math.sin(yaw)])
    half = direction * np.hypot(*(hips[0] - hips[1])) / 2
    middle = hips.mean(axis=0)
    parts = [
        svg_line(middle - half, middle + half, f"stroke:{PAPER};stroke-width:9"),
        svg_line(middle - half, middle + half, f"stroke:{HIPS};stroke-width:5"),
    ]
    for end, fill in ((middle - half, PAPER), (middle + half, HIPS)):
        parts.append(
            f'<circle cx="{end[0]:.1f}" cy="{end[1]:.1f}" r="6" '
            f'style="fill:{fill};stroke:{HIPS};stroke-width:3"/>'
        )
    return parts


def _key_line(x: float, y: float, colour: str, name: str, angle_deg: float, part: str) -> list[str]:
    """A line of the key: colour, name and angle in short words."""
    style = f"stroke:{colour};stroke-width:5;stroke-linecap:round"
    words = facing_words(angle_deg, part).removeprefix(f"racket {part} ").split(",")[0]
    words = words.replace(" degrees", "°").replace(" degree", "°")
    return [
        svg_line(np.array([x, y - 4]), np.array([x + 14, y - 4]), style),
        svg_text(x + 22, y, f"{name}: {words}"),
    ]


def _scale_bar(start: float, end: float, y: float) -> str:
    return (
        f'<path d="M{start:.1f} {y - 4}v4H{end:.1f}v-4" '
        f'style="fill:none;stroke:{INK};stroke-width:1.5"/>'
        + svg_text((start + end) / 2, y - 5, "0.5 m", anchor="middle", small=True)
    )
