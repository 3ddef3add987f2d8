"""Where the phone stood, seen from the player."""

import math

import numpy as np

from stance.court.camera import Camera, camera_centre, turned_180
from stance.results.model import CourtCamera, Filming, Result
from stance.types import UNKNOWN_VIEW, VIEWS, FilmedFrom, Half, View

# Where one view ends and the next begins: degrees between straight behind the player and the
# phone, seen from above.
_VIEW_ENDS_DEG = (20.0, 65.0, 125.0, 181.0)

_VIEWS_SAID: dict[FilmedFrom | None, View] = {
    None: UNKNOWN_VIEW,
    "behind": "behind",
    "rear-left": "corner",
    "rear-right": "corner",
    "left": "side",
    "right": "side",
    "front-left": "front",
    "front-right": "front",
    "front": "front",
}


def filming_of(result: Result) -> Filming:
    """Tell where the phone stood, seen from the middle of all ready positions of a result.

    Returns
    -------
    The view "unknown" and NaN where there is no camera or no ready position with a place; of an
    assumed camera the view is what somebody said.
    """
    if result.court.source == "assumed" or result.court.camera is None:
        return Filming(_VIEWS_SAID[result.court.filmed_from], math.nan, math.nan)
    offsets = []
    for player in result.players:
        phone = _phone(result.court.camera, result.clip.size, player.half)
        height = float(phone[2])
        offsets += [
            phone[:2] - p.base_m for p in player.ready_positions if np.isfinite(p.base_m).all()
        ]
    if not offsets:
        return Filming(UNKNOWN_VIEW, math.nan, math.nan)
    across, along = np.mean(offsets, axis=0)
    from_behind = abs(math.degrees(math.atan2(across, -along)))
    view = next(v for v, end in zip(VIEWS, _VIEW_ENDS_DEG, strict=True) if from_behind < end)
    return Filming(view, height, float(math.hypot(across, along)))


def _phone(court: CourtCamera, size: tuple[int, int], half: Half) -> np.ndarray:
    """Place of the phone in the frame of the player's own half, (3,) metres."""
    camera = Camera(
        np.array(court.K),
        np.array(court.R),
        np.array(court.t),
        size,
        distortion=court.distortion,
    )
    return camera_centre(camera if half == "near" else turned_180(camera))
