"""Finds the court in a still picture, or says why it is not sure."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stance.court.calibration import CalibratedCourt, FoundCourt
from stance.court.camera import Camera, camera_centre, project, turned_180
from stance.court.detection.bending import find_bends, straighten_stripes
from stance.court.detection.deciding import (
    choose_reading,
    estimate_confidence,
    is_played_on,
    is_sound,
)
from stance.court.detection.fitting import (
    build_normal_equations,
    fit_to_edges,
    fit_to_stripes,
    normal_jacobian,
)
from stance.court.detection.judging import JudgedReading, judge
from stance.court.detection.line_samples import LINE_EDGES
from stance.court.detection.pictures import convert_to_lab
from stance.court.detection.readings import (
    Reading,
    approximate_camera,
    coincide,
    project_landmarks,
    read_stripes,
)
from stance.court.detection.stripes import LineColour, Stripes, find_line_colours, find_stripes
from stance.court.floor_error import floor_direction_error, on_floor
from stance.court.pose import is_bent
from stance.runtime.language import gettext as _
from stance.types import FloatArray, ImageArray

LEAST_CONFIDENCE = 0.6

# Through a lens that bends strongly, nearly all lines must lie where they should: where they don't,
# the lens bends in a way of its own, and places in the corners are off by decimetres.
_LEAST_CONFIDENCE_BENT = 0.9

# The long side of the picture that is searched; larger pictures are made smaller.
_WORKING_SIDE = 1920

# Smallest step in brightness, of 100, that counts as the edge of a line.
_LEAST_STEP = 2.5

# So many readings are fitted to the picture, the best ones by score.
_MOST_FITTED = 16

# Places on the floor less sure than this are not claimed, metres. On the tune split the worst place
# of such courts is off by half of that.
_LEAST_SURE_M = 0.12

# With fewer places where people stand, nobody on the court may be chance.
_FEW_FEET = 3

# Edges found along one line err together: over a metre or so, and through what the camera's
# model leaves out (the middle of the lens). Chosen on the tune split.
_EDGES_ERRING_TOGETHER = 8.0

_NO_LINES = _(
    "No painted lines can be seen in the picture. Film so that at least two lines "
    "along the court and two across it are in view, with the light on."
)

_NOBODY_THERE = _(
    "The lines that can be seen belong to a court on which nobody moves. Film so "
    "that the lines of the court that is played on are in view."
)

_TOO_FEW_LINES = {
    (True, 0): _("No line along the court can be made out."),
    (True, 1): _("Only one line along the court can be made out."),
    (False, 0): _("No line across the court can be made out."),
    (False, 1): _("Only one line across the court can be made out."),
}
_WEAK = _(
    "The court's lines can be seen, but too little of them to place the feet well. "
    "Film so that the whole half of the defenders is in view, from higher up."
)

_BENT = _(
    "The camera's wide-angle lens bends the lines, and not enough of them lie where they should to "
    "be sure of places in the picture's corners. Film with a narrower field of view, or with the "
    "camera's correction of bent lines switched on, or mark the court by hand."
)

_AMBIGUOUS = _(
    "Lines can be seen, but they could be read as a court in more than one way. "
    "Film so that a back corner with both side lines and both back lines is in "
    "view, from higher up or farther away."
)


def find_court(picture: ImageArray, feet: FloatArray | None = None) -> FoundCourt:
    """Find the badminton court in a still picture and the camera that took it.

    The half on the camera's side of the net is the near one (y < 0).

    Parameters
    ----------
    picture
        (height, width, 3) RGB; best without people, as the median of some frames.
    feet
        (n, 2) pixels where people stand, to tell several courts beside each other apart.
    """
    size = (picture.shape[1], picture.shape[0])
    shrink = min(1.0, _WORKING_SIDE / max(size))
    lab = convert_to_lab(picture, shrink)
    stripes = find_stripes(lab)
    if len(stripes) < 4:
        return FoundCourt(None, 0.0, _NO_LINES)
    standing = np.zeros((0, 2)) if feet is None else np.asarray(feet, float) * shrink
    found = _choose_court(_judge_readings(lab, stripes, 0.0), standing, size)
    if found.court is not None:
        return found
    reasons = [found]
    for bend in find_bends(stripes, (lab.shape[1], lab.shape[0])):
        reasons.append(_choose_court(_judge_readings(lab, stripes, bend), standing, size))
        if reasons[-1].court is not None:
            return reasons[-1]
    # The straight lens's reason, but where a bent one's is surer.
    return max(reasons, key=lambda reason: reason.confidence)


def _choose_court(
    judged: list[JudgedReading], standing: FloatArray, size: tuple[int, int]
) -> FoundCourt:
    """The court of one of the judged readings, in a picture of a size, or why none is sure.

    `standing` (n, 2) are the pixels of the picture that was searched where people stand.
    """
    sound = [reading for reading in judged if is_sound(reading)]
    if not sound:
        return FoundCourt(None, 0.0, _say_what_is_missing(judged))
    best = choose_reading(sound, standing)
    if len(standing) >= _FEW_FEET and not is_played_on(best, standing):
        return FoundCourt(None, 0.0, _NOBODY_THERE)
    confidence = estimate_confidence(best, judged)
    if confidence < LEAST_CONFIDENCE:
        return FoundCourt(None, confidence, _AMBIGUOUS)
    if confidence < _LEAST_CONFIDENCE_BENT and is_bent(best.camera):
        return FoundCourt(None, confidence, _BENT)
    court = _calibrate(best, size)
    if min(_find_worst_error(court.camera, half) for half in (-1.0, 1.0)) > _LEAST_SURE_M:
        return FoundCourt(None, confidence, _WEAK)
    return FoundCourt(court, confidence)


@dataclass(frozen=True, eq=False)
class _ColouredReading:
    """A reading and the colour of the lines that it was read from."""

    reading: Reading
    colour: LineColour


def _judge_readings(lab: NDArray[np.float32], stripes: Stripes, bend: float) -> list[JudgedReading]:
    """All readings that can be fitted, the one that explains most first.

    `bend` of the lens, as of `stance.court.pose.straighten`, is where the fits start from.
    """
    size = (lab.shape[1], lab.shape[0])
    light = np.ascontiguousarray(lab[..., 0])
    pictures: dict[tuple[float, ...], NDArray[np.float32]] = {}
    judged: list[JudgedReading] = []
    for entry in _list_different_readings(straighten_stripes(stripes, bend, size), size):
        own = stripes.select(entry.colour.members)
        pinhole = approximate_camera(entry.reading.homography, size)
        if pinhole is None:
            continue
        start = replace(pinhole, distortion=bend * (pinhole.matrix[0, 0] / max(size)) ** 2)
        contrast = entry.reading.contrast
        direction = tuple(contrast / np.linalg.norm(contrast))
        if direction not in pictures:
            pictures[direction] = (lab @ np.array(direction)).astype(np.float32)
        # Either start may run away where the other one holds.
        nearer = fit_to_stripes(start, own)
        starts = [start] if nearer is None else [start, nearer]
        fits = [fit_to_edges(camera, pictures[direction], _LEAST_STEP) for camera in starts]
        readings = [judge(fitted, own, light) for fitted in fits if fitted is not None]
        if readings:
            judged.append(max(readings, key=lambda reading: reading.score))
    judged.sort(key=lambda reading: -reading.score)
    return judged


def _list_different_readings(stripes: Stripes, size: tuple[int, int]) -> list[_ColouredReading]:
    """The best readings of all colours that show the court at different places.

    Lines whose paint varies are read alike in several colours.
    """
    read = [
        _ColouredReading(reading, colour)
        for colour in find_line_colours(stripes)
        for reading in read_stripes(stripes, colour, size, 10)
    ]
    read.sort(key=lambda entry: -entry.reading.score)
    different: list[_ColouredReading] = []
    shown: list[FloatArray] = []
    for entry in read:
        places = project_landmarks(entry.reading.homography)
        if not any(coincide(places, other, size) for other in shown):
            shown.append(places)
            different.append(entry)
        if len(different) == _MOST_FITTED:
            break
    return different


def _calibrate(reading: JudgedReading, size: tuple[int, int]) -> CalibratedCourt:
    """The court of a reading, in a picture of a size, the camera on the near side of the net."""
    camera = reading.camera
    if camera_centre(camera)[1] > 0:
        camera = turned_180(camera)
    grow = max(size) / max(reading.camera.image_size)
    matrix: FloatArray = np.diag([grow, grow, 1.0]) @ camera.matrix
    matrix[:2, 2] = np.array(size) / 2
    return CalibratedCourt(
        replace(camera, matrix=matrix, image_size=size, covariance=_estimate_covariance(reading)),
        reading.error_px * grow,
        "found",
    )


def _estimate_covariance(reading: JudgedReading) -> FloatArray:
    """Covariance (8, 8) of the camera's numbers."""
    edges, camera = reading.edges, reading.camera
    unit = max(camera.image_size) / 1280
    seen = np.isfinite(edges.offset) & (np.abs(edges.offset) < 1.5 * unit)
    flat = on_floor(LINE_EDGES.places[edges.sample[seen]])
    jacobian = normal_jacobian(camera, flat, edges.normal[seen])
    noise = max(reading.error_px, 0.3 * unit)
    weight = np.full(len(jacobian), 1.0 / (_EDGES_ERRING_TOGETHER * noise**2))
    equations = build_normal_equations(camera, jacobian, edges.offset[seen], weight)
    return np.asarray(np.linalg.inv(equations.information), float)


