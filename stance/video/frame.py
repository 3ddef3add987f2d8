"""Frames: pictures of a clip with their time, converted to RGB or grey when asked for."""

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple, cast

import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import VideoReformatter
from av.video.stream import VideoStream

from stance.types import ImageArray

PLANAR_FORMATS = ("yuv420p", "yuvj420p")
"""Formats of 8 bits whose colours are halved in both directions, of which parts can be cut."""

_CHROMA_MARGIN = 4
"""Pixels around a part that are converted with it, so that its colours are interpolated alike."""


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

    def apply(self, image: ImageArray) -> ImageArray:
        """Turn a coded picture (height, width, ...) upright; one that is upright is not copied."""
        if not any(self):
            return image
        if self.transposed:
            image = np.swapaxes(image, 0, 1)
        return np.ascontiguousarray(
            image[:: -1 if self.rows_flipped else 1, :: -1 if self.columns_flipped else 1]
        )


class Display(NamedTuple):
    """How a clip's pictures are shown.

    Attributes
    ----------
    coded_size
        tuple of int (width, height) of the coded picture with square pixels, before it is turned.
    turn
        from the coded to the upright picture
    """

    coded_size: tuple[int, int]
    turn: Turn

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) of the upright picture in pixels."""
        width, height = self.coded_size
        return (height, width) if self.turn.transposed else (width, height)


def read_display(picture: VideoFrame, stream: VideoStream) -> Display:
    """Tell how a clip's pictures are shown, by its aspect ratio and a picture's rotation tag.

    Ask the first picture only: PyAV ties a picture that was asked in a reference cycle, which
    holds its memory until Python happens to collect it.
    """
    aspect = stream.sample_aspect_ratio or Fraction(1)
    return Display((round(picture.width * aspect), picture.height), _read_turn(picture))


@dataclass(frozen=True, eq=False)
class Frame:
    """One upright picture of a clip, converted only as far as it is asked for.

    Attributes
    ----------
    index
        number of the picture among those that could be read, from 0; one that was skipped
        counts as readable.
    time_s
        presentation time in seconds; the first picture's is 0
    skipped_s
        tuple of float Times of the pictures between the one given before and this, which were not
        decoded.
    """

    index: int
    time_s: float
    _picture: VideoFrame
    _display: Display
    skipped_s: tuple[float, ...] = field(default=(), kw_only=True)

    @cached_property
    def image(self) -> ImageArray:
        """(height, width, 3) uint8, RGB, upright."""
        return self._display.turn.apply(_to_rgb(self._picture, self._display.coded_size))

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) of the upright picture in pixels."""
        return self._display.size

    def crop(self, left: int, top: int, right: int, bottom: int) -> ImageArray:
        """Give a part of the picture; much cheaper than the whole of it.

        Parameters
        ----------
        left, top, right, bottom
            pixels of the upright picture, inside it; right and bottom excluded

        Returns
        -------
        ndarray
            (bottom - top, right - left, 3) uint8, RGB.
        """
        if not self._planar or self._rescaled:
            return np.ascontiguousarray(self.image[top:bottom, left:right])
        turn = self._display.turn
        rows, columns = turn.coded((top, bottom), (left, right), self.size)
        return turn.apply(_crop_to_rgb(self._picture, rows, columns))

    def crop_grey(self, left: int, top: int, right: int, bottom: int) -> ImageArray:
        """Give a part of the picture in grey, (bottom - top, right - left) uint8; see `crop`.

        The luma as it is coded where the format is planar; the grey of the RGB picture elsewhere.
        """
        if not self._planar or self._rescaled:
            return _to_grey(self.image[top:bottom, left:right])
        turn = self._display.turn
        rows, columns = turn.coded((top, bottom), (left, right), self.size)
        return turn.apply(_plane(self._picture, 0)[slice(*rows), slice(*columns)])

    def shrink_grey(self, width: int) -> ImageArray:
        """Give the whole picture in small, grey: (about height / size width, width) uint8."""
        size = _shrunk_size(self.size, width)
        if not self._planar:
            return _shrink(_to_grey(self.image), size)
        turn = self._display.turn
        coded_size = size[::-1] if turn.transposed else size
        return turn.apply(_shrink(_plane(self._picture, 0), coded_size))

    @property
    def _planar(self) -> bool:
        """Whether parts of the coded picture can be taken by themselves."""
        return self._picture.format.name in PLANAR_FORMATS

    @property
    def _rescaled(self) -> bool:
        """Whether pixels are not square as they are coded."""
        return self._display.coded_size != (self._picture.width, self._picture.height)


