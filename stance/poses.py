"""Poses: 33 body landmarks of one person in a square crop of a frame.

The only module that knows mediapipe. Each call looks at one crop by itself (the landmarker's
IMAGE mode), so a pose depends on its frame and box alone: not on the frames before, not on the
number of workers. The models lie in `models/`, with source, licence and checksum in its README;
nothing is fetched and nothing leaves the machine.
"""

import contextlib
import functools
import hashlib
import json
import os
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from importlib import resources
from pathlib import Path
from types import ModuleType, TracebackType
from typing import Any, Literal

import cv2
import numpy as np
import numpy.typing as npt

from stance.errors import StanceError

FloatArray = npt.NDArray[np.float64]
ImageArray = npt.NDArray[np.uint8]
Model = Literal["lite", "full", "heavy"]

LANDMARKS = 33
NOSE = 0
LEFT_EAR, RIGHT_EAR = 7, 8
LEFT_SHOULDER, RIGHT_SHOULDER = 11, 12
LEFT_ELBOW, RIGHT_ELBOW = 13, 14
LEFT_WRIST, RIGHT_WRIST = 15, 16
LEFT_PINKY, RIGHT_PINKY = 17, 18
LEFT_INDEX, RIGHT_INDEX = 19, 20
LEFT_HIP, RIGHT_HIP = 23, 24
LEFT_KNEE, RIGHT_KNEE = 25, 26
LEFT_ANKLE, RIGHT_ANKLE = 27, 28
LEFT_HEEL, RIGHT_HEEL = 29, 30
LEFT_TOE, RIGHT_TOE = 31, 32

# Landmark i of a mirrored person is landmark MIRRORED[i] of the person.
MIRRORED = np.array([0, 4, 5, 6, 1, 2, 3, 8, 7, 10, 9] + [i + 1 if i % 2 else i - 1
                                                         for i in range(11, LANDMARKS)])

# A crop is this many times as high as what it is to show (findings: heavy model on such crops
# found a far player in 48 of 48 frames).
CROP_FACTOR = 1.5

# The landmarker cuts 256 pixels around the person out of the crop; half the crop again as
# margin makes 512 the smallest size that loses nothing.
CROP_PIXELS = 512

# Time between crops in the clock of a steady landmarker; from seconds on, its smoothing is off.
_STEADY_STEP_MS = 10_000

SHA256 = {
    "lite": "ba907b829371acee42d30c5f058097125f4c5759695b35aa526dd7078d78cbfd",
    "full": "12ead0d98e56b22922bc5599bb2453f39b685040716d2496a201d213c1cd2e50",
    "heavy": "0b82b9d088b0811269c490dc648d44b10efd19081d4477ebd63d08b4f48d7b1e",
}


_DAMAGED = "The file {} is missing from the installation or damaged; install the tool anew."


@dataclass(frozen=True)
class Pose:
    """One person's landmarks.

    Attributes
    ----------
    pixels : (33, 2) pixels, upright picture, origin at the top left corner of the top left pixel
    visibility : (33,) probability that the landmark is in view and not hidden
    world : (33, 3) metres from the middle of the hips, in the frame of a camera that looks
        straight at the crop: x right, y down, z away
    """

    pixels: FloatArray
    visibility: FloatArray
    world: FloatArray

    @cached_property
    def box(self) -> "Box":
        """The square crop around the pose."""
        return box_around(self.pixels)

    def mirrored(self, width: float) -> "Pose":
        """Return the pose of the picture mirrored left to right, `width` pixels wide."""
        pixels = self.pixels[MIRRORED] * (-1.0, 1.0) + (width, 0.0)
        world = self.world[MIRRORED] * (-1.0, 1.0, 1.0)
        return Pose(pixels, self.visibility[MIRRORED], world)

    def moved(self, x: float, y: float) -> "Pose":
        """Return the pose in a picture whose top left corner lies at (-x, -y) of this one's."""
        return replace(self, pixels=self.pixels + (x, y))


@dataclass(frozen=True)
class Box:
    """A square in the picture: its top left corner and side, pixels."""

    x: float
    y: float
    side: float


def box_around(pixels: FloatArray) -> Box:
    """Return the square crop around a person's points.

    Parameters
    ----------
    pixels : (points, 2) pixels
    """
    low, high = pixels.min(axis=0), pixels.max(axis=0)
    side = CROP_FACTOR * float((high - low).max())
    x, y = (low + high) / 2.0 - side / 2.0
    return Box(float(x), float(y), side)


