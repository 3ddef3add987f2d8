"""Frames: pictures of a clip with their time, converted to RGB when asked for."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple, cast

import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import VideoReformatter

PLANAR_FORMATS = ("yuv420p", "yuvj420p")
"""Formats of 8 bits whose colours are halved in both directions, of which parts can be cut."""


@dataclass(frozen=True, eq=False)
class Frame:
    """One upright picture of a clip, converted only as far as it is looked at.

    Attributes
    ----------
    index : int
        Number of the picture among those that could be read, from 0; one that was left out
        counts as readable.
    time_s : float
        Presentation time in seconds; the first picture's is 0.
    left_out : tuple of float
        Times of the pictures between the one given before and this, which were not decoded.
    """

    index: int
    time_s: float
    _picture: VideoFrame
    _shown: tuple[int, int]
    _turn: "Turn"
    left_out: tuple[float, ...] = field(default=(), kw_only=True)

    @cached_property
    def image(self) -> np.ndarray:
        """(height, width, 3) uint8, RGB, upright."""
        return _turned(_rgb(self._picture, self._shown), self._turn)

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) of the upright picture in pixels."""
        width, height = self._shown
        return (height, width) if self._turn.transposed else (width, height)

    def part(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        """Give a part of the picture; much cheaper than the whole of it.

        Parameters
        ----------
        left, top, right, bottom : int
            Pixels of the upright picture, inside it; right and bottom excluded.

        Returns
        -------
        ndarray
            (bottom - top, right - left, 3) uint8, RGB.
        """
        picture = self._picture
        plain = picture.format.name in PLANAR_FORMATS
        if not plain or self._shown != (picture.width, picture.height):
            return np.ascontiguousarray(self.image[top:bottom, left:right])
        turn = self._turn
        rows, columns = turn.coded((top, bottom), (left, right), self.size)
        return _turned(_part_rgb(picture, rows, columns), turn)

    def part_brightness(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        """Give a part of the picture in grey, (bottom - top, right - left) uint8; see `part`."""
        import cv2

        if self._picture.format.name not in PLANAR_FORMATS or self._shown != (
            self._picture.width,
            self._picture.height,
        ):
            return cv2.cvtColor(self.image[top:bottom, left:right], cv2.COLOR_RGB2GRAY)
        turn = self._turn
        rows, columns = turn.coded((top, bottom), (left, right), self.size)
        plane = _plane(self._picture, 0)[rows[0] : rows[1], columns[0] : columns[1]]
        return _turned(plane, turn)

    def brightness(self, width: int) -> np.ndarray:
        """Give the whole picture in small, grey: (about height / size width, width) uint8."""
        import cv2

        full_width, full_height = self.size
        height = max(1, round(full_height * width / full_width))
        if self._picture.format.name not in PLANAR_FORMATS:
            grey = cv2.cvtColor(self.image, cv2.COLOR_RGB2GRAY)
            return cv2.resize(grey, (width, height), interpolation=cv2.INTER_AREA)
        turn = self._turn
        plane = _plane(self._picture, 0)
        size = (height, width) if turn.transposed else (width, height)
        return _turned(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), turn)


@dataclass(frozen=True, eq=False)
class ChangedFrame(Frame):
    """A picture as it is after a change that keeps its size, made only where it is looked at.

    Attributes
    ----------
    change : callable
        Takes and gives an image (height, width, 3) uint8.
    """

    change: Callable[[np.ndarray], np.ndarray]

    @classmethod
    def of(cls, frame: Frame, change: Callable[[np.ndarray], np.ndarray]) -> "ChangedFrame":
        """Give a frame after a change."""
        return cls(
            frame.index,
            frame.time_s,
            frame._picture,
            frame._shown,
            frame._turn,
            change,
            left_out=frame.left_out,
        )

    @cached_property
    def image(self) -> np.ndarray:
        """(height, width, 3) uint8, RGB, upright."""
        return self.change(_turned(_rgb(self._picture, self._shown), self._turn))

    def part(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        """Give a part of the picture, as `Frame.part` does."""
        return np.ascontiguousarray(self.image[top:bottom, left:right])

    def part_brightness(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        """Give a part of the picture in grey, as `Frame.part_brightness` does."""
        import cv2

        return cv2.cvtColor(self.part(left, top, right, bottom), cv2.COLOR_RGB2GRAY)

    def brightness(self, width: int) -> np.ndarray:
        """Give the whole picture in small, grey, as `Frame.brightness` does."""
        import cv2

        height = max(1, round(self.size[1] * width / self.size[0]))
        grey = cv2.cvtColor(self.image, cv2.COLOR_RGB2GRAY)
        return cv2.resize(grey, (width, height), interpolation=cv2.INTER_AREA)


class Turn(NamedTuple):
    """How a coded picture becomes upright: first transposed, then flipped."""

    transposed: bool
    rows_flipped: bool
    columns_flipped: bool

    def coded(
        self, rows: tuple[int, int], columns: tuple[int, int], size: tuple[int, int]
    ) -> tuple[tuple[int, int], tuple[int, int]]:
        """Give the coded rows and columns of a part of an upright picture of (width, height)."""
        width, height = size
        if self.rows_flipped:
            rows = height - rows[1], height - rows[0]
        if self.columns_flipped:
            columns = width - columns[1], width - columns[0]
        return (columns, rows) if self.transposed else (rows, columns)


class _Converter(threading.local):
    """What converts pictures in a thread; a new one for each picture takes longer to set up."""

    def __init__(self) -> None:
        self.reformatter = VideoReformatter()


_CONVERTER = _Converter()


def _rgb(picture: VideoFrame, size: tuple[int, int]) -> np.ndarray:
    """Convert a decoded picture to RGB, (height, width, 3) uint8, as it was coded."""
    # Several threads for one picture wait for each other where all cores are busy.
    return _CONVERTER.reformatter.reformat(picture, *size, "rgb24", threads=1).to_ndarray()


def _plane(picture: VideoFrame, number: int) -> np.ndarray:
    """Give one plane of a picture of `PLANAR_FORMATS` as a view, (height, width) uint8."""
    plane = picture.planes[number]
    values = np.asarray(memoryview(plane))[: plane.height * plane.line_size]
    rows: np.ndarray = values.view(np.uint8).reshape(plane.height, plane.line_size)
    return rows[:, : plane.width]


def _part_rgb(picture: VideoFrame, rows: tuple[int, int], columns: tuple[int, int]) -> np.ndarray:
    """Convert a part of a coded picture of `PLANAR_FORMATS` to RGB."""
    # Colours lie on every second pixel; a margin keeps the cut out of their interpolation.
    top, left = max(rows[0] - 4, 0) // 2 * 2, max(columns[0] - 4, 0) // 2 * 2
    bottom = min((rows[1] + 5) // 2 * 2, picture.height)
    right = min((columns[1] + 5) // 2 * 2, picture.width)
    cut = VideoFrame(right - left, bottom - top, picture.format.name)
    for number in range(3):
        step = 1 if number == 0 else 2
        target = _plane(cut, number)
        target[:] = _plane(picture, number)[
            top // step : top // step + target.shape[0],
            left // step : left // step + target.shape[1],
        ]
    cut.colorspace, cut.color_range = picture.colorspace, picture.color_range
    whole = _rgb(cut, (right - left, bottom - top))
    return whole[rows[0] - top : rows[1] - top, columns[0] - left : columns[1] - left]


def display_turn(picture: VideoFrame) -> Turn:
    """Tell how a picture is turned, by its rotation tag."""
    matrix = cast(Mapping[str, bytes], picture.side_data).get("DISPLAYMATRIX")
    if matrix is None:
        return Turn(False, False, False)
    # Display matrix of ISO/IEC 14496-12, 8.3.2: x' = a x + c y, y' = b x + d y, y downwards.
    a, b, _, c, d = np.frombuffer(bytes(matrix), np.int32)[:5]
    if abs(b) > abs(a):
        return Turn(True, bool(b < 0), bool(c < 0))
    return Turn(False, bool(d < 0), bool(a < 0))


def _turned(image: np.ndarray, turn: Turn) -> np.ndarray:
    """Turn a coded picture (height, width, ...) upright; one that is upright is not copied."""
    if turn == Turn(False, False, False):
        return image
    if turn.transposed:
        image = np.swapaxes(image, 0, 1)
    return np.ascontiguousarray(
        image[:: -1 if turn.rows_flipped else 1, :: -1 if turn.columns_flipped else 1]
    )
