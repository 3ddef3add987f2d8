"""Registers pictures of a swaying camera on a reference picture of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.types import FloatArray, ImageArray
from stance.video.frame import Frame

SEARCH_SIDE = 640
"""Long side of the reduced pictures in which motion is looked for, pixels."""

FEATURES = 400

FEATURE_DISTANCE = 8
"""Corners followed in the reduced picture, and their least distance, pixels."""

ENOUGH_FEATURES = 200

CORNER_QUALITIES = (0.005, 0.002)
"""Where so many corners are not found, as in a bare hall, weaker ones are taken too: most of the
strong ones may be people's. Weak ones follow a sway less closely."""

INLIER_PX = 1.0

LEAST_INLIERS = 20

LEAST_SHARE = 0.3
"""The background is what most corners agree on: people in front have fewer corners than the hall,
and theirs do not move as one picture."""

LEAST_SPREAD = 0.03
"""Corners must spread this far across the line they lie along best, of the longer side."""

STAYED_CORRELATION = 0.8

LEAST_STAYED = 25
"""In a bare hall most corners are people's. So many that are where they were, with surroundings
that correlate so with the reference's, show that the camera is where it was."""

# Lengths in the picture are fractions of its long side, so that a picture's scale does not matter.
STILL = 0.7 / 1280
"""Motion below this is not told from none; half of what a marked point misses by."""

REACH = 0.12
"""Farther from its reference picture a camera has left the view: too little of it is shared."""

LOST_S = 0.5
"""The view may be lost for this long, as when somebody passes close to the lens."""


@dataclass(frozen=True, eq=False)
class _Reference:
    """A reduced picture, (height, width) uint8, and corners in it: (corners, 1, 2) OpenCV's."""

    image: ImageArray
    corners: NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class RegisteredPicture:
    """One look: homography from the reference to the picture, both of full size, or None."""

    frame: int
    time_s: float
    from_reference: FloatArray | None


class ReferenceViews:
    """Looks at a clip, in a list for each view: as long as one reference picture is seen.

    Parameters
    ----------
    image_size : (width, height) of the clip's upright picture, pixels.
    halvings : as `HALVINGS`.

    Attributes
    ----------
    past : views before the present one.
    """

    def __init__(self, image_size: tuple[int, int], halvings: Sequence[int]) -> None:
        self._size = image_size
        self._halvings = halvings
        self._width = round(image_size[0] * min(1.0, SEARCH_SIDE / max(image_size)))
        self._grid = reference_grid(image_size)
        self._reference: _Reference | None = None
        self._looks: list[RegisteredPicture] = []
        self._last, self._seen_s = np.eye(3), 0.0
        self.past: list[list[RegisteredPicture]] = []

    def look(self, frame: Frame) -> RegisteredPicture:
        """Look at the next frame."""
        image = frame.shrink_grey(self._width)
        found = self._found(image)
        lost = frame.time_s - self._seen_s > LOST_S
        if found is None and (self._reference is None or lost):
            if self._looks:
                self.past.append(_seen_to_the_end(self._looks))
            self._reference, self._looks, found = _reference(image), [], np.eye(3)
        if found is not None:
            self._last, self._seen_s = found, frame.time_s
        look = RegisteredPicture(frame.index, frame.time_s, found)
        self._looks.append(look)
        return look

    def _found(self, image: ImageArray) -> FloatArray | None:
        """The homography from the reference picture to a picture, where there is one."""
        reference = self._reference
        if reference is None:
            return None
        if not _can_be_followed(reference):
            # A dark or bare picture tells no motion; the view begins where there is something.
            if not _can_be_followed(_reference(image)):
                return np.eye(3)
            self._seen_s = -np.inf
            return None
        enlarge = np.diag([self._size[0] / image.shape[1], self._size[1] / image.shape[0], 1.0])
        guess = np.linalg.inv(enlarge) @ self._last @ enlarge
        reduced = _change(reference, image, guess, self._halvings)
        if reduced is None:
            return None
        found: FloatArray = enlarge @ reduced @ np.linalg.inv(enlarge)
        return found if grid_distance(found, self._grid) <= REACH * max(self._size) else None

    def ended(self) -> list[list[RegisteredPicture]]:
        """All views, once the clip has been seen to its end."""
        return [*self.past, _seen_to_the_end(self._looks)] if self._looks else self.past


def _seen_to_the_end(looks: list[RegisteredPicture]) -> list[RegisteredPicture]:
    """Leave out the last looks that do not see the reference, and fill those between.

    A view lost for a moment is taken to be where it was before.
    """
    filled: list[RegisteredPicture] = []
    pending: list[RegisteredPicture] = []
    for look in looks:
        pending.append(look)
        if look.from_reference is not None:
            before = filled[-1].from_reference if filled else look.from_reference
            filled += [RegisteredPicture(lost.frame, lost.time_s, before) for lost in pending[:-1]]
            filled.append(look)
            pending = []
    return filled


