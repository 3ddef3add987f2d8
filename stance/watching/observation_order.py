"""Which frames of a spell to observe first, and how sure their mean is."""

from collections.abc import Sequence

import numpy as np

# Where in a spell the first observations are made, as shares of its frames.
_FIRST_SHARES = (0.5, 1 / 6, 5 / 6, 1 / 3, 2 / 3, 0.0, 1.0)


def spread_order(frames: Sequence[int]) -> list[int]:
    """Frames in the order in which to observe them: spread evenly, however many are taken.

    Parameters
    ----------
    frames
        in the clip's order
    """
    ordered: list[int] = []
    if not frames:
        return ordered
    for share in _FIRST_SHARES:
        frame = frames[min(int(share * len(frames)), len(frames) - 1)]
        if frame not in ordered:
            ordered.append(frame)
    return ordered + [frame for frame in frames if frame not in ordered]


def scatter_of_mean(angles: Sequence[tuple[float, float]]) -> float:
    """Largest standard error of the means of angles, from their scatter alone.

    Parameters
    ----------
    angles
        lead angle and hip yaw of each observation, degrees; two or more observations

    Returns
    -------
    Degrees, the standard deviation with n - 1 over the root of n
    """
    values = np.array(angles)
    apart = (values - values[0] + 180.0) % 360.0 - 180.0
    return float((apart.std(axis=0, ddof=1) / np.sqrt(len(values))).max())
