"""What perfect landmarks could tell at best: the physical limit of one camera.

Landmarks that lie on the joints but for one pixel of noise, in a picture of a known camera, leave
errors that no method on landmarks can undo. They are printed beside the measured errors.
"""

import numpy as np

NOISE_PX = 1.0
# A full-HD picture of a phone's main lens, 26 mm for a picture 36 mm wide.
PHONE_FOCAL_PX = 1920 * 26 / 36
# Between the hip joints and between the feet of a waiting grown-up, metres (common practice).
HIP_WIDTH_M = 0.2
STANCE_WIDTH_M = 0.6
# Mean absolute value of a normal error, in standard errors.
MEAN_OF_NORMAL = float(np.sqrt(2.0 / np.pi))


def line_limit(
    elevation: float,
    pixels_per_metre: float,
    turned: float,
    length: float,
    noise_px: float,
) -> float:
    """Standard error of the direction of a level line of known length, degrees.

    Parameters
    ----------
    elevation : radians at which the camera looks down on it
    pixels_per_metre : of the picture, where the line is
    turned : degrees between the line and the picture's horizontal, seen from above
    length : metres
    noise_px : standard deviation of each end, across and down

    Notes
    -----
    Cramer-Rao bound (e.g. S. M. Kay, Fundamentals of Statistical Signal Processing: Estimation
    Theory, 1993, chapter 3). The line shows as length * (cos, sin * sin(elevation)) pixels, its
    ends' noise doubles the variance; so the information about the angle is
    length^2 (sin^2 + cos^2 sin^2(elevation)) / (2 noise^2).
    """
    angle = np.radians(turned)
    moved = length * pixels_per_metre * np.hypot(np.sin(angle), np.cos(angle) * np.sin(elevation))
    return float(np.degrees(np.sqrt(2.0) * noise_px / moved))


def seen_limit(
    elevation: float,
    pixels_per_metre: float,
    bearing: float,
    hips: float,
    feet: float,
) -> tuple[float, float, float]:
    """Least mean absolute errors of hip yaw (degrees), lead angle (degrees) and stagger (metres).

    Parameters
    ----------
    elevation, pixels_per_metre : as in `line_limit`
    bearing : degrees from straight behind the player to the camera, positive to the right
    hips, feet : degrees from the court's x axis to the lines of hips and feet

    Notes
    -----
    A foot's middle lies between heel and toe, so its noise is smaller by the root of two; the
    feet's distance is not known, so their line's across and down errors both count.
    """
    turn = line_limit(elevation, pixels_per_metre, hips - bearing, HIP_WIDTH_M, NOISE_PX)
    # The feet's line errs by noise across and by noise / sin(elevation) along the view.
    across = NOISE_PX / pixels_per_metre
    along = across / np.sin(elevation)
    view, line = np.radians(bearing), np.radians(feet)
    # The view's axes in the court: across (cos, sin), along (-sin, cos) of its bearing.
    turning = np.hypot(across * np.sin(line - view), along * np.cos(line - view))
    stagger = np.hypot(across * np.sin(view), along * np.cos(view))
    return (
        MEAN_OF_NORMAL * turn,
        MEAN_OF_NORMAL * float(np.degrees(turning / STANCE_WIDTH_M)),
        MEAN_OF_NORMAL * float(stagger),
    )
