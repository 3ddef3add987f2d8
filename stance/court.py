"""The badminton court: its dimensions, the coach's court file, and the camera that follows.

Dimensions are those of the Laws of Badminton (Badminton World Federation), Law 1 and Diagram A.
Court frame, signs and units: docs/definitions.md. Court file: schema "stance-court/1".
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any, Literal

import numpy as np
import scipy
from numpy.typing import ArrayLike

from stance.camera import (
    Array,
    Camera,
    camera_centre,
    depth,
    floor_parameter_jacobian,
    project,
    projection_parameter_jacobian,
)
from stance.errors import InputError

# Law 1 and Diagram A. Metres; distances run to the outer edge of a line (Law 1.3: a line is part
# of the area it bounds), the short service line's to its edge on the net side.
COURT_LENGTH = 13.40
COURT_WIDTH = 6.10
LINE_WIDTH = 0.04
SHORT_SERVICE_DISTANCE = 1.98
LONG_SERVICE_INSET = 0.76
SIDE_TRAMLINE = 0.46
NET_HEIGHT_POST = 1.55
NET_HEIGHT_MIDDLE = 1.524

SCHEMA = "stance-court/1"

# Marks made by eye miss by about 2 pixels in a full HD picture. Lengths in the picture are
# fractions of its long side, so that a picture's scale does not matter.
MARKING_NOISE = 1.5 / 1280
CONTRADICTION_LIMIT = 8 / 1280
OUTLIER_LIMIT = 12 / 1280
OFF_COURT_TOLERANCE = 0.15

# Phones' main cameras are said to be 24 to 28 mm long (35 mm equivalent, so 0.67 to 0.78 of the
# long side), a little more where the film is stabilised. The spread, of the logarithm, is wide:
# 0.5 to 1.3 is likely, while six well spread points tell the focal length to 1 %.
USUAL_FOCAL = 0.80
FOCAL_SPREAD = 0.5
FOCAL_RANGE = (0.3, 5.0)

# Four crossings with 2 px of noise add 1 to 6 degrees where they are well spread, up to 120 where
# they are not; a whole half adds 0.2 to 0.6. With 8 degrees from the calibration and 6 from the
# pose, even a perfectly square stance reaches a probability of only 0.68.
DIRECTION_LIMIT_DEG = 8.0
POSITION_LIMIT_M = 0.5

# With no court marked: what the camera and the player are taken for, and how wrong each may be.
ASSUMED_FOCAL = 26 / 36
ASSUMED_CAMERA_HEIGHT = 1.5
ASSUMED_PLAYER_HEIGHT = 1.70
ASSUMED_BASE_Y = -4.0


@dataclass(frozen=True)
class PaintedLine:
    """One painted line: a rectangle on the floor, metres, court frame; (smallest, largest)."""

    name: str
    x: tuple[float, float]
    y: tuple[float, float]


@dataclass(frozen=True)
class MarkedCourt:
    """Floor points that a coach marked in the picture.

    Attributes
    ----------
    image_size : (width, height) of the upright picture, pixels.
    court_points : (points, 2) metres, court frame.
    pixels : (points, 2).
    """

    image_size: tuple[int, int]
    court_points: Array
    pixels: Array


@dataclass(frozen=True)
class CalibratedCourt:
    """A camera and where it comes from.

    `error_px` is the root mean square distance between the marked pixels, or the edges of the lines
    that were found, and where the camera puts them, None for an assumed camera; `source` is
    "marked", "found" or "assumed".
    """

    camera: Camera
    error_px: float | None
    source: str


@dataclass(frozen=True)
class FloorError:
    """What the calibration alone adds at a place on the floor, as standard deviations.

    `direction_deg`: direction of a line across the floor, the worst of all directions;
    `position_m`: where a point lies, along the worst direction.
    """

    direction_deg: float
    position_m: float


def court_lines() -> tuple[PaintedLine, ...]:
    """All painted lines of both halves.

    "near" is the half with y < 0, "left" the side with x < 0. The side lines run through under
    the net; the centre lines run from the short service line to the back line.
    """
    half_length, half_width = COURT_LENGTH / 2, COURT_WIDTH / 2
    lines = [PaintedLine(name, x, (-half_length, half_length)) for name, x in _SIDE_LINES.items()]
    for half, sign in _HALVES.items():
        for name, (net_edge, back_edge) in _CROSS_LINES.items():
            y = _ordered(sign * net_edge, sign * back_edge)
            lines.append(PaintedLine(f"{half} {name}", (-half_width, half_width), y))
        y = _ordered(sign * SHORT_SERVICE_DISTANCE, sign * half_length)
        lines.append(PaintedLine(f"{half} centre line", _CENTRE_LINE, y))
    return tuple(lines)


def court_points() -> dict[str, tuple[float, float]]:
    """Where the lines cross, by name: (x, y) metres, court frame.

    A name is "<half> <line across>, <line along>, <which point>", for example "near back line,
    left doubles side line, left back corner", the outermost corner (-3.05, -6.70). The point is
    "centre" (of both lines) or one of the four corners of the crossing's square: left or right,
    on the side of the net or of the back line.
    """
    along = {**_SIDE_LINES, "centre line": _CENTRE_LINE}
    points = {}
    for half, sign in _HALVES.items():
        for across_name, (net_edge, back_edge) in _CROSS_LINES.items():
            for along_name, (left, right) in along.items():
                crossing = f"{half} {across_name}, {along_name}"
                middle = ((left + right) / 2, sign * (net_edge + back_edge) / 2)
                points[f"{crossing}, centre"] = middle
                points[f"{crossing}, left net corner"] = (left, sign * net_edge)
                points[f"{crossing}, right net corner"] = (right, sign * net_edge)
                points[f"{crossing}, left back corner"] = (left, sign * back_edge)
                points[f"{crossing}, right back corner"] = (right, sign * back_edge)
    return points


def net_points() -> dict[str, tuple[float, float, float]]:
    """Top of the net's tape: (x, y, z) metres, court frame.

    Law 1.10: 1.524 m over the middle of the court, 1.55 m over the doubles side lines, which
    are taken at the middle of the line.
    """
    side = (COURT_WIDTH - LINE_WIDTH) / 2
    return {
        "left post": (-side, 0.0, NET_HEIGHT_POST),
        "middle": (0.0, 0.0, NET_HEIGHT_MIDDLE),
        "right post": (side, 0.0, NET_HEIGHT_POST),
    }


def read_court_file(path: str | Path, image_size: tuple[int, int]) -> MarkedCourt:
    """Read the points that a coach marked, schema "stance-court/1".

    Parameters
    ----------
    path : the court file.
    image_size : (width, height) of the clip's upright picture, pixels.

    Raises
    ------
    InputError
        If the file can't be read, is no court file, belongs to a picture of another size, or
        if its points are too few, not numbers, outside the picture, off the court, the same
        twice, or the first four lie three on a line.
    """
    return court_from_content(_read_json(Path(path)), path, image_size)


def court_from_content(
    content: object, path: str | Path, image_size: tuple[int, int]
) -> MarkedCourt:
    """Check what a court file holds, or is about to hold; the rest as for `read_court_file`."""
    if not isinstance(content, dict) or content.get("schema") != SCHEMA:
        raise InputError(
            f'"{path}" is not a court file: it does not begin with "schema": "{SCHEMA}".'
        )
    _check_image_size(path, content.get("image_size"), image_size)
    entries = content.get("points")
    if not isinstance(entries, list) or len(entries) < 4:
        found = len(entries) if isinstance(entries, list) else 0
        raise InputError(
            f'The court file "{path}" holds {found} points; mark at least four crossings of '
            "lines, better six or more."
        )
    points = np.array([_read_point(path, number, entry) for number, entry in enumerate(entries, 1)])
    marked = MarkedCourt(image_size, points[:, :2], points[:, 2:])
    _check_points(path, marked)
    return marked


def court_file_text(marked: MarkedCourt) -> str:
    """The text of a court file, schema "stance-court/1".

    Of all points the four that span the largest quadrangles come first: a file's first four must
    not lie three on a line. Court places are rounded to a millimetre, pixels to a hundredth.
    """
    order = list(range(len(marked.court_points)))
    fours = np.array(list(combinations(order, 4)))
    if len(fours):
        corners = marked.court_points[fours]
        areas = [
            np.abs(np.linalg.det(np.diff(np.delete(corners, left_out, axis=1), axis=1)))
            for left_out in range(4)
        ]
        first = [int(index) for index in fours[np.argmax(np.min(areas, axis=0))]]
        order = first + [index for index in order if index not in first]
    points = [
        {
            "court": [round(float(value), 3) for value in marked.court_points[index]],
            "pixel": [round(float(value), 2) for value in marked.pixels[index]],
        }
        for index in order
    ]
    lines = ",\n  ".join(json.dumps(point) for point in points)
    return (
        f'{{"schema": "{SCHEMA}", "image_size": {json.dumps(list(marked.image_size))},\n'
        f' "points": [\n  {lines}]}}\n'
    )


def calibrate(marked: MarkedCourt) -> CalibratedCourt:
    """The camera that took a picture in which floor points are marked.

    Square pixels and the principal point in the middle of the picture are taken for granted.
    The focal length has a weak prior (`USUAL_FOCAL`, `FOCAL_SPREAD`), which keeps poor layouts
    sane and moves good ones by far less than their error. The camera's covariance takes the
    noise of a marked coordinate to be what the misfit says, at least `MARKING_NOISE`.

    Raises
    ------
    InputError
        If the points are mirrored, contradict each other, or lie so that they leave the
        direction of a stance open by more than `DIRECTION_LIMIT_DEG`, or its place by more than
        `POSITION_LIMIT_M`, in the middle of both halves.
    """
    camera = _fit_camera(marked.court_points, marked.pixels, marked.image_size)
    if camera is None or _contradicts(camera, marked):
        raise InputError(_contradiction(marked))
    noise = max(_noise(camera, marked), MARKING_NOISE * max(marked.image_size))
    calibrated = replace(camera, covariance=_covariance(camera, marked.court_points, noise))
    _refuse_weak_layout(calibrated)
    distances = np.linalg.norm(_misfit(camera, marked), axis=1)
    error_px = float(np.sqrt(np.mean(distances**2)))
    return CalibratedCourt(calibrated, error_px, "marked")


def floor_direction_error(camera: Camera, base: ArrayLike) -> FloorError:
    """What the calibration alone adds to a direction and to a place on the floor.

    The line is 0.6 m long, as the feet of a stance, and centred on the base; both ends keep
    their pixels while the camera varies by its covariance.

    Parameters
    ----------
    base : (2,) metres, court frame.

    Returns
    -------
    Standard deviations; NaN where the base is not in front of the camera.
    """
    base = np.asarray(base, float)
    if camera.covariance is None:
        return FloorError(0.0, 0.0)
    angles = np.radians(np.arange(0, 180, 15))
    along = np.column_stack([np.cos(angles), np.sin(angles)])
    across = np.column_stack([-along[:, 1], along[:, 0]])
    half_length = 0.3
    ends = np.stack([base + half_length * along, base - half_length * along])
    by_camera = _floor_change(camera, ends)
    turn = np.einsum("ki,kip->kp", across, by_camera[0] - by_camera[1]) / (2 * half_length)
    variances = np.einsum("kp,pq,kq->k", turn, camera.covariance, turn)
    at_base = _floor_change(camera, base)
    spread = at_base @ camera.covariance @ at_base.T
    if not np.all(np.isfinite(spread)):
        return FloorError(float("nan"), float("nan"))
    return FloorError(
        float(np.degrees(np.sqrt(variances.max()))),
        float(np.sqrt(np.linalg.eigvalsh(spread)[-1])),
    )


def assumed_camera(
    player_feet_pixel: ArrayLike,
    player_head_pixel: ArrayLike,
    image_size: tuple[int, int],
    facing: Literal["away", "towards"] = "away",
) -> CalibratedCourt:
    """A camera for a clip in which no court is marked, from the player's place in the picture.

    Assumed: a phone's main camera (26 mm equivalent, SD 25 %) 1.5 m above the floor (SD 0.4 m),
    held level (roll SD 2 degrees), looking square at the net (SD 10 degrees) from the middle of
    the court's width (SD 1 m); a player of 1.70 m (SD 0.2 m, which also covers bent knees) at
    4 m from the net (SD 1 m). Pitch and distance follow from the pixels of head and feet. The
    covariance is what those SDs make of the camera's seven numbers.

    Parameters
    ----------
    player_feet_pixel, player_head_pixel : (2,) middle of the feet on the floor, top of the head.
    image_size : (width, height), pixels.
    facing : "away" where the player faces away from the camera (which stands behind the
        defender), "towards" where the camera stands on the side of the net.

    Raises
    ------
    ValueError
        If the head is not above the feet.
    """
    pixels = np.array([player_feet_pixel, player_head_pixel], float)
    if pixels[1, 1] >= pixels[0, 1]:
        raise ValueError("the head's pixel must be above the feet's")
    sign = 1.0 if facing == "away" else -1.0
    usual = np.array(
        [np.log(ASSUMED_FOCAL), 0, 0, ASSUMED_CAMERA_HEIGHT, ASSUMED_PLAYER_HEIGHT, 0, 0]
    )
    spreads = np.array([0.25, np.radians(10), np.radians(2), 0.4, 0.2, 1.0, 1.0])
    camera = _camera_from_player(usual, pixels, image_size, sign)
    effects = []
    for step in np.diag(0.1 * spreads):
        ends = [_camera_from_player(usual + s, pixels, image_size, sign) for s in (step, -step)]
        effects.append((_step_between(camera, ends[0]) - _step_between(camera, ends[1])) / 0.2)
    covariance = np.array(effects).T @ np.array(effects)
    return CalibratedCourt(replace(camera, covariance=covariance), None, "assumed")


def _ordered(first: float, second: float) -> tuple[float, float]:
    return min(first, second), max(first, second)


_HALVES = {"near": -1.0, "far": 1.0}
_DOUBLES = COURT_WIDTH / 2
_SINGLES = COURT_WIDTH / 2 - SIDE_TRAMLINE
# (left edge, right edge), metres.
_SIDE_LINES = {
    "left doubles side line": (-_DOUBLES, -_DOUBLES + LINE_WIDTH),
    "left singles side line": (-_SINGLES, -_SINGLES + LINE_WIDTH),
    "right singles side line": (_SINGLES - LINE_WIDTH, _SINGLES),
    "right doubles side line": (_DOUBLES - LINE_WIDTH, _DOUBLES),
}
_CENTRE_LINE = (-LINE_WIDTH / 2, LINE_WIDTH / 2)
# (edge on the side of the net, edge on the side of the back line), metres from the net.
_CROSS_LINES = {
    "short service line": (SHORT_SERVICE_DISTANCE, SHORT_SERVICE_DISTANCE + LINE_WIDTH),
    "long service line": (
        COURT_LENGTH / 2 - LONG_SERVICE_INSET - LINE_WIDTH,
        COURT_LENGTH / 2 - LONG_SERVICE_INSET,
    ),
    "back line": (COURT_LENGTH / 2 - LINE_WIDTH, COURT_LENGTH / 2),
}


def _fit_camera(court_points: Array, pixels: Array, image_size: tuple[int, int]) -> Camera | None:
    """The camera that fits marked points best, or None where no phone above the floor could.

    The focal length of a plane's picture follows from its homography, but the closed forms
    (Zhang, IEEE PAMI 2000, 22:1330) fail where the picture is parallel to one of the court's
    axes, as behind the middle of the back line. So a few focal lengths are tried, each with the
    pose that the homography then gives, and the best of them is refined on all points.
    """
    homography = _homography(court_points, pixels)
    points = _on_floor(court_points)
    noise = MARKING_NOISE * max(image_size)
    starts = []
    for focal in max(image_size) * np.geomspace(*FOCAL_RANGE, 12):
        start = _camera_from_homography(homography, focal, court_points, image_size)
        if depth(start, points).min() > 0:
            starts.append((np.sum(_weighted_misfit(start, points, pixels, noise) ** 2), start))
    if not starts:
        return None
    start = min(starts, key=lambda cost_and_start: cost_and_start[0])[1]

    def misfit(step: Array) -> Array:
        return _weighted_misfit(_moved(start, step), points, pixels, noise)

    solution = scipy.optimize.least_squares(misfit, np.zeros(7), x_scale="jac")
    camera = _moved(start, solution.x)
    shortest, longest = (limit * max(image_size) for limit in FOCAL_RANGE)
    if not shortest < camera.matrix[0, 0] < longest or camera_centre(camera)[2] <= 0:
        return None
    return camera


def _weighted_misfit(camera: Camera, points: Array, pixels: Array, noise: float) -> Array:
    """Misfit of every coordinate and of the focal length's prior, in standard deviations."""
    relative_focal = camera.matrix[0, 0] / max(camera.image_size)
    prior = np.log(relative_focal / USUAL_FOCAL) / FOCAL_SPREAD
    return np.append((project(camera, points) - pixels).ravel() / noise, prior)


