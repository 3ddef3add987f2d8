"""What the marking page is told, as plain values for JSON."""

from typing import Any

import numpy as np

from stance.court.calibration import calibrate
from stance.court.contradictions import MisfitPointError
from stance.court.court_file import MarkedCourt, span_a_plane
from stance.court.dimensions import court_lines, court_points
from stance.court.pose import reprojection_errors
from stance.court.visible_court import least_direction_error_deg, mark_crossings, trace_court
from stance.errors import InputError
from stance.marking.words import name_crossing
from stance.runtime.language import gettext as _
from stance.types import FloatArray

# Nobody marks so many points so exactly: they were laid by a camera.
_LAID_POINTS, _LAID_ERROR_PX = 8, 0.1


def describe_marks(marked: MarkedCourt) -> list[dict[str, Any]]:
    """Marks as in a court file, each with the name of its crossing."""
    return [
        {**point, "name": _name_place(point["court"])}
        for point in _list_points(marked.court_points, marked.pixels)
    ]


def are_laid(marked: MarkedCourt) -> bool:
    """Whether marks are those of a court that was found, which nobody moved by hand."""
    if len(marked.pixels) < _LAID_POINTS:
        return False
    try:
        error_px = calibrate(marked).error_px
    except InputError:
        return False
    return error_px is not None and error_px < _LAID_ERROR_PX


def describe_court() -> dict[str, Any]:
    """The plan of the court: its crossings and painted lines, metres in the court frame."""
    crossings = [
        {"name": name_crossing(name.removesuffix(", centre")), "court": place}
        for name, place in court_points().items()
        if name.endswith(", centre")
    ]
    return {
        "crossings": crossings,
        "lines": [{"x": line.x, "y": line.y} for line in court_lines()],
    }


def describe_fit(marked: MarkedCourt) -> dict[str, Any]:
    """What follows from marks: the camera's error, and in pixels the lines, crossings and marks.

    Raises
    ------
    InputError
        As for `stance.court.calibration.calibrate`.
    """
    calibrated = calibrate(marked)
    camera = calibrated.camera
    visible = trace_court(camera)
    crossings = mark_crossings(camera)
    fitted = marked.pixels + reprojection_errors(camera, marked)
    return {
        "ok": True,
        "error_px": calibrated.error_px,
        "direction_deg": least_direction_error_deg(camera),
        "lines": [np.round(line, 2).tolist() for line in visible.lines],
        "net": [np.round(line, 2).tolist() for line in visible.net],
        "crossings": _list_points(crossings.court_points, np.round(crossings.pixels, 2)),
        "fitted": _list_points(marked.court_points, np.round(fitted, 2)),
    }


def describe_misfit(error: MisfitPointError, marked: MarkedCourt) -> dict[str, Any]:
    """The mark that does not fit, where the others put it, and, if there is one, their fit."""
    expected = error.expected_px
    is_known = bool(np.isfinite(expected).all())
    rest = MarkedCourt(
        marked.image_size,
        np.delete(marked.court_points, error.index, axis=0),
        np.delete(marked.pixels, error.index, axis=0),
    )
    try:
        fit = describe_fit(rest) if span_a_plane(rest.court_points) else None
    except InputError:
        fit = None
    return {
        "ok": False,
        "text": str(error),
        "court": marked.court_points[error.index].tolist(),
        "pixel": np.round(expected, 2).tolist() if is_known else None,
        "fit": fit,
    }


def _list_points(places: FloatArray, pixels: FloatArray) -> list[dict[str, Any]]:
    """Court places and pixels, each (points, 2), as in a court file."""
    return [
        {"court": place.tolist(), "pixel": pixel.tolist()}
        for place, pixel in zip(places, pixels, strict=True)
    ]


def _name_place(place: list[float]) -> str:
    """What a place on the court is called."""
    for name, known in court_points().items():
        if np.allclose(place, known, atol=0.002):
            return name_crossing(name.removesuffix(", centre"))
    return _("court {x}, {y} m").format(x=f"{place[0]:.2f}", y=f"{place[1]:.2f}")