@dataclass(frozen=True, eq=False)
class WarpedFrame(Frame):
    """A picture after a change that keeps its size, made only where it is asked for.

    Attributes
    ----------
    warp
        callable Takes and gives an image (height, width, 3) uint8.
    """

    warp: Callable[[ImageArray], ImageArray]

    @classmethod
    def of(cls, frame: Frame, warp: Callable[[ImageArray], ImageArray]) -> "WarpedFrame":
        """Give a frame after a change."""
        return cls(
            frame.index,
            frame.time_s,
            frame._picture,
            frame._display,
            warp,
            skipped_s=frame.skipped_s,
        )

    @cached_property
    def image(self) -> ImageArray:
        """(height, width, 3) uint8, RGB, upright."""
        return self.warp(self._display.turn.apply(_to_rgb(self._picture, self._display.coded_size)))

    def crop(self, left: int, top: int, right: int, bottom: int) -> ImageArray:
        """Give a part of the picture, as `Frame.crop` does."""
        return np.ascontiguousarray(self.image[top:bottom, left:right])

    def crop_grey(self, left: int, top: int, right: int, bottom: int) -> ImageArray:
        """Give a part of the picture in grey, as `Frame.crop_grey` does."""
        return _to_grey(self.crop(left, top, right, bottom))

    def shrink_grey(self, width: int) -> ImageArray:
        """Give the whole picture in small, grey, as `Frame.shrink_grey` does."""
        return _shrink(_to_grey(self.image), _shrunk_size(self.size, width))


class _Converter(threading.local):
    """What converts pictures in a thread; a new one for each picture takes longer to set up."""

    def __init__(self) -> None:
        self.reformatter = VideoReformatter()


_CONVERTER = _Converter()


def _to_rgb(picture: VideoFrame, size: tuple[int, int]) -> ImageArray:
    """Convert a decoded picture to RGB, (height, width, 3) uint8, as it was coded."""
    # Several threads for one picture wait for each other where all cores are busy.
    converted = _CONVERTER.reformatter.reformat(picture, *size, "rgb24", threads=1)
    return cast(ImageArray, converted.to_ndarray())


def _crop_to_rgb(
    picture: VideoFrame, rows: tuple[int, int], columns: tuple[int, int]
) -> ImageArray:
    """Convert a part of a coded picture of `PLANAR_FORMATS` to RGB."""
    # Chroma lies on every second pixel, so the cut begins and ends on even ones.
    margin = _CHROMA_MARGIN
    top, left = max(rows[0] - margin, 0) // 2 * 2, max(columns[0] - margin, 0) // 2 * 2
    bottom = min((rows[1] + margin + 1) // 2 * 2, picture.height)
    right = min((columns[1] + margin + 1) // 2 * 2, picture.width)
    cut = VideoFrame(right - left, bottom - top, picture.format.name)
    for number in range(3):
        step = 1 if number == 0 else 2
        target = _plane(cut, number)
        target[:] = _plane(picture, number)[
            top // step : top // step + target.shape[0],
            left // step : left // step + target.shape[1],
        ]
    cut.colorspace, cut.color_range = picture.colorspace, picture.color_range
    whole = _to_rgb(cut, (right - left, bottom - top))
    return whole[rows[0] - top : rows[1] - top, columns[0] - left : columns[1] - left]


def _plane(picture: VideoFrame, number: int) -> ImageArray:
    """Give one plane of a picture of `PLANAR_FORMATS` as a view, (height, width) uint8."""
    plane = picture.planes[number]
    values = np.asarray(memoryview(plane))[: plane.height * plane.line_size]
    rows: ImageArray = values.view(np.uint8).reshape(plane.height, plane.line_size)
    return rows[:, : plane.width]


def _to_grey(image: ImageArray) -> ImageArray:
    """Convert an RGB picture (height, width, 3) to grey, (height, width)."""
    # Commands that convert no picture start faster without OpenCV.
    import cv2

    return cast(ImageArray, cv2.cvtColor(image, cv2.COLOR_RGB2GRAY))


def _shrink(grey: ImageArray, size: tuple[int, int]) -> ImageArray:
    """Average a grey picture (height, width) down to (width, height)."""
    import cv2

    return cast(ImageArray, cv2.resize(grey, size, interpolation=cv2.INTER_AREA))


def _shrunk_size(size: tuple[int, int], width: int) -> tuple[int, int]:
    """Give (width, height) of a picture as it is when reduced to a width."""
    return width, max(1, round(size[1] * width / size[0]))


def _read_turn(picture: VideoFrame) -> Turn:
    """Tell how a picture is turned, by its rotation tag."""
    matrix = cast(Mapping[str, bytes], picture.side_data).get("DISPLAYMATRIX")
    if matrix is None:
        return Turn(False, False, False)
    # Display matrix of ISO/IEC 14496-12, 8.3.2: x' = a x + c y, y' = b x + d y, y downwards.
    a, b, _, c, d = np.frombuffer(bytes(matrix), np.int32)[:5]
    if abs(b) > abs(a):
        return Turn(True, bool(b < 0), bool(c < 0))
    return Turn(False, bool(d < 0), bool(a < 0))