def _moved(camera: Camera, step: Array) -> Camera:
    """The camera after a step in its seven numbers."""
    focal = camera.matrix[0, 0] * np.exp(step[0])
    rotation = scipy.spatial.transform.Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    matrix = _camera_matrix(focal, camera.image_size)
    return Camera(matrix, rotation, camera.translation + step[4:], camera.image_size)


def _camera_matrix(focal: float, image_size: tuple[int, int]) -> Array:
    """Square pixels, principal point in the middle of the picture."""
    width, height = image_size
    return np.array([[focal, 0.0, width / 2], [0.0, focal, height / 2], [0.0, 0.0, 1.0]])


def _homography(court_points: Array, pixels: Array) -> Array:
    """Court plane to picture, (3, 3), by the normalised direct linear transformation.

    Hartley and Zisserman, Multiple View Geometry, 2nd edition, algorithm 4.2.
    """
    from_court, court = _normalised(court_points)
    from_pixels, picture = _normalised(pixels)
    zeros = np.zeros_like(court)
    equations = np.concatenate(
        [
            np.hstack([court, zeros, -picture[:, :1] * court]),
            np.hstack([zeros, court, -picture[:, 1:2] * court]),
        ]
    )
    normalised = np.linalg.svd(equations)[2][-1].reshape(3, 3)
    homography: Array = np.linalg.inv(from_pixels) @ normalised @ from_court
    return homography


