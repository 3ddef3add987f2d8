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

_LARGEST_MISFIT = 1e6

FOCAL_RANGE = (0.3, 5.0)


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
    homography = _fit_homography(court_points, pixels)
    points = on_floor(court_points)
    noise = MARKING_NOISE * max(image_size)
    focal_lengths = max(image_size) * np.geomspace(*FOCAL_RANGE, 12)
    starts = [
        (np.sum(_weigh_misfit(start, points, pixels, noise) ** 2), start)
        for start in derive_cameras(homography, focal_lengths, court_points, image_size)
        if depth(start, points).min() > 0
    ]
    if not starts:
        return None
    start = min(starts, key=lambda cost_and_start: cost_and_start[0])[1]

    def misfit(step: FloatArray) -> FloatArray:
        return _weigh_misfit(move_camera(start, step), points, pixels, noise)

    solution = scipy.optimize.least_squares(misfit, np.zeros(7), x_scale="jac")
    camera = move_camera(start, solution.x)
    shortest, longest = (limit * max(image_size) for limit in FOCAL_RANGE)
    if not shortest < camera.matrix[0, 0] < longest or camera_centre(camera)[2] <= 0:
        return None
    return camera


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
    """The camera after a step in its seven numbers, or eight with the lens's distortion.

    Parameters
    ----------
    step
        (7,) or (8,), order and units as in `stance.court.camera`.
    """
    matrix = camera.matrix.copy()
    matrix[:2, :2] *= np.exp(step[0])
    rotation = scipy.spatial.transform.Rotation.from_rotvec(step[1:4]).as_matrix() @ camera.rotation
    return replace(
        camera,
        matrix=matrix,
        rotation=rotation,
        translation=camera.translation + step[4:7],
        distortion=camera.distortion + float(np.sum(step[7:])),
    )


def find_step(start: Camera, end: Camera) -> FloatArray:
    """The step (7,) in the seven numbers that leads from one camera to another."""
    log_focal = np.log(end.matrix[0, 0] / start.matrix[0, 0])
    turn = scipy.spatial.transform.Rotation.from_matrix(end.rotation @ start.rotation.T).as_rotvec()
    return np.concatenate([[log_focal], turn, end.translation - start.translation])


def focal_misfit(camera: Camera) -> float:
    """By how many standard deviations a focal length is longer than phones' usual one."""
    relative = camera.matrix[0, 0] / max(camera.image_size)
    return float(np.log(relative / USUAL_FOCAL) / FOCAL_SPREAD)


def reprojection_errors(camera: Camera, marked: MarkedCourt) -> FloatArray:
    """Where the camera puts the marked points minus where they were marked: (points, 2) pixels."""
    return project(camera, on_floor(marked.court_points)) - marked.pixels


def estimate_marking_noise(camera: Camera, marked: MarkedCourt) -> float:
    """Standard deviation of a marked coordinate, pixels, from the misfit of seven numbers."""
    squares = np.sum(reprojection_errors(camera, marked) ** 2)
    return float(np.sqrt(squares / (2 * len(marked.pixels) - 7)))


def estimate_covariance(camera: Camera, court_points: FloatArray, noise: float) -> FloatArray:
    """Covariance of the camera's seven numbers, (7, 7), for a noise in pixels.

    Parameters
    ----------
    court_points
        (points, 2) metres, those that the camera was fitted to.
    noise
        standard deviation of a marked coordinate, pixels.
    """
    by_camera = projection_parameter_jacobian(camera, on_floor(court_points)).reshape(-1, 7)
    information = by_camera.T @ by_camera / noise**2
    information[0, 0] += FOCAL_SPREAD**-2
    return np.linalg.inv(information)


def _weigh_misfit(
    camera: Camera, points: FloatArray, pixels: FloatArray, noise: float
) -> FloatArray:
    """Misfit of every coordinate and of the focal length's prior, in standard deviations.

    On its way through contradictory points the fit can meet a camera that has one in its own plane,
    where the picture has no place for it.
    """
    misfit = np.append((project(camera, points) - pixels).ravel() / noise, focal_misfit(camera))
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
