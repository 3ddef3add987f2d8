"""The camera from points of the court: homography, pose for a focal length, fit, covariance."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np
import scipy

from stance.court.camera import Camera, camera_centre, depth, project, projection_parameter_jacobian
from stance.court.court_file import MarkedCourt
from stance.court.floor_error import on_floor
from stance.types import FloatArray

# Marks made by eye miss by about 2 pixels in a full HD picture. Lengths in the picture are
# fractions of its long side, so that a picture's scale does not matter.
MARKING_NOISE = 1.5 / 1280

# Phones' main cameras are said to be 24 to 28 mm long (35 mm equivalent, so 0.67 to 0.78 of the
# long side), a little more where the film is stabilised. The spread, of the logarithm, is wide:
# 0.5 to 1.3 is likely, while six well spread points tell the focal length to 1 %.
USUAL_FOCAL = 0.80

FOCAL_SPREAD = 0.5

FOCAL_RANGE = (0.3, 5.0)

# Phones' lenses bend a picture by less than the spread or little more, those of action cameras draw
# it in by ten times as much: inwards the prior is Cauchy's, which holds the first and lets the
# second go. It is meant for lenses shorter than 54 mm, phones' second ones included. With fewer
# marks than `LENS_POINTS` rough ones look bent where nothing is, so the prior is a normal one.
DISTORTION_SPREAD = 0.03

LENS_POINTS = 8

_LONGEST_PHONE = 1.5

# Which lenses are believed. No lens bends more than an orthographic fisheye, -1/2.
DISTORTION_RANGE = (-0.5, 0.2)

STRONG_DISTORTION = 0.2

# What a fit of points starts from: distortion by the square of the focal length in long sides.
_BENDS = (0.0, -0.6, -1.2)

_LARGEST_MISFIT = 1e6


def fit_camera(
    court_points: FloatArray, pixels: FloatArray, image_size: tuple[int, int]
) -> Camera | None:
    """The camera that fits marked points best, or None where no phone above the floor could.

    The focal length of a plane's picture follows from its homography, but the closed forms
    (Zhang, IEEE PAMI 2000, 22:1330) fail where the picture is parallel to one of the court's
    axes, as behind the middle of the back line. So a few focal lengths are tried, each with the
    pose that the homography then gives, and the best of them is refined on all points.

    Parameters
    ----------
    court_points
        (points, 2) metres, court frame.
    pixels
        (points, 2).
    image_size
        (width, height), pixels.
    """
    points = on_floor(court_points)
    noise = MARKING_NOISE * max(image_size)
    starts = [
        (np.sum(_weigh_misfit(start, points, pixels, noise) ** 2), start)
        for bend in (_BENDS if len(pixels) >= LENS_POINTS else _BENDS[:1])
        for start in _list_starts(court_points, pixels, image_size, bend)
        if depth(start, points).min() > 0
    ]
    if not starts:
        return None
    start = min(starts, key=lambda cost_and_start: cost_and_start[0])[1]

    def misfit(step: FloatArray) -> FloatArray:
        return _weigh_misfit(move_camera(start, step), points, pixels, noise)

    solution = scipy.optimize.least_squares(misfit, np.zeros(8), x_scale="jac")
    camera = move_camera(start, solution.x)
    return camera if is_plausible_lens(camera) and camera_centre(camera)[2] > 0 else None


def straighten(pixels: FloatArray, bend: float, image_size: tuple[int, int]) -> FloatArray:
    """Where pixels would be if the lens did not bend the picture.

    Parameters
    ----------
    pixels
        (..., 2).
    bend
        the distortion of `stance.court.camera` by the square of the focal length in long sides.
    image_size
        (width, height), pixels.
    """
    middle = np.array(image_size) / 2
    away = pixels - middle
    squared = np.sum((away / max(image_size)) ** 2, axis=-1, keepdims=True)
    straight: FloatArray = middle + away / (1.0 + bend * squared)
    return straight


def camera_matrix(focal: float, image_size: tuple[int, int]) -> FloatArray:
    """K (3, 3), pixels: square pixels, principal point in the middle of the picture."""
    width, height = image_size
    return np.array([[focal, 0.0, width / 2], [0.0, focal, height / 2], [0.0, 0.0, 1.0]])


def derive_cameras(
    homography: FloatArray,
    focal_lengths: Iterable[float],
    court_points: FloatArray,
    image_size: tuple[int, int],
) -> Iterator[Camera]:
    """The poses nearest to a homography, one for each focal length.

    The first two columns of K^-1 H are the rotation's up to a common scale (Hartley and
    Zisserman, *Multiple View Geometry*, 2nd edition, section 8.1.1).

    Parameters
    ----------
    homography
        (3, 3) H, court places (x, y, 1) in metres to homogeneous pixels.
    focal_lengths
        pixels.
    court_points
        (points, 2) metres; their middle shall be in front of the camera.
    image_size
        (width, height), pixels.
    """
    middle = np.append(court_points.mean(axis=0), 1.0)
    for focal in focal_lengths:
        matrix = camera_matrix(focal, image_size)
        columns = np.linalg.inv(matrix) @ homography
        columns = columns / np.mean(np.linalg.norm(columns[:, :2], axis=0))
        if columns[2] @ middle < 0:
            columns = -columns
        first, second, translation = columns.T
        left, _, right = np.linalg.svd(np.column_stack([first, second, np.cross(first, second)]))
        yield Camera(matrix, left @ right, translation, image_size)


def move_camera(camera: Camera, step: FloatArray) -> Camera:
    """The camera after a step (8,) in its numbers, order and units as in `stance.court.camera`."""
    matrix = camera.matrix.copy()
    matrix[:2, :2] *= np.exp(step[0])
    rotation = scipy.spatial.transform.Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    return replace(
        camera,
        matrix=matrix,
        rotation=rotation,
        translation=camera.translation + step[4:7],
        distortion=camera.distortion + float(step[7]),
    )


def find_step(start: Camera, end: Camera) -> FloatArray:
    """The step (8,) in the numbers that leads from one camera to another."""
    log_focal = np.log(end.matrix[0, 0] / start.matrix[0, 0])
    turn = scipy.spatial.transform.Rotation.from_matrix(end.rotation @ start.rotation.T).as_rotvec()
    shift = end.translation - start.translation
    return np.concatenate([[log_focal], turn, shift, [end.distortion - start.distortion]])


def focal_misfit(camera: Camera) -> float:
    """By how many standard deviations a focal length is longer than phones' usual one."""
    relative = camera.matrix[0, 0] / max(camera.image_size)
    return float(np.log(relative / USUAL_FOCAL) / FOCAL_SPREAD)


