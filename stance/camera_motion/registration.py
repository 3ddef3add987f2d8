"""Registers pictures of a swaying camera on a reference picture of it.

Corners are tracked by pyramidal Lucas-Kanade optical flow, and the homography on which most of them
agree is found by RANSAC; all of it is OpenCV's.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from stance.types import FloatArray, ImageArray
from stance.video.frame import Frame

SEARCH_SIDE = 640
"""Long side of the reduced pictures that are registered, pixels."""

MOST_CORNERS = 400
"""Corners tracked in the reduced picture."""

CORNER_DISTANCE = 8
"""Least distance between corners, pixels of the reduced picture."""

ENOUGH_CORNERS = 200
"""Where so many corners are not found, as in a bare hall, weaker ones are taken too: most of the
strong ones may be people's."""

CORNER_QUALITIES = (0.005, 0.002)
"""Quality levels of OpenCV's corner detector, strong and weak. Weak corners tell a sway less
closely."""

INLIER_PX = 1.0
"""Corners that miss a homography by less agree with it, pixels of the reduced picture."""

LEAST_INLIERS = 20
"""Corners that must agree on a homography."""

LEAST_SHARE = 0.3
"""Share of the corners that must. The background is what most corners agree on: people in front
have fewer corners than the hall, and theirs do not move as one picture."""

LEAST_SPREAD = 0.03
"""Corners must spread this far across the line they lie along best, of the longer side."""

UNMOVED_CORRELATION = 0.8
"""Correlation of a corner's surroundings with the reference's from which it is the same corner."""

LEAST_UNMOVED = 25
"""In a bare hall most corners are people's. So many that are where they were show that the camera
is where it was."""

# Lengths in the picture are fractions of its long side, so that a picture's scale does not matter.
STILL = 0.7 / 1280
"""Motion below this is not told from none; half of what a marked point misses by."""

REACH = 0.12
"""Farther from its reference picture a camera has left the view: too little of it is shared."""

LOST_S = 0.5
"""The view may be lost for this long, as when somebody passes close to the lens."""

MOST_RESUMED = 3
"""Earlier views that may be seen again, the longest. A camera that pans makes no end of them."""


@dataclass(frozen=True, eq=False)
class _Reference:
    """A reduced picture, (height, width) uint8, and corners in it: (corners, 1, 2) OpenCV's."""

    image: ImageArray
    corners: NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Registration:
    """Where one picture shows what the reference picture shows.

    Attributes
    ----------
    frame
        index of the picture.
    time_s
        seconds.
    from_reference
        (3, 3) homography from the reference picture to it, both of full size; None where the
        picture does not show enough of the same.
    """

    frame: int
    time_s: float
    from_reference: FloatArray | None


@dataclass(eq=False)
class _View:
    """A reference picture, stretches of pictures that show it, and the last homography to one."""

    reference: _Reference
    stretches: list[list[Registration]]
    last: FloatArray

    @property
    def pictures(self) -> int:
        """How many pictures were registered."""
        return sum(map(len, self.stretches))


class ViewRegistrar:
    """Registers the pictures of a clip, by view.

    A view lasts as long as one reference picture, its first, is seen; where a clip was cut to
    something else and comes back, it goes on.

    Parameters
    ----------
    image_size
        (width, height) of the clip's upright picture, pixels.
    pyramid_levels
        highest pyramid levels of the optical flow, tried one after the other until most corners
        agree on one motion.
    """

    def __init__(self, image_size: tuple[int, int], pyramid_levels: Sequence[int]) -> None:
        self._size = image_size
        self._pyramid_levels = pyramid_levels
        self._width = round(image_size[0] * min(1.0, SEARCH_SIDE / max(image_size)))
        self._grid = picture_grid(image_size)
        self._views: list[_View] = []
        self._view: _View | None = None
        self._seen_s = 0.0

    @property
    def one_view(self) -> bool:
        """Whether all pictures so far show one view."""
        return len(self._views) <= 1

    def register(self, frame: Frame) -> Registration:
        """Register the next frame."""
        image = frame.shrink_grey(self._width)
        from_reference = self._find_homography(image)
        if from_reference is None:
            from_reference = self._resume_view(image)
        lost = frame.time_s - self._seen_s > LOST_S
        if from_reference is None and (self._view is None or lost):
            self._leave_view()
            self._view = _View(_reference(image), [[]], np.eye(3))
            self._views.append(self._view)
            from_reference = np.eye(3)
        assert self._view is not None
        if from_reference is not None:
            self._view.last, self._seen_s = from_reference, frame.time_s
        registration = Registration(frame.index, frame.time_s, from_reference)
        self._view.stretches[-1].append(registration)
        return registration

    def views(self) -> list[list[list[Registration]]]:
        """Give the stretches of all views so far, as if the clip ended here."""
        return [[_fill_gaps(stretch) for stretch in view.stretches] for view in self._views]

    def _find_homography(self, image: ImageArray) -> FloatArray | None:
        """The homography from the present reference picture to a reduced picture, of full size."""
        if self._view is None:
            return None
        if not _can_be_tracked(self._view.reference):
            # A dark or bare picture tells no motion; the view begins where there is something.
            if not _can_be_tracked(_reference(image)):
                return np.eye(3)
            self._seen_s = -np.inf
            return None
        return self._find_in_view(self._view, image)

    def _resume_view(self, image: ImageArray) -> FloatArray | None:
        """Go back to an earlier view that a reduced picture shows; None where it shows none."""
        earlier = [v for v in self._views if v is not self._view and _can_be_tracked(v.reference)]
        for view in sorted(earlier, key=lambda view: -view.pictures)[:MOST_RESUMED]:
            from_reference = self._find_in_view(view, image)
            if from_reference is not None:
                self._leave_view()
                view.stretches.append([])
                self._view = view
                return from_reference
        return None

    def _leave_view(self) -> None:
        """Leave out the last pictures of the present view that do not show it."""
        if self._view is not None:
            self._view.stretches[-1] = _fill_gaps(self._view.stretches[-1])

    def _find_in_view(self, view: _View, image: ImageArray) -> FloatArray | None:
        """The homography from a view's reference picture to a reduced picture, of full size."""
        enlarge = np.diag([self._size[0] / image.shape[1], self._size[1] / image.shape[0], 1.0])
        guess = np.linalg.inv(enlarge) @ view.last @ enlarge
        reduced = _find_homography(view.reference, image, guess, self._pyramid_levels)
        if reduced is None:
            return None
        found: FloatArray = enlarge @ reduced @ np.linalg.inv(enlarge)
        near = mean_displacement(found, self._grid) <= REACH * max(self._size)
        return found if near else None