def models_folder() -> Path:
    """Return the folder of the pose models: beside the package in a checkout, else inside it."""
    beside = Path(__file__).resolve().parent.parent / "models"
    if beside.is_dir():
        return beside
    return Path(str(resources.files("stance"))) / "models"


def network_card(name: str) -> dict[str, Any]:
    """Return what stands in the JSON file of `models/` beside a network of our own.

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    try:
        return dict(json.loads((models_folder() / name).read_bytes()))
    except (OSError, ValueError) as error:
        raise StanceError(_DAMAGED.format(name)) from error


def network_checksum(card: str) -> str:
    """Return the SHA-256 of the network that a JSON file of `models/` stands beside.

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    try:
        return str(network_card(card)["network_sha256"])
    except KeyError as error:
        raise StanceError(_DAMAGED.format(card)) from error


def network_bytes(name: str, card: str) -> bytes:
    """Return a network of our own, its checksum proved.

    Parameters
    ----------
    name, card : files of `models/`: the network, and the JSON file that tells its checksum

    Raises
    ------
    StanceError
        If a file is missing or damaged.
    """
    try:
        data = (models_folder() / name).read_bytes()
    except OSError as error:
        raise StanceError(_DAMAGED.format(name)) from error
    if hashlib.sha256(data).hexdigest() != network_checksum(card):
        raise StanceError(_DAMAGED.format(name))
    return data


@functools.cache
def model_bytes(model: Model) -> bytes:
    """Return a pose model, its checksum proved.

    Raises
    ------
    StanceError
        If the model's file is missing or is not the published one.
    """
    path = models_folder() / f"pose_landmarker_{model}.task"
    try:
        data = path.read_bytes()
    except OSError as error:
        raise StanceError(
            f"The pose model {path.name} is missing from the installation; install the tool anew."
        ) from error
    if hashlib.sha256(data).hexdigest() != SHA256[model]:
        raise StanceError(
            f"The pose model {path.name} is damaged (its checksum differs from the published "
            "one); install the tool anew."
        )
    return data


@dataclass
class _Silence:
    """How many threads keep the terminal silent, and the terminal meanwhile."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    threads: int = 0
    terminal: int = -1


_SILENCE = _Silence()


@contextlib.contextmanager
def _native_log_silenced() -> Iterator[None]:
    """Keep what native code writes to the terminal away from it, and all that is written meanwhile.

    The first of several threads takes the terminal away, the last one gives it back.
    """
    with _SILENCE.lock:
        if not _SILENCE.threads:
            sys.stderr.flush()
            _SILENCE.terminal = os.dup(2)
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 2)
            os.close(nowhere)
        _SILENCE.threads += 1
    try:
        yield
    finally:
        with _SILENCE.lock:
            _SILENCE.threads -= 1
            if not _SILENCE.threads:
                os.dup2(_SILENCE.terminal, 2)
                os.close(_SILENCE.terminal)


# Landmarkers are made in several threads.
_IMPORTING = threading.Lock()


@contextlib.contextmanager
def _left_out(*modules: str) -> Iterator[None]:
    """Put empty modules in the place of some that are not loaded yet.

    mediapipe loads libraries for its own drawings and for sound, which take most of the time of
    its import and 40 MB, and which this tool never uses.
    """
    with _IMPORTING:
        empty = {name: ModuleType(name) for name in modules if name not in sys.modules}
        for name, module in empty.items():
            parent, _, child = name.rpartition(".")
            if parent in empty:
                setattr(empty[parent], child, module)
        sys.modules.update(empty)
        try:
            yield
        finally:
            for name in empty:
                del sys.modules[name]


def crop(image: ImageArray, box: Box) -> ImageArray:
    """Cut a square out of a picture and scale it to `CROP_PIXELS`; outside is black.

    Parameters
    ----------
    image : (height, width, 3) RGB
    box : Box

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
    cut: npt.NDArray[Any] = image[max(top, 0):max(min(top + side, height), 0),
                                  max(left, 0):max(min(left + side, width), 0)]
    if cut.shape[:2] != (side, side):
        inside, y, x = cut, max(-top, 0), max(-left, 0)
        cut = np.zeros((side, side, 3), np.uint8)
        cut[y:y + inside.shape[0], x:x + inside.shape[1]] = inside
    if scale < 0.5:
        # warpAffine samples without averaging; halve by area until that does no harm.
        factor = 2 ** int(np.floor(np.log2(1.0 / scale)))
        reduced = side // factor
        cut = cv2.resize(cut[:reduced * factor, :reduced * factor], (reduced, reduced),
                         interpolation=cv2.INTER_AREA)
    else:
        factor = 1
    # Pixel centres are at .5 in our coordinates, at whole numbers in OpenCV's.
    step = scale * factor
    offset = np.array([left - box.x, top - box.y]) * scale
    matrix = np.array([[step, 0.0, 0.5 * step - 0.5 + offset[0]],
                       [0.0, step, 0.5 * step - 0.5 + offset[1]]])
    warped = cv2.warpAffine(cut, matrix, (CROP_PIXELS, CROP_PIXELS), flags=cv2.INTER_LINEAR)
    return np.ascontiguousarray(warped, dtype=np.uint8)