def weigh_distortion(camera: Camera) -> float:
    """One by the variance of the distortion, by Cauchy's prior as a normal one of like weight."""
    spread = _spread_distortion(camera)
    return 1.0 / (spread**2 + min(camera.distortion, 0.0) ** 2)


def scale_distortion(camera: Camera, shortest: float) -> float:
    """How many times as much distortion bends as much as in a lens of `shortest` long sides.

    Lenses of all lengths bend the edges of their pictures by like shares. The distortion is that
    share by the edge's radius in focal lengths squared, so it grows with the length squared. One
    for lenses that are shorter.
    """
    return float(max(1.0, camera.matrix[0, 0] / max(camera.image_size) / shortest) ** 2)


def is_plausible_lens(camera: Camera) -> bool:
    """Whether focal length and distortion are those of a camera that films a court."""
    relative = camera.matrix[0, 0] / max(camera.image_size)
    bent = camera.distortion / scale_distortion(camera, 1.0)
    return bool(
        FOCAL_RANGE[0] < relative < FOCAL_RANGE[1]
        and DISTORTION_RANGE[0] < bent < DISTORTION_RANGE[1]
    )


def is_bent(camera: Camera) -> bool:
    """Whether a lens bends as those of action cameras do, far more than phones'."""
    return bool(abs(camera.distortion) > STRONG_DISTORTION * scale_distortion(camera, 1.0))


def reprojection_errors(camera: Camera, marked: MarkedCourt) -> FloatArray:
    """Where the camera puts the marked points minus where they were marked: (points, 2) pixels."""
    return project(camera, on_floor(marked.court_points)) - marked.pixels


