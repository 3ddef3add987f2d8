"""Whether a camera stands, seen while the clip is read."""

import numpy as np

from stance.camera_motion.motion import CameraMotion
from stance.camera_motion.registration import STILL, ReferenceViews, grid_distance, reference_grid
from stance.camera_motion.segments import described_motion
from stance.video.frame import Frame

STANDING_LOOK_S = 0.4

STANDING_LOOKS = 12
"""Time between looks that only ask whether the camera stands, and from how many of them on it may
be said that it does not. What is asked of all looks together needs no close ones."""

STANDING_HALVINGS = (0, 3)
"""How often pictures are halved so that corners are followed farther than some pixels; the next is
tried where most do not agree on one motion. While a camera stands they need not be, which takes a
third of the time; a sway is followed less closely so (docs/performance.md)."""


class StandingCamera:
    """Sees, while a clip is read for something else, whether its camera stands all along.

    Parameters
    ----------
    image_size : (width, height) of the clip's upright picture, pixels.
    """

    def __init__(self, image_size: tuple[int, int]) -> None:
        self._size = image_size
        self._views = ReferenceViews(image_size, STANDING_HALVINGS)
        self._due = -np.inf
        self._last: Frame | None = None
        self._off: list[float] = []
        self.moved = False

    def see(self, frame: Frame) -> None:
        """Take the next frame of the clip; `moved` is true once the camera does not stand."""
        self._last = frame
        if frame.time_s >= self._due:
            self._due = frame.time_s + STANDING_LOOK_S
            self._look(frame)

    def _look(self, frame: Frame) -> None:
        """Look at a frame."""
        look = self._views.look(frame)
        self._last = None
        if look.from_reference is None or self._views.past:
            self.moved = True
            return
        self._off.append(grid_distance(look.from_reference, reference_grid(self._size)))
        # Where the first picture is itself an outlier all others seem off by the same.
        off = np.abs(np.array(self._off) - np.median(self._off))
        self.moved |= len(off) >= STANDING_LOOKS and bool(
            np.percentile(off, 95) >= 2 * STILL * max(self._size)
        )

    def motion(self) -> CameraMotion | None:
        """How a camera that stood all along did so; None where it did not."""
        if self._last is not None:
            self._look(self._last)
        told = None if self.moved else described_motion(self._views.ended(), self._size)
        return told if told is not None and told.stands and len(told.parts) == 1 else None
