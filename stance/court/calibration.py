"""The camera from marked points: fitted, checked against contradictions, refused where too weak."""

from dataclasses import dataclass, replace

import numpy as np

from stance.court.camera import Camera
from stance.court.contradictions import contradicts, find_contradiction
from stance.court.court_file import MarkedCourt
from stance.court.floor_error import refuse_weak_layout
from stance.court.pose import (
    MARKING_NOISE,
    estimate_covariance,
    estimate_marking_noise,
    fit_camera,
    reprojection_errors,
)
from stance.types import CourtSource


@dataclass(frozen=True)
class CalibratedCourt:
    """A camera and where it comes from.

    Attributes
    ----------
    camera
        with its covariance.
    error_px
        root mean square distance between the marked pixels, or the edges of the lines that were
        found, and where the camera puts them; None for an assumed camera.
    source
        "marked", "found" or "assumed".
    """

    camera: Camera
    error_px: float | None
    source: CourtSource


@dataclass(frozen=True)
class FoundCourt:
    """A court found in a picture, or why none was.

    Attributes
    ----------
    court
        the calibrated court, source "found"; None where none was found for sure.
    confidence
        0 to 1, how sure the reading is; too low a one is refused.
    reason
        what is missing, a sentence for a coach; empty where a court was found.
    """

    court: CalibratedCourt | None
    confidence: float
    reason: str = ""


def calibrate(marked: MarkedCourt) -> CalibratedCourt:
    """The camera that took a picture in which floor points are marked.

    Square pixels and the principal point in the middle of the picture are taken for granted.
    Focal length and distortion have weak priors (`USUAL_FOCAL`, `FOCAL_SPREAD`;
    `DISTORTION_SPREAD`), which keep poor layouts sane and move good ones by far less than their
    error. The camera's covariance takes the noise of a marked coordinate to be what the misfit
    says, at least `MARKING_NOISE`.

    Raises
    ------
    InputError
        If the points are mirrored, contradict each other, or lie so that they leave the
        direction of a stance open by more than `DIRECTION_LIMIT_DEG`, or its place by more than
        `POSITION_LIMIT_M`, in the middle of both halves.
    """
    camera = fit_camera(marked.court_points, marked.pixels, marked.image_size)
    if camera is None or contradicts(camera, marked):
        raise find_contradiction(marked)
    noise = max(estimate_marking_noise(camera, marked), MARKING_NOISE * max(marked.image_size))
    calibrated = replace(camera, covariance=estimate_covariance(camera, marked.court_points, noise))
    refuse_weak_layout(calibrated)
    distances = np.linalg.norm(reprojection_errors(camera, marked), axis=1)
    error_px = float(np.sqrt(np.mean(distances**2)))
    return CalibratedCourt(calibrated, error_px, "marked")
