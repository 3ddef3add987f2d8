"""Where something moves, so that a player may be there."""

from collections.abc import Sequence

import cv2
import numpy as np
import numpy.typing as npt

from stance.court.camera import Camera, floor_point, project
from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.people.landmarks import CROP_FACTOR, Box
from stance.people.settings import SETTINGS
from stance.types import FloatArray, ImageArray
from stance.video.frame import Frame


class MotionSearch:
    """Places on the half court where something has changed against the still background.

    Parameters
    ----------
    camera
        in the frame of the half
    image_size
        (width, height) pixels
    """

    def __init__(self, camera: Camera, image_size: tuple[int, int]) -> None:
        self._camera = camera
        settings = SETTINGS.motion_search
        self._width = min(settings.width_px, image_size[0])
        # Pixels of the picture to one of the small one.
        self._scale = image_size[0] / self._width
        self._subtractor = cv2.createBackgroundSubtractorMOG2(
            history=settings.history_frames,
            varThreshold=settings.variance_threshold,
            detectShadows=False,
        )
        self._due_s = -np.inf
        self._waiting: Frame | None = None
        self._changed: ImageArray | None = None

    def watch(self, frame: Frame) -> None:
        """Take a frame in; the background is updated once that is due or proposals are asked."""
        self._waiting = frame
        if frame.time_s >= self._due_s:
            self._update()

    def _update(self) -> None:
        """Take the frame that waits into the background, and note what differs from it."""
        if self._waiting is not None:
            self._due_s = self._waiting.time_s + SETTINGS.motion_search.background_pause_s
            small = cv2.GaussianBlur(self._waiting.shrink_grey(self._width), (3, 3), 0)
            self._changed = np.asarray(self._subtractor.apply(small), np.uint8)
            self._waiting = None

    def proposals(self, known: Sequence[Box]) -> list[Box]:
        """Return squares around what has the height of a person and stands on the half.

        Parameters
        ----------
        known
            squares in which players are followed already

        Returns
        -------
        At most `most_proposals` of the settings, what has changed most first
        """
        self._update()
        if self._changed is None:
            return []
        # Parts of a person that look like the floor leave gaps, mostly one above the other.
        closed = cv2.morphologyEx(
            (self._changed > 0).astype(np.uint8),
            cv2.MORPH_CLOSE,
            np.ones(SETTINGS.motion_search.gap_px),
        )
        count, _, stats, _ = cv2.connectedComponentsWithStats(closed)
        lefts, tops, widths, heights, areas = (stats[1:count] * self._scale).T
        feet = np.stack([lefts + widths / 2, tops + heights], axis=-1)
        places = floor_point(self._camera, feet)[:, :2]
        may_be = self._may_be_a_person(widths, heights, areas, places)
        boxes = []
        for foot, place, top, height, area in zip(
            feet[may_be], places[may_be], tops[may_be], heights[may_be], areas[may_be], strict=True
        ):
            box = self._box_of_a_person(foot, place, float(top), float(height))
            if box is not None and not any(
                box.is_near(other, SETTINGS.motion_search.known_sides) for other in known
            ):
                boxes.append((float(area), box))
        largest_first = sorted(boxes, key=lambda b: -b[0])
        return [box for _, box in largest_first[: SETTINGS.motion_search.most_proposals]]

    def _may_be_a_person(
        self, widths: FloatArray, heights: FloatArray, areas: FloatArray, places: FloatArray
    ) -> npt.NDArray[np.bool_]:
        """Which changes, (changes,) pixels at (changes, 2) metres, fill a shape on the court."""
        settings = SETTINGS.motion_search
        x, y = places.T
        return np.asarray(
            (areas >= settings.least_filled * widths * heights / self._scale)
            & (heights >= settings.least_height_px * self._scale)
            & (np.abs(x) <= COURT_WIDTH / 2 + settings.margin_m)
            & (y >= -COURT_LENGTH / 2 - settings.margin_m)
            & (y <= settings.net_margin_m)
        )

    def _box_of_a_person(
        self, foot: FloatArray, place: FloatArray, top: float, height: float
    ) -> Box | None:
        """The square around a change, None if nobody who stands there is so high."""
        settings = SETTINGS.motion_search
        head = project(self._camera, np.array([*place, settings.person_height_m]))
        expected = float(np.linalg.norm(head - foot))
        least, greatest = settings.size_ratios
        if not least * expected <= height <= greatest * expected:
            return None
        # A shadow moves the foot and with it the height expected, but not what has changed.
        side = CROP_FACTOR * min(height, expected)
        return Box(float(foot[0]) - side / 2, top + height / 2 - side / 2, side)
