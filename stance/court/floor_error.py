"""How far a camera's error moves places and directions on the floor."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from stance.court.camera import Camera, floor_parameter_jacobian, project
from stance.court.dimensions import HALVES
from stance.errors import InputError
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.types import FloatArray

# Four crossings with 2 px of noise add 1 to 6 degrees where they are well spread, up to 120 where
# they are not; a whole half adds 0.2 to 0.6. With 8 degrees from the calibration and 6 from the
# pose, even a perfectly square stance reaches a probability of only 0.68.
DIRECTION_LIMIT_DEG = 8.0

POSITION_LIMIT_M = 0.5


@dataclass(frozen=True)
class FloorError:
    """What the calibration alone adds at a place on the floor, as standard deviations.

    Attributes
    ----------
    direction_deg
        of a line on the floor, the worst of all directions, degrees.
    position_m
        where a point lies, along the worst direction, metres.
    """

    direction_deg: float
    position_m: float


def floor_direction_error(camera: Camera, base: ArrayLike) -> FloorError:
    """What the calibration alone adds to a direction and to a place on the floor.

    The line is 0.6 m long, as the feet of a stance, and centred on the base; both ends keep
    their pixels while the camera varies by its covariance.

    Parameters
    ----------
    base
        (2,) metres, court frame.

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


def refuse_weak_layout(camera: Camera) -> None:
    """Refuse a calibration that leaves stances open in the middle of both halves.

    Raises
    ------
    InputError
        If directions are worse known than `DIRECTION_LIMIT_DEG`, or places than
        `POSITION_LIMIT_M`.
    """
    errors = [floor_direction_error(camera, (0.0, sign * 4.0)) for sign in HALVES.values()]
    if any(
        error.direction_deg <= DIRECTION_LIMIT_DEG and error.position_m <= POSITION_LIMIT_M
        for error in errors
    ):
        return
    raise InputError(
        _(
            "The marked points cannot carry the measures: they lie too close together or "
            "too nearly on a line, and leave the direction of a stance open by {direction} "
            "degrees and its place by {position} metres. Mark points as far apart as the "
            "picture shows them: all crossings of one half, and corners of the far one."
        ).format(
            direction=format_number(np.nanmin([error.direction_deg for error in errors])),
            position=format_number(np.nanmin([error.position_m for error in errors]), 1),
        )
    )


def _floor_change(camera: Camera, places: FloatArray) -> FloatArray:
    """Change of floor points (..., 2) whose pixels stay, by the camera: (..., 2, 8)."""
    return floor_parameter_jacobian(camera, project(camera, on_floor(places)))


def on_floor(places: FloatArray) -> FloatArray:
    """Places (..., 2) on the floor as points (..., 3)."""
    return np.concatenate([places, np.zeros_like(places[..., :1])], axis=-1)
