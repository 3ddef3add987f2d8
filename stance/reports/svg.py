"""Parts of the report's charts as SVG."""

from collections.abc import Sequence
from html import escape

import numpy as np

from stance.reports.palette import CLASS_FILLS, FAINT, INK, PAPER
from stance.types import FloatArray


def class_swatch(class_name: str, anchor: str) -> str:
    """A small field in a class's colour and pattern, for a key: an SVG picture as text.

    Parameters
    ----------
    class_name : the class, or "not_assessed".
    anchor : of a time line on the same page, which holds the patterns.
    """
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="22" height="14" aria-hidden="true">'
        f"{class_bar(class_name, anchor, 0.0, 100.0, 0, 14)}</svg>"
    )


def svg_document(width: float, height: float, label: str, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
        f'role="img" aria-label="{escape(label)}">{"".join(parts)}</svg>'
    )


def svg_text(x: float, y: float, text: str, anchor: str = "start", small: bool = False) -> str:
    size = 11 if small else 13
    fill = FAINT if small else INK
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" '
        f'style="font-size:{size}px;fill:{fill}">{escape(text)}</text>'
    )


def svg_text_at_percent(percent: float, y: float, text: str, anchor: str = "middle") -> str:
    return (
        f'<text x="{percent:.2f}%" y="{y:.0f}" text-anchor="{anchor}" '
        f'style="font-size:12px;fill:{INK}">{escape(text)}</text>'
    )


def svg_line(start: FloatArray, end: FloatArray, style: str) -> str:
    return (
        f'<line x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}" '
        f'style="{style}"/>'
    )


def beyond_arrow(place: FloatArray, centre: FloatArray, distance: float) -> tuple[float, float]:
    """A place moved away from a centre."""
    direction = (place - centre) / max(float(np.hypot(*(place - centre))), 1e-9)
    x, y = place + direction * distance
    return float(x), float(y)


def class_patterns(anchor: str) -> str:
    """The classes' patterns: plain, stripes and cross-hatching, dashes where not assessed."""

    def pattern(name: str, drawing: str) -> str:
        return (
            f'<pattern id="{anchor}-{name}" width="8" height="8" '
            f'patternUnits="userSpaceOnUse"><rect width="8" height="8" '
            f'style="fill:{CLASS_FILLS[name]}"/><path d="{drawing}" '
            f'style="stroke:{PAPER};stroke-width:1.4;fill:none"/></pattern>'
        )

    stripes = "M-2 2L2 -2M0 8L8 0M6 10L10 6"
    return (
        "<defs>"
        + pattern("slightly_racket_leg_back", stripes)
        + pattern("over_side_on", "M0 0L8 8M8 0L0 8")
        + "</defs>"
    )


def class_bar(
    class_name: str, anchor: str, begin: float, end: float, y: float, height: float
) -> str:
    """A field in a class's colour and pattern; `begin` and `end` in percent of the width."""
    fill = (
        f"url(#{anchor}-{class_name})"
        if class_name in ("slightly_racket_leg_back", "over_side_on")
        else CLASS_FILLS[class_name]
    )
    dashes = "stroke-dasharray:3 2;" if class_name == "not_assessed" else ""
    return (
        f'<rect x="{begin:.2f}%" y="{y}" width="{end - begin:.2f}%" height="{height}" '
        f'style="fill:{fill};stroke:{INK};stroke-width:1;{dashes}"/>'
    )


def class_marker(class_name: str, number: int, x: float, y: float) -> str:
    """A numbered mark whose shape and colour tell the class."""
    style = f'style="fill:{CLASS_FILLS[class_name]};stroke:{INK};stroke-width:1.2'
    shape = {
        "square": f'<rect x="{x - 9:.1f}" y="{y - 9:.1f}" width="18" height="18" {style}"/>',
        "slightly_racket_leg_back": f'<path d="M{x - 13:.1f} {y:.1f}l13 -12l13 12l-13 12Z" {style}"/>',
        "over_side_on": f'<circle cx="{x:.1f}" cy="{y:.1f}" r="10.5" {style}"/>',
    }.get(class_name, f'<circle cx="{x:.1f}" cy="{y:.1f}" r="10.5" {style};stroke-dasharray:3 2"/>')
    ink = {
        "square": "var(--on-square,#0d2b27)",
        "slightly_racket_leg_back": "var(--on-slight,#ffffff)",
        "over_side_on": "var(--on-over,#ffffff)",
    }.get(class_name, INK)
    return (
        f'{shape}<text x="{x:.1f}" y="{y + 4:.1f}" text-anchor="middle" '
        f'style="font-size:11px;font-weight:600;fill:{ink}">{number}</text>'
    )


def spread_labels(
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