def _normalised(points: Array) -> tuple[Array, Array]:
    """The similarity that centres points at unit spread, and the homogeneous points after it."""
    centre = points.mean(axis=0)
    scale = 1 / np.sqrt(np.mean((points - centre) ** 2))
    similarity = np.array(
        [[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1]]
    )
    return similarity, np.column_stack([points, np.ones(len(points))]) @ similarity.T


def _camera_from_homography(
    homography: Array, focal: float, court_points: Array, image_size: tuple[int, int]
) -> Camera:
    """The pose nearest to a homography for a given focal length, court in front of the camera."""
    matrix = _camera_matrix(focal, image_size)
    columns = np.linalg.inv(matrix) @ homography
    columns /= np.mean(np.linalg.norm(columns[:, :2], axis=0))
    if columns[2] @ np.append(court_points.mean(axis=0), 1.0) < 0:
        columns = -columns
    first, second, translation = columns.T
    left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
    return Camera(matrix, left @ right, translation, image_size)


def _misfit(camera: Camera, marked: MarkedCourt) -> Array:
    """Where the camera puts the marked points minus where they were marked: (points, 2) pixels."""
    return project(camera, _on_floor(marked.court_points)) - marked.pixels


def _noise(camera: Camera, marked: MarkedCourt) -> float:
    """Standard deviation of a marked coordinate, pixels, from the misfit of seven numbers."""
    squares = np.sum(_misfit(camera, marked) ** 2)
    return float(np.sqrt(squares / (2 * len(marked.pixels) - 7)))


