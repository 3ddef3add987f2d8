"""Whether marked points fit together, and which one does not."""

from dataclasses import replace

import numpy as np

from stance.court.camera import Camera, projection_parameter_jacobian
from stance.court.court_file import MarkedCourt, span_a_plane
from stance.court.floor_error import on_floor
from stance.court.pose import (
    LENS_POINTS,
    MARKING_NOISE,
    estimate_covariance,
    estimate_marking_noise,
    fit_camera,
    reprojection_errors,
)
from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.types import FloatArray

# Misfit in the picture's long sides: noise of all coordinates, and what a single point may be off.
CONTRADICTION_LIMIT = 8 / 1280

OUTLIER_LIMIT = 12 / 1280

_BENT_TOO_MUCH = _(
    "If straight lines look strongly bent in the picture, film with a narrower field of view, or "
    "with the camera's correction of bent lines switched on: a lens that bends more than a "
    "fisheye's can't be allowed for."
)

_BENT = _(
    "If straight lines look bent in the picture, as through an action camera's lens, mark {number} "
    "points or more, so that the bend can be told."
).format(number=LENS_POINTS)


class MisfitPointError(InputError):
    """One marked point does not fit the others.

    Attributes
    ----------
    index
        of the point.
    expected_px
        (2,) where the others put it; NaN where they put it nowhere.
    """

    def __init__(self, sentence: str, index: int, expected_px: FloatArray) -> None:
        super().__init__(sentence)
        self.index = index
        self.expected_px = expected_px


def contradicts(camera: Camera, marked: MarkedCourt) -> bool:
    """Whether the points misfit as a whole, or one of five or more misfits alone.

    Parameters
    ----------
    camera
        the one that fits the marked points best

    Notes
    -----
    What leaving one point out would take off the sum of squares follows from its leverage
    (Cook and Weisberg, Residuals and Influence in Regression, 1982, section 2.2).
    """
    long_side = max(marked.image_size)
    if estimate_marking_noise(camera, marked) > CONTRADICTION_LIMIT * long_side:
        return True
    if len(marked.pixels) < 5:
        return False
    noise = MARKING_NOISE * long_side
    covariance = estimate_covariance(camera, marked.court_points, noise)
    by_camera = projection_parameter_jacobian(camera, on_floor(marked.court_points))
    leverage = by_camera @ covariance @ np.swapaxes(by_camera, 1, 2) / noise**2
    misfit = reprojection_errors(camera, marked)[:, :, None]
    without = np.linalg.pinv(np.eye(2) - leverage, rcond=1e-6, hermitian=True) @ misfit
    return bool(np.max(np.sum(misfit * without, axis=1)) > (OUTLIER_LIMIT * long_side) ** 2)


def find_contradiction(marked: MarkedCourt) -> InputError:
    """The error that says why no camera fits the marked points; `MisfitPointError` of one."""
    mirrored = replace(marked, court_points=marked.court_points * [-1.0, 1.0])
    limit = CONTRADICTION_LIMIT * max(marked.image_size)
    camera = fit_camera(mirrored.court_points, mirrored.pixels, mirrored.image_size)
    if camera is not None and estimate_marking_noise(camera, mirrored) <= limit:
        return InputError(
            _(
                "The marked points show the court as in a mirror: left and right are swapped. "
                "Seen by a player who faces the net, x is positive on the right and y grows "
                "towards the net; correct the points' court places, or use the clip that is "
                "not mirrored."
            )
        )
    if len(marked.pixels) == 4:
        return InputError(
            _(
                "The four marked points do not fit together: no camera above the floor sees "
                "the court like that. Check that each was marked where its court place says, "
                "and mark one or two more so that the wrong one can be found."
            )
        )
    few = len(marked.pixels) < LENS_POINTS
    bent = _BENT if few else _BENT_TOO_MUCH
    left_out = []
    for index in range(len(marked.pixels)):
        rest = replace(
            marked,
            court_points=np.delete(marked.court_points, index, axis=0),
            pixels=np.delete(marked.pixels, index, axis=0),
        )
        if not span_a_plane(rest.court_points):
            continue
        camera = fit_camera(rest.court_points, rest.pixels, rest.image_size)
        if camera is not None:
            left_out.append((estimate_marking_noise(camera, rest), index, camera))
    if not left_out:
        return InputError(
            _(
                "The marked points do not fit together: no camera above the floor sees the "
                "court like that, whichever of them is left out. Check the court place of each."
            )
            + f" {bent}"
        )
    noise, worst, camera = min(left_out, key=lambda entry: entry[0])
    expected = marked.pixels[worst] + reprojection_errors(camera, marked)[worst]
    sentence = _describe_misfit(marked, worst, expected)
    if noise > limit:
        sentence += " " + _("Others do not fit well either; check them all.")
    if noise > limit or few:
        sentence += f" {bent}"
    return MisfitPointError(sentence, worst, expected)


def _describe_misfit(marked: MarkedCourt, worst: int, expected_px: FloatArray) -> str:
    """The sentence on one point that does not fit the others."""
    (x, y), (u, v) = marked.court_points[worst], marked.pixels[worst]
    error = float(np.linalg.norm(expected_px - marked.pixels[worst]))
    if np.isfinite(error):
        sentence = _(
            "Marked point {number} (court {place}; pixel {pixel}) does not fit the others: it lies "
            "{error} pixels from where they put it. Check its court place, or mark it again."
        )
    else:
        sentence = _(
            "Marked point {number} (court {place}; pixel {pixel}) does not fit the others: it lies "
            "nowhere near where they put it. Check its court place, or mark it again."
        )
    return sentence.format(
        number=worst + 1, place=f"{x:.2f}, {y:.2f}", pixel=f"{u:.0f}, {v:.0f}", error=f"{error:.0f}"
    )
