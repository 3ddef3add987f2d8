"""A stance from above, as SVG."""

import math
from collections.abc import Iterable

import numpy as np
from markupsafe import Markup

from stance.assessment.angle_words import turned_words
from stance.reports.pages import chart, in_pixels
from stance.reports.pictures import foot_middle
from stance.reports.sentences import stance_words
from stance.results.model import ReadyPosition
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.types import FloatArray, Hand

# Half a shoe's sole: how far along and across, in lengths from heel to toe.
_SOLE = (
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
)

_WIDTH, _NET_HEIGHT, _KEY_HEIGHT = 320.0, 62.0, 38.0


def view_from_above(position: ReadyPosition, hand: Hand, place_known: bool = True) -> Markup:
    """Feet and hips from above, to scale, the net at the top.

    The racket side's shoe is filled. A wedge about the foot line shows one standard error to
    each side.

    Parameters
    ----------
    position
        the ready position.
    hand
        "right" or "left".
    place_known
        whether the camera knows where on the court the player stands.
    """
    middles = np.array([foot_middle(foot) for foot in position.feet])
    if not np.isfinite(middles).all():
        return chart("stance_unknown.svg")
    centre = middles.mean(axis=0)
    half_width = max(0.5, 0.5 * float(np.hypot(*(middles[0] - middles[1]))) + 0.2)
    scale = 150 / half_width
    soles = np.array([[foot.heel_m, foot.toe_m] for foot in position.feet])
    half_height = max(50.0, float(np.abs(soles - centre)[..., 1].max()) * scale + 16)
    origin = np.array([_WIDTH / 2, _NET_HEIGHT + half_height])

    def on_paper(points: FloatArray) -> FloatArray:
        return np.asarray((points - centre) * [scale, -scale] + origin, float)

    feet, hips = on_paper(middles), np.array(position.hips_m)
    heel, toe = on_paper(soles[0])
    away = position.base_m[1] if place_known else math.nan
    hip_ends = _hip_line(on_paper(hips), position.hip_yaw_deg, hand)
    return chart(
        "stance.svg",
        label=_("View from above: {stance}").format(stance=stance_words(position)),
        hand=hand,
        net=_("net, {metres} m away").format(metres=format_number(-away, 1))
        if math.isfinite(away)
        else _("net"),
        middle=origin[1],
        bottom=2 * half_height + _NET_HEIGHT + _KEY_HEIGHT,
        half_metre=0.5 * scale,
        feet=_path(feet),
        wedges="".join(
            f"{_path(wedge)}Z" for wedge in _error_wedges(feet, position.lead_angle_se_deg)
        ),
        soles=[_sole(*on_paper(sole)) for sole in soles],
        racket_label=_behind_heel(heel, toe),
        hips=hip_ends,
        hip_line=_path(hip_ends),
        feet_words=_("feet {angle}").format(angle=turned_words(position.lead_angle_deg)),
        hip_words=_("hips {angle}").format(angle=turned_words(position.hip_yaw_deg)),
    )


def _behind_heel(heel: FloatArray, toe: FloatArray) -> FloatArray:
    """Where a short word stands behind a shoe's heel: beside it farther off than below it."""
    back = (heel - toe) / max(float(np.hypot(*(heel - toe))), 1e-9)
    x, y = heel + back * (16 + 14 * abs(back[0]))
    return np.array([np.clip(x, 20, _WIDTH - 20), y])


def _sole(heel: FloatArray, toe: FloatArray) -> str:
    """The outline of a shoe sole on a heel and a toe, as path data: a curve about each corner."""
    along = toe - heel
    across = np.array([-along[1], along[0]])
    whole = [*_SOLE, *((a, -b) for a, b in reversed(_SOLE[1:-1]))]
    corners = np.array([heel + a * along + b * across for a, b in whole])
    ends = (corners + np.roll(corners, -1, axis=0)) / 2
    curves = (
        f"Q{_place(*corner)} {_place(*end)}" for corner, end in zip(corners, ends, strict=True)
    )
    return f"M{_place(*ends[-1])}{''.join(curves)}Z"


def _path(points: Iterable[FloatArray]) -> str:
    """A line through points, as path data; empty without points."""
    lines = "L".join(_place(*point) for point in points)
    return f"M{lines}" if lines else ""


def _place(x: float, y: float) -> str:
    return f"{in_pixels(x)} {in_pixels(y)}"


def _error_wedges(feet: FloatArray, error_deg: float) -> list[FloatArray]:
    """A double wedge (3, 2) each about the foot line: one standard error to each side."""
    if not math.isfinite(error_deg):
        return []
    centre = feet.mean(axis=0)
    wedges = []
    for foot in feet:
        corners = [centre]
        for angle in np.radians([-error_deg, error_deg]):
            turn = np.array(
                [[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]]
            )
            corners.append(centre + turn @ (foot - centre) * 1.25)
        wedges.append(np.array(corners))
    return wedges


def _hip_line(hips: FloatArray, hip_yaw_deg: float, hand: Hand) -> list[FloatArray]:
    """Ends of a line through the hips' middle, as long as the hips, in the measured direction.

    The racket side comes last; empty where hips or direction are unknown.
    """
    if not (np.isfinite(hips).all() and math.isfinite(hip_yaw_deg)):
        return []
    side = 1.0 if hand == "right" else -1.0
    yaw = math.radians(hip_yaw_deg)
    direction = np.array([side * math.cos(yaw), -math.sin(yaw)])
    half = direction * np.hypot(*(hips[0] - hips[1])) / 2
    middle = hips.mean(axis=0)
    return [middle - half, middle + half]