def _covariance(camera: Camera, court_points: Array, noise: float) -> Array:
    """Covariance of the camera's seven numbers, (7, 7), for a noise in pixels."""
    by_camera = projection_parameter_jacobian(camera, _on_floor(court_points)).reshape(-1, 7)
    information = by_camera.T @ by_camera / noise**2
    information[0, 0] += FOCAL_SPREAD**-2
    return np.linalg.inv(information)


def _contradicts(camera: Camera, marked: MarkedCourt) -> bool:
    """Whether the points misfit as a whole, or one of five or more misfits alone.

    What leaving one point out would take off the sum of squares follows from its leverage
    (Cook and Weisberg, Residuals and Influence in Regression, 1982, section 2.2).
    """
    long_side = max(marked.image_size)
    if _noise(camera, marked) > CONTRADICTION_LIMIT * long_side:
        return True
    if len(marked.pixels) < 5:
        return False
    noise = MARKING_NOISE * long_side
    covariance = _covariance(camera, marked.court_points, noise)
    by_camera = projection_parameter_jacobian(camera, _on_floor(marked.court_points))
    leverage = by_camera @ covariance @ np.swapaxes(by_camera, 1, 2) / noise**2
    misfit = _misfit(camera, marked)[:, :, None]
    without = np.linalg.pinv(np.eye(2) - leverage, rcond=1e-6, hermitian=True) @ misfit
    return bool(np.max(np.sum(misfit * without, axis=1)) > (OUTLIER_LIMIT * long_side) ** 2)