def _reference(image: ImageArray) -> _Reference:
    """The corners of a reduced picture that can be followed."""
    corners = np.empty((0, 1, 2), np.float32)
    for quality in CORNER_QUALITIES:
        # OpenCV gives None, which its types do not say, for a picture without corners.
        found: Any = cv2.goodFeaturesToTrack(image, FEATURES, quality, FEATURE_DISTANCE)
        corners = corners if found is None else found
        if len(corners) >= ENOUGH_FEATURES:
            break
    return _Reference(image, corners)


def _can_be_followed(reference: _Reference) -> bool:
    """Tell whether a picture has corners enough to tell motion by, and not along one line only.

    Corners that compression makes along an edge say nothing of motion along it.
    """
    return _spread_out(reference, np.ones(len(reference.corners), bool))


def _spread_out(reference: _Reference, chosen: NDArray[np.bool_]) -> bool:
    """Tell whether the chosen corners are enough, and do not lie along one line only."""
    places = reference.corners[chosen].reshape(-1, 2)
    if len(places) < LEAST_INLIERS:
        return False
    across = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)[1] / len(places) ** 0.5
    return bool(across > LEAST_SPREAD * max(reference.image.shape))


def _change(
    reference: _Reference, image: ImageArray, guess: FloatArray, halvings: Sequence[int]
) -> FloatArray | None:
    """The homography from a reference to a picture, reduced pixels, or None if there is none.

    Corners are followed from where the picture before showed them; if that fails, as after a
    knock, both pictures' features are matched anew.
    """
    expected = grid_moved(guess, reference.corners.astype(float) + 0.5) - 0.5
    for levels in halvings:
        followed, status, _ = cv2.calcOpticalFlowPyrLK(
            reference.image,
            image,
            reference.corners,
            expected.astype(np.float32),
            winSize=(15, 15),
            maxLevel=levels,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )
        good = status.ravel() == 1
        found = _agreed(reference.corners[good], followed[good])
        if found is not None:
            return found
    stayed = good & _stayed(reference, image, expected, np.asarray(followed, np.float32))
    if stayed.sum() >= LEAST_STAYED and _spread_out(reference, stayed):
        found = _agreed(reference.corners[stayed], followed[stayed])
    return found if found is not None else _change_anew(reference.image, image)


def _stayed(
    reference: _Reference, image: ImageArray, expected: FloatArray, followed: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """Tell which corners are where they were expected, and look as in the reference, (corners,)."""
    near: NDArray[np.bool_] = np.asarray(
        np.linalg.norm((followed - expected).reshape(-1, 2), axis=-1) < INLIER_PX
    )
    for number in np.flatnonzero(near):
        here, there = (
            cv2.getRectSubPix(picture, (11, 11), tuple(map(float, corner.ravel()))).ravel()
            for picture, corner in (
                (reference.image, reference.corners[number]),
                (image, expected[number]),
            )
        )
        with np.errstate(invalid="ignore"):
            near[number] = np.corrcoef(here, there)[0, 1] >= STAYED_CORRELATION
    return near


def _change_anew(reference: ImageArray, image: ImageArray) -> FloatArray | None:
    """The homography between two reduced pictures from features matched over all of both."""
    detector = cv2.SIFT.create(800)
    (points, marks), (others, other_marks) = (
        detector.detectAndCompute(picture, None) for picture in (reference, image)
    )
    if marks is None or other_marks is None or min(len(points), len(others)) < LEAST_INLIERS:
        return None
    pairs = [
        pair
        for pair in cv2.BFMatcher(cv2.NORM_L2).knnMatch(marks, other_marks, k=2)
        if len(pair) == 2 and pair[0].distance < 0.75 * pair[1].distance
    ]
    here = np.array([points[best.queryIdx].pt for best, _ in pairs], np.float32)
    there = np.array([others[best.trainIdx].pt for best, _ in pairs], np.float32)
    return _agreed(here.reshape(-1, 1, 2), there.reshape(-1, 1, 2))


def _agreed(here: NDArray[np.float32], there: NDArray[np.float32]) -> FloatArray | None:
    """The homography on which most of (points, 1, 2) pairs agree, or None."""
    if len(here) < LEAST_INLIERS:
        return None
    found, inliers = cv2.findHomography(
        here + np.float32(0.5), there + np.float32(0.5), cv2.RANSAC, INLIER_PX
    )
    if found is None or inliers.sum() < max(LEAST_INLIERS, LEAST_SHARE * len(here)):
        return None
    agreed: FloatArray = found
    return agreed


def reference_grid(image_size: tuple[int, int]) -> FloatArray:
    """Nine pixels spread over the picture, (9, 2)."""
    width, height = image_size
    return np.array([[x * width, y * height] for y in (0.1, 0.5, 0.9) for x in (0.1, 0.5, 0.9)])


def grid_distance(change: FloatArray, grid: FloatArray) -> float:
    """Mean distance by which a homography moves some pixels."""
    return float(np.linalg.norm(grid_moved(change, grid) - grid, axis=-1).mean())


def grid_moved(change: FloatArray, pixels: FloatArray) -> FloatArray:
    """Pixels (..., 2) after a homography (3, 3)."""
    moved = pixels @ change[:, :2].T + change[:, 2]
    shown: FloatArray = moved[..., :2] / moved[..., 2:]
    return shown