def prepare(model: Model) -> None:
    """Load what all landmarkers of a pose model share, once: the library and the model's file.

    Raises
    ------
    StanceError
        If the model's file is missing or damaged.
    """
    with _native_log_silenced(), _left_out("matplotlib", "matplotlib.pyplot", "sounddevice"):
        import mediapipe.tasks.python.vision  # noqa: F401
    model_bytes(model)


class Landmarker:
    """A pose model, loaded; use it in a `with` block.

    Parameters
    ----------
    model : "lite", "full" or "heavy"
    people : int
        How many people to find at most in a crop; only for crops looked at by themselves.
    steady : bool
        Look first where the person was in the crop before, without searching the crop: nearly
        twice as fast, for crops that follow one person. Then a pose depends on the crops before
        it, so each player needs a landmarker of their own.

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

        with _native_log_silenced():
            self._image, self._format = Image, ImageFormat.SRGB
            options = vision.PoseLandmarkerOptions(
                base_options=BaseOptions(model_asset_buffer=model_bytes(model)),
                running_mode=(
                    vision.RunningMode.VIDEO if steady else vision.RunningMode.IMAGE),
                num_poses=people,
            )
            self._landmarker = vision.PoseLandmarker.create_from_options(options)
        self._has_seen_a_person = False

    def __enter__(self) -> "Landmarker":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        with _native_log_silenced():
            self._landmarker.close()

    def _run(self, picture: ImageArray) -> list[tuple[FloatArray, FloatArray]]:
        """Return each person's image landmarks (33, 3: x, y in crop widths, visibility) and world
        landmarks.
        """
        # The native code also writes a line when it projects its first landmarks.
        silence = contextlib.nullcontext() if self._has_seen_a_person else _native_log_silenced()
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
            (np.array([[p.x, p.y, p.visibility] for p in landmarks]),
             np.array([[p.x, p.y, p.z] for p in world]))
            for landmarks, world in zip(
                found.pose_landmarks, found.pose_world_landmarks, strict=True)
        ]

    def detect_all(self, image: ImageArray, box: Box) -> list[Pose]:
        """Find all people in a square of the picture, as many as the landmarker may find.

        Parameters
        ----------
        image : (height, width, 3) RGB, upright
        box : Box
        """
        return [
            Pose(landmarks[:, :2] * box.side + (box.x, box.y), landmarks[:, 2], world)
            for landmarks, world in self._run(crop(image, box))
        ]

    def detect(self, image: ImageArray, box: Box, mirror: bool = False) -> Pose | None:
        """Find the person in a square of the picture.

        Parameters
        ----------
        image : (height, width, 3) RGB, upright
        box : Box
            About one and a half times as high as the person, the person in the middle.
        mirror : bool
            Look at the mirrored crop and mirror the answer back: a second, independent look.

        Returns
        -------
        Pose, or None where the model sees nobody
        """
        picture = crop(image, box)
        found = self._run(np.ascontiguousarray(picture[:, ::-1]) if mirror else picture)
        if not found:
            return None
        landmarks, world = found[0]
        pose = Pose(landmarks[:, :2], landmarks[:, 2], world)
        if mirror:
            pose = pose.mirrored(1.0)
        return Pose(pose.pixels * box.side + (box.x, box.y), pose.visibility, pose.world)