def _contradiction(marked: MarkedCourt) -> str:
    """The sentence that says why no camera fits the marked points."""
    mirrored = replace(marked, court_points=marked.court_points * [-1.0, 1.0])
    limit = CONTRADICTION_LIMIT * max(marked.image_size)
    camera = _fit_camera(mirrored.court_points, mirrored.pixels, mirrored.image_size)
    if camera is not None and _noise(camera, mirrored) <= limit:
        return (
            "The marked points show the court as in a mirror: left and right are swapped. Seen by "
            "a player who faces the net, x is positive on the right and y grows towards the net; "
            "mend the points' court places, or use the clip that is not mirrored."
        )
    if len(marked.pixels) == 4:
        return (
            "The four marked points do not fit together: no camera above the floor sees the court "
            "like that. Check that each was marked where its court place says, and mark one or "
            "two more so that the wrong one can be found."
        )
    left_out = []
    for index in range(len(marked.pixels)):
        rest = replace(
            marked,
            court_points=np.delete(marked.court_points, index, axis=0),
            pixels=np.delete(marked.pixels, index, axis=0),
        )
        if not any(
            _three_on_a_line(np.array(f)) is None for f in combinations(rest.court_points, 4)
        ):
            continue
        camera = _fit_camera(rest.court_points, rest.pixels, rest.image_size)
        if camera is not None:
            left_out.append((_noise(camera, rest), index, camera))
    if not left_out:
        return (
            "The marked points do not fit together: no camera above the floor sees the court like "
            "that, whichever of them is left out. Check the court place of each."
        )
    noise, worst, camera = min(left_out, key=lambda entry: entry[0])
    error = float(np.linalg.norm(_misfit(camera, marked)[worst]))
    (x, y), (u, v) = marked.court_points[worst], marked.pixels[worst]
    lies = f"{error:.0f} pixels from" if np.isfinite(error) else "nowhere near"
    sentence = (
        f"Marked point {worst + 1} (court {x:.2f}, {y:.2f}; pixel {u:.0f}, {v:.0f}) does not fit "
        f"the others: it lies {lies} where they put it. Check its court place, or mark it again."
    )
    if noise > limit:
        sentence += " Others do not fit well either; check them all."
    return sentence


