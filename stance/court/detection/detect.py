"""Finds the court in a still picture, or says why it is not sure."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.court.calibration import CalibratedCourt
from stance.court.camera import Camera, camera_centre, floor_point, project, turned_180
from stance.court.detection.fitting import (
    EDGES,
    fit_edges,
    point_jacobian,
    settled_camera,
    with_priors,
)
from stance.court.detection.judging import Judged, judge
from stance.court.detection.readings import alike, first_camera, read_stripes, shown_places
from stance.court.detection.stripes import Stripes, find_stripes, line_colours
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.court.floor_error import floor_direction_error
from stance.types import FloatArray, ImageArray

# The long side of the picture that is searched; larger pictures are made smaller.
_WORKING_SIDE = 1920


@dataclass(frozen=True)
class FoundCourt:
    """A court found in a picture, or why none was.

    Attributes
    ----------
    court : the calibrated court, source "found"; None where none was found for sure.
    confidence : 0 to 1, how sure the reading is; below `LEAST_CONFIDENCE` it is refused.
    reason : what is missing, a sentence for a coach; empty where a court was found.
    """

    court: CalibratedCourt | None
    confidence: float
    reason: str = ""


LEAST_CONFIDENCE = 0.6

# Smallest step in brightness, of 100, that counts as the edge of a line.
_LEAST_STEP = 2.5

_FITTED = 16

# Places on the floor less sure than this are not claimed.
_WEAK_M = 0.1

# With fewer places where people stand, nobody on the court may be chance.
_FEW_FEET = 3


def find_court(picture: ImageArray, feet: FloatArray | None = None) -> FoundCourt:
    """Find the badminton court in a still picture and the camera that took it.

    The half on the camera's side of the net is the near one (y < 0).

    Parameters
    ----------
    picture : (height, width, 3) RGB; best without people, as the median of some frames.
    feet : (n, 2) pixels where people stand, to tell several courts beside each other apart.
    """
    size = (picture.shape[1], picture.shape[0])
    shrink = min(1.0, _WORKING_SIDE / max(size))
    small = picture
    if shrink < 1.0:
        new = (round(size[0] * shrink), round(size[1] * shrink))
        small = np.asarray(cv2.resize(picture, new, interpolation=cv2.INTER_AREA), np.uint8)
    unit_light = np.ascontiguousarray(small).astype(np.float32) / np.float32(255)
    lab = np.asarray(cv2.cvtColor(unit_light, cv2.COLOR_RGB2LAB), np.float32)
    stripes = find_stripes(lab)
    if len(stripes) < 4:
        return FoundCourt(None, 0.0, _NO_LINES)
    judged = _all_judged(lab, stripes)
    sound = [entry for entry in judged if _sound(entry)]
    if not sound:
        return FoundCourt(None, 0.0, _missing(judged))
    standing = np.zeros((0, 2)) if feet is None else np.asarray(feet, float) * shrink
    best = _chosen(sound, standing)
    if len(standing) >= _FEW_FEET and not _on_court(best.camera, standing):
        return FoundCourt(None, 0.0, _NOBODY_THERE)
    rivals = [
        entry
        for entry in judged
        if _relation(best.camera, entry.camera) == _relation(entry.camera, best.camera) == "other"
    ]
    confidence = _confidence(best, rivals)
    if confidence < LEAST_CONFIDENCE:
        return FoundCourt(None, confidence, _AMBIGUOUS)
    court = _calibrated(best, size)
    if min(_place_error(court.camera, half) for half in (-1.0, 1.0)) > _WEAK_M:
        return FoundCourt(None, confidence, _WEAK)
    return FoundCourt(court, confidence)


def _place_error(camera: Camera, half: float) -> float:
    """Standard deviation, metres, of the worst place in the picture in the half y * half > 0.

    Infinite where fewer than three places of it are in the picture.
    """
    grid = np.array([[x, y] for x in np.linspace(-2.5, 2.5, 5) for y in np.linspace(1.0, 6.0, 6)])
    grid = np.column_stack([grid[:, 0], half * grid[:, 1], np.zeros(len(grid))])
    with np.errstate(invalid="ignore"):
        pixels = project(camera, grid)
        inside = ((pixels > 0) & (pixels < np.array(camera.image_size))).all(axis=1)
    if camera.covariance is None or inside.sum() < 3:
        return float("inf")
    errors = [floor_direction_error(camera, place).position_m for place in grid[inside, :2]]
    return float(np.max(errors))


def _all_judged(lab: NDArray[np.float32], stripes: Stripes) -> list[Judged]:
    """All readings that can be fitted, the one that explains most first."""
    size = (lab.shape[1], lab.shape[0])
    light = np.ascontiguousarray(lab[..., 0])
    read = [
        (reading, colour)
        for colour in line_colours(stripes)
        for reading in read_stripes(stripes, colour, size, 10)
    ]
    read.sort(key=lambda entry: -entry[0].score)
    judged: list[Judged] = []
    shown: list[FloatArray] = []
    pictures: dict[tuple[float, ...], NDArray[np.float32]] = {}
    for reading, colour in read:
        # Lines whose paint varies are read alike in several colours.
        places = shown_places(reading.homography)
        if any(alike(places, other, size) for other in shown):
            continue
        shown.append(places)
        if len(shown) > _FITTED:
            break
        own = stripes.part(colour.members)
        start = first_camera(reading.homography, size)
        if start is None:
            continue
        direction = tuple(reading.contrast / np.linalg.norm(reading.contrast))
        if direction not in pictures:
            pictures[direction] = (lab @ np.array(direction)).astype(np.float32)
        # Either start may run away where the other one holds.
        settled = settled_camera(start, own)
        starts = [start] if settled is None else [start, settled]
        fits = [fit_edges(camera, pictures[direction], _LEAST_STEP) for camera in starts]
        entries = [judge(*fitted, own, light) for fitted in fits if fitted is not None]
        if entries:
            judged.append(max(entries, key=lambda entry: entry.score))
    judged.sort(key=lambda entry: -entry.score)
    return judged


def _sound(judged: Judged) -> bool:
    """Whether a reading could be a court at all: two lines each way, most of what it claims."""
    along, across = judged.lines
    share = judged.explained / max(judged.explained + judged.missing, 1e-9)
    if across == 1 and judged.net is not None and judged.net > 0.8:
        # The net's tape, where nothing else on the court is left unexplained, is a line across.
        across += int(judged.net_length > 0.1 and judged.stray < 0.15 * judged.explained)
    # Two lines each way fit many a rectangle, such as other sports': they must leave little over.
    if along + across == 4 and judged.stray > 0.3 * judged.explained:
        return False
    return along >= 2 and across >= 2 and share > 0.5 and judged.score > 0.5


def _relation(first: Camera, second: Camera) -> str:
    """Whether two readings mean the "same" court, a court "beside" it, or the floor "other"-wise.

    They mean the same where places on the floor agree within 0.15 m, after a turn by 180 degrees
    where needed; a court beside it is shifted by more than its own width or length.
    """
    size = np.array(first.image_size)
    grid = np.array(
        [[x, y, 0.0] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.5, 6.5, 11)]
    )
    with np.errstate(invalid="ignore"):
        pixels = project(first, grid)
        inside = (pixels > 0).all(axis=1) & (pixels < size).all(axis=1)
    if inside.sum() < 3:
        return "other"
    places = floor_point(second, pixels[inside])[:, :2]
    if not np.isfinite(places).all():
        return "other"
    for sign in (1.0, -1.0):
        shift = places - sign * grid[inside, :2]
        middle = np.median(shift, axis=0)
        scatter = np.median(np.linalg.norm(shift - middle, axis=1))
        if np.linalg.norm(middle) < 0.15 and scatter < 0.15:
            return "same"
        beside = abs(middle[0]) > COURT_WIDTH + 0.15 or abs(middle[1]) > COURT_LENGTH + 0.15
        if beside and scatter < 0.5:
            return "beside"
    return "other"


def _on_court(camera: Camera, feet: FloatArray) -> int:
    """How many of the pixels (n, 2) lie on the court or just beside it."""
    places = floor_point(camera, feet)[:, :2]
    with np.errstate(invalid="ignore"):
        on = (np.abs(places) < np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + 0.3).all(axis=1)
    return int(on.sum())


def _chosen(sound: list[Judged], feet: FloatArray) -> Judged:
    """The best reading or, of courts beside each other, the one that is played on.

    That is the one whose net hangs where it belongs, if the best one's is missing there; otherwise
    the one on which most people stand.
    """
    best = sound[0]
    beside = [best] + [e for e in sound[1:] if _relation(best.camera, e.camera) == "beside"]
    with_net = [e for e in beside if e.net is not None and e.net > 0.8]
    if best.net is not None and best.net < 0.4 and with_net:
        return with_net[0]
    return beside[int(np.argmax([_on_court(entry.camera, feet) for entry in beside]))]


def _by_share(judged: Judged) -> float:
    """How sure a reading is, 0 to 1, by the share of the picture's lines that it explains."""
    share = judged.explained / (judged.explained + judged.missing + 0.5 * judged.stray)
    return float(np.clip((share - 0.6) / 0.3, 0, 1))


