"""Poses: 33 body landmarks of one person in a square crop of a frame.

The only module that knows mediapipe. Each call takes one crop by itself (the landmarker's
IMAGE mode), so a pose depends on its frame and box alone: not on the frames before, not on the
number of workers. The models lie in `models/`, with source, licence and checksum in its README;
nothing is fetched and nothing leaves the machine.
"""

import contextlib
from types import TracebackType
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from stance.people.landmarks import Box, Pose
from stance.runtime.model_files import Model, model_bytes
from stance.runtime.native_libraries import modules_left_out, silenced_native_log
from stance.types import FloatArray, ImageArray

# The landmarker cuts 256 pixels around the person out of the crop; half the crop again as
# margin makes 512 the smallest size that loses nothing.
CROP_PIXELS = 512

# Time between crops in the clock of a steady landmarker; from seconds on, its smoothing is off.
_STEADY_STEP_MS = 10_000


def crop(image: ImageArray, box: Box) -> ImageArray:
    """Cut a square out of a picture and scale it to `CROP_PIXELS`; outside is black.

    Parameters
    ----------
    image
        (height, width, 3) RGB
    box
        square of the picture, pixels

    Returns
    -------
    (CROP_PIXELS, CROP_PIXELS, 3) RGB
    """
    scale = CROP_PIXELS / box.side
    height, width = image.shape[:2]
    # Cut whole pixels first, with a margin to interpolate into: an area average over the small
    # cut is fast and free of aliasing.
    left, top = int(np.floor(box.x)) - 2, int(np.floor(box.y)) - 2
    side = int(np.ceil(box.side)) + 5
    cut: npt.NDArray[Any] = image[
        max(top, 0) : max(min(top + side, height), 0),
        max(left, 0) : max(min(left + side, width), 0),
    ]
    if cut.shape[:2] != (side, side):
        inside, y, x = cut, max(-top, 0), max(-left, 0)
        cut = np.zeros((side, side, 3), np.uint8)
        cut[y : y + inside.shape[0], x : x + inside.shape[1]] = inside
    if scale < 0.5:
        # warpAffine samples without averaging; halve by area until that does no harm.
        factor = 2 ** int(np.floor(np.log2(1.0 / scale)))
        reduced = side // factor
        cut = cv2.resize(
            cut[: reduced * factor, : reduced * factor],
            (reduced, reduced),
            interpolation=cv2.INTER_AREA,
        )
    else:
        factor = 1
    # Pixel centres are at .5 in our coordinates, at whole numbers in OpenCV's.
    step = scale * factor
    offset = np.array([left - box.x, top - box.y]) * scale
    matrix = np.array(
        [[step, 0.0, 0.5 * step - 0.5 + offset[0]], [0.0, step, 0.5 * step - 0.5 + offset[1]]]
    )
    warped = cv2.warpAffine(cut, matrix, (CROP_PIXELS, CROP_PIXELS), flags=cv2.INTER_LINEAR)
    return np.ascontiguousarray(warped, dtype=np.uint8)


def prepare(model: Model) -> None:
    """Load what all landmarkers of a pose model share, once: the library and the model's file.

    Raises
    ------
    StanceError
        If the model's file is missing or damaged.
    """
    with silenced_native_log(), modules_left_out("matplotlib", "matplotlib.pyplot", "sounddevice"):
        import mediapipe.tasks.python.vision  # noqa: F401
    model_bytes(model)


class Landmarker:
    """A pose model, loaded; use it in a `with` block.

    Parameters
    ----------
    model
        "lite", "full" or "heavy"
    people
        how many people to find at most in a crop; only for crops taken by themselves
    steady
        look first where the person was in the crop before, without searching the crop: nearly
        twice as fast, for crops that follow one person. Then a pose depends on the crops before it,
        so each player needs a landmarker of their own.

    Raises
    ------
    StanceError
        If the model's file is missing or damaged.
    """

    def __init__(self, model: Model, people: int = 1, steady: bool = False) -> None:
        self._steady_clock = 0 if steady else None
        prepare(model)
        from mediapipe import Image, ImageFormat
        from mediapipe.tasks.python import BaseOptions, vision

        with silenced_native_log():
            self._image, self._format = Image, ImageFormat.SRGB
            options = vision.PoseLandmarkerOptions(
                base_options=BaseOptions(model_asset_buffer=model_bytes(model)),
                running_mode=(vision.RunningMode.VIDEO if steady else vision.RunningMode.IMAGE),
                num_poses=people,
            )
            self._landmarker = vision.PoseLandmarker.create_from_options(options)
        self._has_seen_a_person = False

    def __enter__(self) -> "Landmarker":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with silenced_native_log():
            self._landmarker.close()

    def _detect_in(self, picture: ImageArray) -> list[tuple[FloatArray, FloatArray]]:
        """Return each person's image landmarks (33, 3: x, y in crop widths, visibility) and world
        landmarks.
        """
        # The native code also writes a line when it projects its first landmarks.
        silence = contextlib.nullcontext() if self._has_seen_a_person else silenced_native_log()
        image = self._image(self._format, picture)
        with silence:
            if self._steady_clock is None:
                found = self._landmarker.detect(image)
            else:
                # Seconds apart, crops are not smoothed over: the motion is what is looked for.
                self._steady_clock += _STEADY_STEP_MS
                found = self._landmarker.detect_for_video(image, self._steady_clock)
        self._has_seen_a_person |= bool(found.pose_landmarks)
        return [
            (
                np.array([[p.x, p.y, p.visibility] for p in landmarks]),
                np.array([[p.x, p.y, p.z] for p in world]),
            )
            for landmarks, world in zip(
                found.pose_landmarks, found.pose_world_landmarks, strict=True
            )
        ]

    def detect_all(self, image: ImageArray, box: Box) -> list[Pose]:
        """Find all people in a square of the picture, as many as the landmarker may find.

        Parameters
        ----------
        image
            (height, width, 3) RGB, upright
        box
            square of the picture, pixels

        Returns
        -------
        A pose for each person, in pixels of the picture
        """
        return [
            Pose(landmarks[:, :2] * box.side + (box.x, box.y), landmarks[:, 2], world)
            for landmarks, world in self._detect_in(crop(image, box))
        ]

    def detect(self, image: ImageArray, box: Box, mirror: bool = False) -> Pose | None:
        """Find the person in a square of the picture.

        Parameters
        ----------
        image
            (height, width, 3) RGB, upright
        box
            about one and a half times as high as the person, the person in the middle
        mirror
            look at the mirrored crop and mirror the answer back: a second, independent
            observation.

        Returns
        -------
        Pose, or None where the model sees nobody
        """
        picture = crop(image, box)
        found = self._detect_in(np.ascontiguousarray(picture[:, ::-1]) if mirror else picture)
        if not found:
            return None
        landmarks, world = found[0]
        pose = Pose(landmarks[:, :2], landmarks[:, 2], world)
        if mirror:
            pose = pose.mirrored(1.0)
        return Pose(pose.pixels * box.side + (box.x, box.y), pose.visibility, pose.world)