def _refuse_weak_layout(camera: Camera) -> None:
    errors = [floor_direction_error(camera, (0.0, sign * 4.0)) for sign in _HALVES.values()]
    if any(
        error.direction_deg <= DIRECTION_LIMIT_DEG and error.position_m <= POSITION_LIMIT_M
        for error in errors
    ):
        return
    raise InputError(
        "The marked points cannot carry the measures: they lie too close together or too nearly "
        "on a line, and leave the direction of a stance open by "
        f"{np.nanmin([error.direction_deg for error in errors]):.0f} degrees and its place by "
        f"{np.nanmin([error.position_m for error in errors]):.1f} metres. Mark points as far "
        "apart as the picture shows them: all crossings of one half, and corners of the far one."
    )


def _floor_change(camera: Camera, places: Array) -> Array:
    """Change of floor points (..., 2) whose pixels stay, by the camera: (..., 2, 7)."""
    return floor_parameter_jacobian(camera, project(camera, _on_floor(places)))


def _on_floor(places: Array) -> Array:
    """Places (..., 2) on the floor as points (..., 3)."""
    return np.concatenate([places, np.zeros_like(places[..., :1])], axis=-1)


def _camera_from_player(
    assumptions: Array, pixels: Array, image_size: tuple[int, int], sign: float
) -> Camera:
    """The camera that sees a player's feet and head at two pixels.

    Parameters
    ----------
    assumptions : (7,) log of focal length by long side; azimuth and roll, radians; heights of
        camera and player, metres; camera's x and player's y from their usual places, metres.
    pixels : (2, 2) feet and head.
    sign : 1 for a camera behind the defender, -1 for one on the side of the net.
    """
    log_focal, azimuth, roll, camera_height, player_height, sideways, forward = assumptions
    matrix = _camera_matrix(np.exp(log_focal) * max(image_size), image_size)
    rolled = scipy.spatial.transform.Rotation.from_euler("z", roll).as_matrix()
    rays = np.column_stack([(pixels - matrix[:2, 2]) / matrix[0, 0], np.ones(2)]) @ rolled
    feet_below_axis, head_below_axis = np.arctan(rays[:, 1])
    # tan(pitch + feet) = camera_height / d and tan(pitch + head) = above_head / d give a
    # quadratic in the distance d when the pitch is taken out of them.
    above_head = camera_height - player_height
    opening = np.tan(feet_below_axis - head_below_axis)
    root = np.sqrt(player_height**2 - 4 * opening**2 * camera_height * above_head)
    distance = (player_height + root) / (2 * opening)
    pitch = np.arctan2(camera_height, distance) - feet_below_axis
    away = np.array(
        [[1, 0, 0], [0, -np.sin(pitch), -np.cos(pitch)], [0, np.cos(pitch), -np.sin(pitch)]]
    )
    to_the_right = rays[0, 0] * (distance * np.cos(pitch) + camera_height * np.sin(pitch))
    feet = np.array([sideways + sign * to_the_right, ASSUMED_BASE_Y + forward, 0.0])
    centre = feet - [sign * to_the_right, sign * distance, -camera_height]
    unturned = rolled @ away @ np.diag([sign, sign, 1.0])
    rotation = unturned @ scipy.spatial.transform.Rotation.from_euler("z", -azimuth).as_matrix()
    return Camera(matrix, rotation, unturned @ (feet - centre) - rotation @ feet, image_size)