def _confidence(best: Judged, rivals: list[Judged]) -> float:
    """How sure a reading is, 0 to 1: what it explains, and how far ahead of others it is."""
    by_share = _by_share(best)
    # What could not be claimed by itself, for all it leaves unexplained, is a rival in part only.
    rival = max((entry.score * (0.5 + 0.5 * _by_share(entry)) for entry in rivals), default=0.0)
    lead = best.score - max(rival, 0.0)
    by_lead = np.clip(max(lead / best.score / 0.2, lead / 0.4), 0, 1)
    net = 1.0 if best.net is None or best.net > 0.5 or best.net_length < 0.1 else 0.6
    return float(min(by_share, by_lead) * net)


def _calibrated(judged: Judged, size: tuple[int, int]) -> CalibratedCourt:
    """The court of a reading, in a picture of a size, the camera on the near side of the net."""
    camera = judged.camera
    if camera_centre(camera)[1] > 0:
        camera = turned_180(camera)
    grow = max(size) / max(judged.camera.image_size)
    matrix: FloatArray = np.diag([grow, grow, 1.0]) @ camera.matrix
    matrix[:2, 2] = np.array(size) / 2
    return CalibratedCourt(
        replace(camera, matrix=matrix, image_size=size, covariance=_covariance(judged)),
        judged.error_px * grow,
        "found",
    )