def picture_grid(image_size: tuple[int, int]) -> FloatArray:
    """Nine pixels spread over a picture of (width, height), (9, 2)."""
    width, height = image_size
    return np.array([[x * width, y * height] for y in (0.1, 0.5, 0.9) for x in (0.1, 0.5, 0.9)])


def mean_displacement(homography: FloatArray, pixels: FloatArray) -> float:
    """Mean distance by which a homography (3, 3) moves pixels (n, 2)."""
    return float(np.linalg.norm(apply_homography(homography, pixels) - pixels, axis=-1).mean())


def apply_homography(homography: FloatArray, pixels: FloatArray) -> FloatArray:
    """Map pixels by a homography.

    `cv2.perspectiveTransform` takes pixels in one shape only.

    Parameters
    ----------
    homography
        (3, 3)
    pixels
        (..., 2); NaN stays NaN

    Returns
    -------
    (..., 2)
    """
    mapped = pixels @ homography[:, :2].T + homography[:, 2]
    shown: FloatArray = mapped[..., :2] / mapped[..., 2:]
    return shown


def _fill_gaps(view: list[Registration]) -> list[Registration]:
    """Leave out the last pictures that do not see the reference, and fill those between.

    A view lost for a moment is taken to be where it was before.
    """
    filled: list[Registration] = []
    pending: list[Registration] = []
    for registration in view:
        pending.append(registration)
        if registration.from_reference is not None:
            before = filled[-1].from_reference if filled else registration.from_reference
            filled += [Registration(lost.frame, lost.time_s, before) for lost in pending[:-1]]
            filled.append(registration)
            pending = []
    return filled


def _reference(image: ImageArray) -> _Reference:
    """The corners of a reduced picture that can be tracked."""
    corners = np.empty((0, 1, 2), np.float32)
    for quality in CORNER_QUALITIES:
        # OpenCV gives None, which its types do not say, for a picture without corners.
        found: Any = cv2.goodFeaturesToTrack(image, MOST_CORNERS, quality, CORNER_DISTANCE)
        corners = corners if found is None else found
        if len(corners) >= ENOUGH_CORNERS:
            break
    return _Reference(image, corners)


def _can_be_tracked(reference: _Reference) -> bool:
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


def _find_homography(
    reference: _Reference, image: ImageArray, guess: FloatArray, pyramid_levels: Sequence[int]
) -> FloatArray | None:
    """The homography from a reference to a picture, reduced pixels, or None if there is none.

    Corners are tracked from where the picture before showed them; if that fails, as after a
    knock, both pictures' features are matched anew.
    """
    expected = apply_homography(guess, reference.corners.astype(float) + 0.5) - 0.5
    for levels in pyramid_levels:
        tracked, status, _ = cv2.calcOpticalFlowPyrLK(
            reference.image,
            image,
            reference.corners,
            expected.astype(np.float32),
            winSize=(15, 15),
            maxLevel=levels,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )
        good = status.ravel() == 1
        found = _fit_homography(reference.corners[good], tracked[good])
        if found is not None:
            return found
    unmoved = good & _find_unmoved(reference, image, expected, np.asarray(tracked, np.float32))
    if unmoved.sum() >= LEAST_UNMOVED and _spread_out(reference, unmoved):
        found = _fit_homography(reference.corners[unmoved], tracked[unmoved])
    return found if found is not None else _match_features(reference.image, image)


def _find_unmoved(
    reference: _Reference, image: ImageArray, expected: FloatArray, tracked: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """Tell which corners are where they were expected, and look as in the reference, (corners,)."""
    near: NDArray[np.bool_] = np.asarray(
        np.linalg.norm((tracked - expected).reshape(-1, 2), axis=-1) < INLIER_PX
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
            near[number] = np.corrcoef(here, there)[0, 1] >= UNMOVED_CORRELATION
    return near


def _match_features(reference: ImageArray, image: ImageArray) -> FloatArray | None:
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
    return _fit_homography(here.reshape(-1, 1, 2), there.reshape(-1, 1, 2))


def _fit_homography(here: NDArray[np.float32], there: NDArray[np.float32]) -> FloatArray | None:
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
