"""Where something moves, so that a player may be there."""

from collections.abc import Sequence

import cv2
import numpy as np

from stance.court.camera import Camera, floor_point, project
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.people.landmarks import CROP_FACTOR, Box
from stance.people.search_boxes import closer_box
from stance.types import ImageArray
from stance.video.frame import Frame

_PROPOSALS = 3

_SMALL_WIDTH = 480

# Seconds between frames that the still background is made of.
_BACKGROUND_PAUSE = 0.25


class MotionSearch:
    """Places on the half court where something has changed against the still background."""

    def __init__(self, camera: Camera, image_size: tuple[int, int]) -> None:
        self._camera = camera
        self._scale = image_size[0] / min(_SMALL_WIDTH, image_size[0])
        self._width = min(_SMALL_WIDTH, image_size[0])
        self._subtractor = cv2.createBackgroundSubtractorMOG2(
            history=150, varThreshold=16, detectShadows=False
        )
        self._due = -np.inf
        self._waiting: Frame | None = None
        self._changed: ImageArray | None = None

    def watch(self, frame: Frame) -> None:
        """Take a frame in, which is looked at if it is due or asked for."""
        self._waiting = frame
        if frame.time_s >= self._due:
            self._take()

    def _take(self) -> None:
        """Look at the frame that waits."""
        if self._waiting is not None:
            self._due = self._waiting.time_s + _BACKGROUND_PAUSE
            small = cv2.GaussianBlur(self._waiting.shrink_grey(self._width), (3, 3), 0)
            self._changed = np.asarray(self._subtractor.apply(small), np.uint8)
            self._waiting = None

    def proposals(self, known: Sequence[Box]) -> list[Box]:
        """Return squares around what has the height of a person and stands on the half.

        Parameters
        ----------
        known : squares in which players are followed already
        """
        self._take()
        if self._changed is None:
            return []
        # Parts of a person that look like the floor leave gaps, mostly one above the other.
        closed = cv2.morphologyEx(
            (self._changed > 0).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((11, 5))
        )
        count, _, stats, _ = cv2.connectedComponentsWithStats(closed)
        boxes = []
        lefts, tops, widths, heights, areas = (stats[1:count] * self._scale).T
        feet = np.stack([lefts + widths / 2, tops + heights], axis=-1)
        x, y = floor_point(self._camera, feet)[:, :2].T
        may_be = (
            (areas >= 0.05 * widths * heights / self._scale)
            & (heights >= 12 * self._scale / 4)
            & (np.abs(x) <= COURT_WIDTH / 2 + 0.5)
            & (y >= -COURT_LENGTH / 2 - 0.5)
            & (y <= 0.3)
        )
        for foot, place, top, height, area in zip(
            feet[may_be],
            np.stack([x, y], axis=-1)[may_be],
            tops[may_be],
            heights[may_be],
            areas[may_be],
            strict=True,
        ):
            head = project(self._camera, np.array([*place, 1.7]))
            tall = float(np.linalg.norm(head - foot))
            if not 0.4 * tall <= height <= 1.6 * tall:
                continue
            # A shadow moves the foot and with it the height expected, but not what has changed.
            side = CROP_FACTOR * float(min(height, tall))
            box = Box(float(foot[0]) - side / 2, float(top + height / 2) - side / 2, side)
            if not any(closer_box(box, other, 0.2) for other in known):
                boxes.append((float(area), box))
        return [box for _, box in sorted(boxes, key=lambda b: -b[0])[:_PROPOSALS]]