# Edges found along one line err together: over a metre or so, and through what the camera's
# model leaves out (the middle of the lens). Chosen on the tune split.
_TOGETHER = 8.0


def _covariance(judged: Judged) -> FloatArray:
    """Covariance (7, 7) of the camera's numbers, the distortion being free."""
    edges, camera = judged.edges, judged.camera
    unit = max(camera.image_size) / 1280
    seen = np.isfinite(edges.offset) & (np.abs(edges.offset) < 1.5 * unit)
    flat = np.column_stack([EDGES[edges.sample[seen]], np.zeros(seen.sum())])
    jacobian = point_jacobian(camera, flat, edges.normal[seen])
    noise = max(judged.error_px, 0.3 * unit)
    weight = np.full(len(jacobian), 1.0 / (_TOGETHER * noise**2))
    information, _ = with_priors(camera, jacobian, edges.offset[seen], weight)
    return np.asarray(np.linalg.inv(information)[:7, :7], float)


_NO_LINES = (
    "No painted lines can be seen in the picture. Film so that at least two lines along the court "
    "and two across it are in view, with the light on."
)

_NOBODY_THERE = (
    "The lines that can be seen belong to a court on which nobody moves. Film so that the lines "
    "of the court that is played on are in view."
)

_WEAK = (
    "The court's lines can be seen, but too little of them to place the feet well. Film so that "
    "the whole half of the defenders is in view, from higher up."
)

_AMBIGUOUS = (
    "Lines can be seen, but they could be read as a court in more than one way. Film so that a "
    "back corner with both side lines and both back lines is in view, from higher up or farther "
    "away."
)


def _missing(judged: list[Judged]) -> str:
    """What is missing where no reading is sound."""
    if not judged:
        return (
            "The lines in the picture do not make a badminton court. Film so that at least two "
            "lines along the court and two across it are in view."
        )
    along, across = judged[0].lines
    if along < 2 or across < 2:
        number = {0: "No line", 1: "Only one line"}
        short, other = (along, "along") if along < 2 else (across, "across")
        return (
            f"{number[short]} {other} the court can be made out. Film so that at least two lines "
            "along the court and two across it are in view."
        )
    return (
        "Too few of the court's lines can be made out where they ought to be. Film from higher up "
        "or farther away, so that one half of the court is in view with nothing in front of it."
    )
