"""How far one camera alone is off the reference."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from stance.court.camera import Camera, floor_point
from stance.measures import stance_measures
from stance.measures.orientation import observe
from stance.people.landmarker import Landmarker
from stance.people.landmarks import (
    LEFT_HIP,
    RIGHT_HIP,
    Pose,
)
from stance.types import FloatArray
from stance.video.reader import read_frames_at
from tests.evaluation.feet_sizes import KeptReadings, feet_sizes
from tests.evaluation.real_recording.observing import (
    mean_pose,
    observe_both_ways,
    person_box,
    turned_aside,
)
from tests.evaluation.real_recording.recording import CAMERAS, read_cameras, video
from tests.evaluation.real_recording.reference import (
    LANDMARK_OF_JOINT,
    Directions,
    Reference,
    joint_directions,
)
from tests.evaluation.world_landmarks import crop_rotation

# In the recording the person is within 6 degrees of the pictures' middle, so what the viewing
# ray is worth shows only when the phone is turned aside, as one that films a whole court is.
TURNS_ASIDE = (-25.0, 25.0)


def measure(camera: Camera, pose: Pose, viewing_ray: bool = True) -> Directions:
    """Return the directions that one camera alone gives.

    Hips and shoulders come from the world landmarks, turned by the viewing ray and the camera
    or, for comparison, by the camera alone; feet from heels and toes on the floor. The
    direction between two floor points does not depend on the floor's height, so z = 0 will do.
    """
    if viewing_ray:
        hips = pose.pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0)
        rotation = crop_rotation(camera, hips)
    else:
        rotation = camera.rotation.T
    of_body = joint_directions((pose.world @ rotation.T)[LANDMARK_OF_JOINT])
    on_floor = joint_directions(floor_point(camera, pose.pixels[LANDMARK_OF_JOINT]))
    return Directions(of_body.hips, of_body.shoulders, on_floor.feet)


def difference(estimate: npt.ArrayLike, truth: npt.ArrayLike) -> FloatArray:
    """Return estimate minus truth, degrees, wrapped to (-180, 180]."""
    return np.asarray(180.0 - (np.asarray(truth) - np.asarray(estimate) + 180.0) % 360.0)


def against(
    reference: Reference, estimate: Directions, truth: Directions, rows: Sequence[int] | None = None
) -> Directions:
    """Return estimate minus truth, degrees; for the feet NaN where one is in the air.

    Parameters
    ----------
    estimate, truth : directions (n,)
    rows : where the n directions stand in the reference; None for all its frames
    """
    standing = reference.standing if rows is None else reference.standing[list(rows)]
    feet = difference(estimate.feet, truth.feet)
    return Directions(
        difference(estimate.hips, truth.hips),
        difference(estimate.shoulders, truth.shoulders),
        np.where(standing, feet, np.nan),
    )


def errors(
    camera: Camera,
    poses: Sequence[Pose | None],
    reference: Reference,
    rows: Sequence[int],
    truth: Directions,
    viewing_ray: bool = True,
) -> Directions:
    """Compare one camera with the reference.

    Parameters
    ----------
    poses : the person in the frames that stand in `rows` of the reference
    truth : directions (frames,) for all frames of the reference

    Returns
    -------
    Estimate minus truth, degrees (rows,); NaN where nobody was found, and for the feet where one
    was in the air.
    """
    nothing = np.full(3, np.nan)
    seen = np.array(
        [_as_row(measure(camera, pose, viewing_ray)) if pose else nothing for pose in poses]
    )
    return against(reference, Directions(*seen.T), truth.at(rows), rows)


def turned_aside_errors(
    landmarker: Landmarker,
    view: int,
    rows: Sequence[int],
    reference: Reference,
    degrees: float,
) -> tuple[Directions, Directions]:
    """Return one camera's errors with and without the viewing ray, the phone turned aside."""
    camera = read_cameras()[view]
    frames = [int(reference.frames[row]) for row in rows]
    turned, poses = camera, []
    for frame, row in zip(read_frames_at(video(view), frames), rows, strict=True):
        turned, image = turned_aside(camera, frame.image, degrees)
        box = person_box(turned, reference.hips_middle[row])
        poses.append(mean_pose(observe_both_ways(landmarker, image, box)))
    with_ray, without_ray = (
        errors(turned, poses, reference, rows, reference.directions, viewing_ray)
        for viewing_ray in (True, False)
    )
    return with_ray, without_ray


