"""Whether a camera stands, seen while the clip is read."""

import numpy as np

from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.registration import STILL, ViewRegistrar, mean_displacement, picture_grid
from stance.camera_motion.segments import describe_motions
from stance.video.frame import Frame

CHECK_STEP_S = 0.4
"""Time between pictures that are registered only to see whether the camera stands."""

LEAST_CHECKS = 12
"""From so many of them on it may be said that it does not. What is asked of all pictures together
needs no close ones."""

CHECK_PYRAMID_LEVELS = (0, 3)
"""Highest pyramid levels of the optical flow, the next where most corners do not agree on one
motion. While a camera stands the full picture alone will do, which takes a third of the time; a
sway is tracked less closely so (docs/performance.md)."""


class CameraStillnessCheck:
    """Sees, while a clip is read for something else, whether its camera stands all along.

    Parameters
    ----------
    image_size
        (width, height) of the clip's upright picture, pixels.

    Attributes
    ----------
    moved
        whether the camera has been seen not to stand.
    """

    def __init__(self, image_size: tuple[int, int]) -> None:
        self._size = image_size
        self._registrar = ViewRegistrar(image_size, CHECK_PYRAMID_LEVELS)
        self._due_s = -np.inf
        self._unregistered: Frame | None = None
        self._displacements: list[float] = []
        self.moved = False

    def take(self, frame: Frame) -> None:
        """Take the next frame of the clip; `moved` is true once the camera does not stand."""
        self._unregistered = frame
        if frame.time_s >= self._due_s:
            self._due_s = frame.time_s + CHECK_STEP_S
            self._register(frame)

    def motion(self) -> CameraMotion | None:
        """Describe how a camera that stood all along did so; None where it did not."""
        if self._unregistered is not None:
            self._register(self._unregistered)
        if self.moved:
            return None
        motions = describe_motions(self._registrar.views(), self._size)
        stood = len(motions) == 1 and motions[0].stands and len(motions[0].parts) == 1
        return motions[0] if stood else None

    def _register(self, frame: Frame) -> None:
        """Register a frame, and judge all so far."""
        registration = self._registrar.register(frame)
        self._unregistered = None
        if registration.from_reference is None or not self._registrar.one_view:
            self.moved = True
            return
        grid = picture_grid(self._size)
        self._displacements.append(mean_displacement(registration.from_reference, grid))
        # Where the first picture is itself an outlier all others seem displaced by the same.
        off = np.abs(np.array(self._displacements) - np.median(self._displacements))
        self.moved |= len(off) >= LEAST_CHECKS and bool(
            np.percentile(off, 95) >= 2 * STILL * max(self._size)
        )
