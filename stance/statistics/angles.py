"""Angles in degrees that wrap around: differences, mean directions."""

import numpy as np

from stance.types import FloatArray


def wrap_degrees(angles_deg: FloatArray) -> FloatArray:
    """Give angles, or differences of angles, the short way round.

    Parameters
    ----------
    angles_deg
        (...) degrees

    Returns
    -------
    (...) degrees in [-180, 180)
    """
    wrapped: FloatArray = (angles_deg + 180.0) % 360.0 - 180.0
    return wrapped


def unwrap_degrees(angles_deg: FloatArray, reference_deg: FloatArray) -> FloatArray:
    """Give angles less than half a turn from a reference, so that they average as numbers.

    Parameters
    ----------
    angles_deg, reference_deg
        (...) degrees, of shapes that broadcast

    Returns
    -------
    (...) degrees in [reference - 180, reference + 180)
    """
    return reference_deg + (angles_deg - reference_deg + 180.0) % 360.0 - 180.0


def circular_mean(angles_deg: FloatArray) -> float:
    """Mean direction of angles.

    As `scipy.stats.circmean`, without the half second that SciPy's statistics take to load.

    Parameters
    ----------
    angles_deg
        (n,) degrees

    Returns
    -------
    degrees in (-180, 180]
    """
    return float(np.degrees(np.angle(np.exp(1j * np.radians(angles_deg)).mean())))