@dataclass(frozen=True)
class NetworkErrors:
    """Errors of what the tool measures by, the network on one camera's crops.

    Attributes
    ----------
    errors, sizes : of hips, shoulders and feet (rows,): estimate minus truth, and standard errors
    feet_sizes : (rows, 2) standard errors of the feet's direction, by what the network predicts
        alone and by how far its readings are apart alone
    """

    errors: Directions
    sizes: Directions
    feet_sizes: FloatArray


def network_errors(view: int, rows: Sequence[int], reference: Reference) -> NetworkErrors:
    """Return the errors of the network on one camera's crops."""
    camera = read_cameras()[view]
    frames = [int(reference.frames[row]) for row in rows]
    predicted, sizes = np.full((2, len(rows), 3), np.nan)
    of_feet = np.full((len(rows), 2), np.nan)
    reader = KeptReadings()
    with Landmarker("full") as landmarker:
        for i, (frame, row) in enumerate(
            zip(read_frames_at(video(view), frames), rows, strict=True)
        ):
            box = person_box(camera, reference.hips_middle[row])
            pose = landmarker.detect(frame.image, box)
            seen = None if pose is None else observe(reader, frame.image, pose, camera)
            found = None if seen is None else stance_measures.measure(camera, seen, "right")
            if seen is not None and found is not None:
                pairs = (found.hip_yaw, found.shoulder_yaw, found.lead_angle)
                predicted[i], sizes[i] = np.array(pairs).T
                of_feet[i] = feet_sizes(camera, seen, reader.readings, "right")[0]
    errors = against(reference, Directions(*predicted.T), reference.directions.at(rows), rows)
    return NetworkErrors(errors, Directions(*sizes.T), of_feet)


def real_feet(reference: Reference) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return errors of the feet's direction in all cameras, of those frames in which he stands.

    Returns
    -------
    (n, 1) degrees; (n, 1, 2) as `NetworkErrors.feet_sizes`; (n, 1) the reference's own error
    """
    rows = range(len(reference.frames))
    found = [network_errors(view, rows, reference) for view in range(CAMERAS)]
    errors = np.concatenate([made.errors.feet for made in found])
    sizes = np.concatenate([made.feet_sizes for made in found])
    of_reference = np.tile(feet_reference_error(reference), CAMERAS)
    known = np.isfinite(errors)
    return errors[known, None], sizes[known, None], of_reference[known, None]


def feet_reference_error(reference: Reference) -> FloatArray:
    """Return the jackknife standard error of the feet's directions (frames,), degrees: what leaving
    out one camera after the other makes of them."""
    without = np.array([part.feet for part in reference.without])
    apart = difference(without, without[0])
    count = len(without)
    return np.asarray(np.sqrt((count - 1) * apart.var(axis=0)))


def holds(errors: FloatArray, sizes: FloatArray) -> float:
    """Return how often 95 % intervals hold, per cent, of errors that are no NaN."""
    known = np.isfinite(errors)
    return float(100.0 * np.mean(np.abs(errors[known]) <= 1.96 * sizes[known]))


def bias_and_mean(values: FloatArray) -> tuple[float, float]:
    """Return the mean and the mean absolute value of what is no NaN."""
    return float(np.nanmean(values)), float(np.nanmean(np.abs(values)))


def error_text(made: Directions) -> str:
    """Return bias and mean absolute error of hips, shoulders and feet as a line of a table."""
    named = (("hips", made.hips), ("shoulders", made.shoulders), ("feet", made.feet))
    return "   ".join(
        "{} {:+6.1f} {:5.1f}".format(name, *bias_and_mean(values)) for name, values in named
    )


def _as_row(directions: Directions) -> FloatArray:
    return np.array([directions.hips, directions.shoulders, directions.feet])