def estimate_marking_noise(camera: Camera, marked: MarkedCourt) -> float:
    """Standard deviation of a marked coordinate, pixels, from the misfit.

    Seven numbers are taken off: few marks leave the eighth, the distortion, to its prior.
    """
    squares = np.sum(reprojection_errors(camera, marked) ** 2)
    return float(np.sqrt(squares / (2 * len(marked.pixels) - 7)))


def estimate_covariance(camera: Camera, court_points: FloatArray, noise: float) -> FloatArray:
    """Covariance of the camera's eight numbers, (8, 8), for a noise in pixels.

    Parameters
    ----------
    court_points
        (points, 2) metres, those that the camera was fitted to.
    noise
        standard deviation of a marked coordinate, pixels.
    """
    by_camera = projection_parameter_jacobian(camera, on_floor(court_points)).reshape(-1, 8)
    information = by_camera.T @ by_camera / noise**2
    information[0, 0] += FOCAL_SPREAD**-2
    information[7, 7] += weigh_distortion(camera)
    return np.linalg.inv(information)


def _spread_distortion(camera: Camera) -> float:
    return DISTORTION_SPREAD * scale_distortion(camera, _LONGEST_PHONE)


def _list_starts(
    court_points: FloatArray, pixels: FloatArray, image_size: tuple[int, int], bend: float
) -> Iterator[Camera]:
    """Cameras of some focal lengths that see points (n, 2) near pixels (n, 2), bent so much."""
    homography = _fit_homography(court_points, straighten(pixels, bend, image_size))
    relative = np.geomspace(*FOCAL_RANGE, 12)
    lengths = relative * max(image_size)
    cameras = derive_cameras(homography, lengths, court_points, image_size)
    for camera, length in zip(cameras, relative, strict=True):
        yield replace(camera, distortion=bend * length**2)


def _weigh_misfit(
    camera: Camera, points: FloatArray, pixels: FloatArray, noise: float
) -> FloatArray:
    """Misfit of every coordinate and of the lens's priors, in standard deviations.

    On its way through contradictory points the fit can meet a camera that has one in its own plane,
    where the picture has no place for it.
    """
    bent = camera.distortion / _spread_distortion(camera)
    if bent < 0 and len(points) >= LENS_POINTS:
        bent = -np.sqrt(np.log1p(bent**2))
    priors = [focal_misfit(camera), bent]
    misfit = np.append((project(camera, points) - pixels).ravel() / noise, priors)
    known = np.nan_to_num(misfit, nan=_LARGEST_MISFIT)
    bounded: FloatArray = np.clip(known, -_LARGEST_MISFIT, _LARGEST_MISFIT)
    return bounded


def _fit_homography(court_points: FloatArray, pixels: FloatArray) -> FloatArray:
    """Court plane to picture, (3, 3), by the normalised direct linear transformation.

    Hartley and Zisserman, Multiple View Geometry, 2nd edition, algorithm 4.2. The same by
    `cv2.findHomography` moves a camera by 1e-8 of its size, and results are held to the last digit.
    """
    from_court, court = _normalise(court_points)
    from_pixels, picture = _normalise(pixels)
    zeros = np.zeros_like(court)
    equations = np.concatenate(
        [
            np.hstack([court, zeros, -picture[:, :1] * court]),
            np.hstack([zeros, court, -picture[:, 1:2] * court]),
        ]
    )
    normalised = np.linalg.svd(equations)[2][-1].reshape(3, 3)
    homography: FloatArray = np.linalg.inv(from_pixels) @ normalised @ from_court
    return homography


def _normalise(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The similarity that centres points at unit spread, and the homogeneous points after it."""
    centre = points.mean(axis=0)
    scale = 1 / np.sqrt(np.mean((points - centre) ** 2))
    similarity = np.array(
        [[scale, 0, -scale * centre[0]], [0, scale, -scale * centre[1]], [0, 0, 1]]
    )
    return similarity, np.column_stack([points, np.ones(len(points))]) @ similarity.T