def _step_between(start: Camera, end: Camera) -> Array:
    """The step in the seven numbers that leads from one camera to another."""
    log_focal = np.log(end.matrix[0, 0] / start.matrix[0, 0])
    turn = scipy.spatial.transform.Rotation.from_matrix(end.rotation @ start.rotation.T).as_rotvec()
    return np.concatenate([[log_focal], turn, end.translation - start.translation])


def _read_json(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise InputError(f'There is no court file "{path}"; check its name and folder.') from None
    except IsADirectoryError:
        raise InputError(f'"{path}" is a folder; give the court file itself.') from None
    except OSError as error:
        raise InputError(f'The court file "{path}" can\'t be read: {error.strerror}.') from None
    except (ValueError, RecursionError):
        raise InputError(
            f'"{path}" is not a court file: it is not JSON text, or it is cut off.'
        ) from None


def _check_image_size(path: str | Path, stated: Any, clip: tuple[int, int]) -> None:
    if not (
        isinstance(stated, list)
        and len(stated) == 2
        and all(isinstance(side, int) and not isinstance(side, bool) for side in stated)
    ):
        raise InputError(
            f'The court file "{path}" has no "image_size" of two whole numbers, such as '
            f"[{clip[0]}, {clip[1]}]."
        )
    if tuple(stated) == clip:
        return
    sentence = (
        f'The court file "{path}" was marked in a picture of {stated[0]} x {stated[1]} pixels, '
        f"but the clip's is {clip[0]} x {clip[1]}. "
    )
    if tuple(reversed(stated)) == clip:
        sentence += "Mark the points again in the picture turned upright."
    else:
        sentence += "Mark the points again in a picture of this clip."
    raise InputError(sentence)


def _read_point(path: str | Path, number: int, entry: Any) -> list[float]:
    """One point of a court file: court x, court y, pixel x, pixel y."""
    values: list[float] = []
    for key in ("court", "pixel"):
        pair = entry.get(key) if isinstance(entry, dict) else None
        if not isinstance(pair, list) or len(pair) != 2:
            raise InputError(
                f'Point {number} of the court file "{path}" has no "{key}" of two numbers.'
            )
        for value in pair:
            is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if not is_number or not abs(value) < 1e9:
                raise InputError(
                    f'Point {number} of the court file "{path}" has "{key}": {json.dumps(pair)}; '
                    "both must be plain numbers."
                )
            values.append(float(value))
    return values


def _check_points(path: str | Path, marked: MarkedCourt) -> None:
    width, height = marked.image_size
    reach = np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + OFF_COURT_TOLERANCE
    for number, (place, pixel) in enumerate(
        zip(marked.court_points, marked.pixels, strict=True), 1
    ):
        if np.any(np.abs(place) > reach):
            raise InputError(
                f'Point {number} of the court file "{path}" is off the court: court '
                f"({place[0]:.2f}, {place[1]:.2f}), while the corners are at "
                f"({COURT_WIDTH / 2:.2f}, {COURT_LENGTH / 2:.2f}) metres from under the middle "
                "of the net."
            )
        if np.any(pixel < 0) or np.any(pixel > [width, height]):
            raise InputError(
                f'Point {number} of the court file "{path}" is outside the picture: pixel '
                f"({pixel[0]:.0f}, {pixel[1]:.0f}), while the picture is {width} x {height}."
            )
    for first, second in combinations(range(len(marked.pixels)), 2):
        apart = np.abs(marked.court_points[first] - marked.court_points[second]).max()
        pixels_apart = np.abs(marked.pixels[first] - marked.pixels[second]).max()
        if apart < 0.005 or pixels_apart < 0.5:
            what = "court place" if apart < 0.005 else "pixel"
            raise InputError(
                f'Points {first + 1} and {second + 1} of the court file "{path}" have the same '
                f"{what}; mark each point once."
            )
    on_a_line = _three_on_a_line(marked.court_points[:4])
    if on_a_line is not None:
        first, second, third = (index + 1 for index in on_a_line)
        raise InputError(
            f'Points {first}, {second} and {third} of the court file "{path}" lie on one line. '
            "Let the first four be corners of a large rectangle on the court, such as the four "
            "corners of one half."
        )


def _three_on_a_line(four: Array) -> tuple[int, int, int] | None:
    """Which three of four court points (4, 2) lie within 0.1 m of one line, if any do."""
    for triple in combinations(range(4), 3):
        first, second, third = four[list(triple)]
        longest = max(np.linalg.norm(a - b) for a, b in combinations(four[list(triple)], 2))
        (a, b), (c, d) = second - first, third - first
        if abs(a * d - b * c) < 0.1 * longest:
            return triple
    return None