def _find_worst_error(camera: Camera, half: float) -> float:
    """Standard deviation, metres, of the worst place in the picture in the half y * half > 0.

    Infinite where fewer than three places of it are in the picture.
    """
    grid = np.array(
        [[x, half * y] for x in np.linspace(-2.5, 2.5, 5) for y in np.linspace(1, 6, 6)]
    )
    with np.errstate(invalid="ignore"):
        pixels = project(camera, on_floor(grid))
        inside = ((pixels > 0) & (pixels < np.array(camera.image_size))).all(axis=1)
    if camera.covariance is None or inside.sum() < 3:
        return float("inf")
    errors = [floor_direction_error(camera, place).position_m for place in grid[inside]]
    return float(np.max(errors))


def _say_what_is_missing(judged: list[JudgedReading]) -> str:
    """What is missing where no reading is sound."""
    if not judged:
        return _(
            "The lines in the picture do not make a badminton court. Film so that at least "
            "two lines along the court and two across it are in view."
        )
    along, across = judged[0].lines_along, judged[0].lines_across
    if along < 2 or across < 2:
        advice = _("Film so that at least two lines along the court and two across it are in view.")
        return f"{_TOO_FEW_LINES[along < 2, along if along < 2 else across]} {advice}"
    return _(
        "Too few of the court's lines can be made out where they ought to be. Film "
        "from higher up or farther away, so that one half of the court is in view with "
        "nothing in front of it."
    )
