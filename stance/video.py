"""Clips in and videos out: the only module that knows PyAV.

A clip is read one picture at a time, upright, with the presentation time of every picture.
Headers are not believed: counts and rates come from the pictures.
"""

import hashlib
import os
import queue
import secrets
import sys
import threading
from bisect import bisect
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, TypeVar, cast

import av
import av.logging
import numpy as np
from av.container import InputContainer, OutputContainer
from av.video.frame import VideoFrame
from av.video.reformatter import (
    ColorPrimaries,
    ColorRange,
    Colorspace,
    ColorTrc,
    VideoReformatter,
)
from av.video.stream import VideoStream

from stance.errors import InputError, OutputError
from stance.result import ClipSummary, Notice

av.logging.set_level(None)

VIDEO_FORMATS = ("mov", "matroska", "avi", "mpegts", "mpeg", "asf", "flv", "ogg")
AUDIO_FORMATS = ("mp3", "wav", "aac", "flac", "amr")
IMAGE_FORMATS = (
    "image2",
    "bmp_pipe",
    "gif",
    "jpeg_pipe",
    "png_pipe",
    "tiff_pipe",
    "webp_pipe",
)
STILL_BRANDS = (b"heic", b"heix", b"mif1", b"msf1", b"avif")
"""Brands of HEIC and AVIF photos, which share the container of MP4."""

QUICKTIME_BOXES = (b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip")
CAPTURE_RATE_TAG = "com.android.capture.fps"
PLANAR_FORMATS = ("yuv420p", "yuvj420p")
"""Formats of 8 bits whose colours are halved in both directions, of which parts can be cut."""

WRITER_TIME_BASE = Fraction(1, 90_000)
READ_BYTES = 1 << 20

NICENESS = 10
"""How much nicer than its user a thread is that makes something ahead, as setpriority(2) counts."""

THREADS_A_CORE = 3
ENOUGH_THREADS, MOST_THREADS = 8, 16
"""Threads that decode: each picture waits for parts of those before it, so with the decoder's own
choice, one more than there are cores, one of few cores is often idle (docs/performance.md). Each
thread holds pictures, so many cores get no more than that; FFmpeg advises against more than 16."""

CLOCK_RESTART_S = 1
"""A step back longer than this is a clock that starts again, not two pictures out of order."""

STRETCHED = 1.5
"""Filmed over played rate from which times are called stretched."""

RAMP = 3.0
RAMP_FASTEST_S = 1 / 45
RAMP_PICTURES = 12
"""A slow-motion ramp holds each of two rates for this many pictures. Phones halve their rate in
poor light, so only a larger ratio, from a rate above normal filming, is called slow motion."""

UNSTEADY = 1.5
"""Ratio of the 95th to the 5th percentile of the time between pictures."""

TIMED_FORMATS = ("mov", "matroska", "mpegts")
"""Formats that tell when each picture is shown; AVI, say, tells when it is coded."""

TELLING_PICTURES = 300
"""Where none of so many pictures can be left out, none is."""

START_CODE = b"\x00\x00\x01"
MOST_REORDERED = 16
"""Pictures are coded at most so many places from where they are shown (size of the picture buffer
in ITU-T H.264 and H.265)."""

RICH_BITS = 0.08
"""Where a film has so many bits for a pixel, what smooths the edges of its blocks hardly changes
its pictures. Phones record with 0.09 to 0.3 (from memory)."""

LONGEST_STEP = 1.05
"""A step between pictures may be longer by this factor than the rate asked for says."""

GAP_S = 0.2
GAP_MEDIANS = 5.0
READABLE_SHARE = 0.98


Item = TypeVar("Item")


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
    _turn: "_Turn"
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
                self._picture.width, self._picture.height):
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
        return cls(frame.index, frame.time_s, frame._picture, frame._shown, frame._turn, change,
                   left_out=frame.left_out)

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


class _Turn(NamedTuple):
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


@dataclass(frozen=True)
class ClipDescription:
    """What a quick look at a clip tells.

    Attributes
    ----------
    file : str
        Name of the file, without its folder.
    sha256 : str
        Of the whole file.
    size : tuple of int
        (width, height) of the upright picture in pixels.
    packets : int
        Coded pictures found in the file, for a progress bar; not all need be readable.
    capture_rate : float or None
        Pictures per second at which the phone says it filmed, where it says so.
    notices : tuple of Notice
        `cut_off` and `hdr`, where they apply.
    """

    file: str
    sha256: str
    size: tuple[int, int]
    packets: int
    capture_rate: float | None
    notices: tuple[Notice, ...]


def describe_clip(path: str | Path) -> ClipDescription:
    """Look a clip over without reading all its pictures.

    Parameters
    ----------
    path : str or Path
        The clip.

    Returns
    -------
    ClipDescription
        What the quick look tells.

    Raises
    ------
    InputError
        Where the file is no readable video of at least two pictures; the message says why.
    """
    path = Path(path)
    # Beside all the rest, which takes about as long.
    with ThreadPoolExecutor(1) as beside:
        digest = beside.submit(_sha256, path)
        shown, cut_off, capture_rate = _packets(path)
        size, notices = _first_picture(path)
    if cut_off:
        notices.append(
            Notice(
                "cut_off",
                "The end of the clip is missing from the file; what could be read before it was "
                "used. Copy the clip from the phone again if you need the rest.",
            )
        )
    return ClipDescription(
        path.name, digest.result(), size, shown, capture_rate, tuple(notices))


def _packets(path: Path) -> tuple[int, bool, float | None]:
    """Number of pictures that a clip shows, whether its end is missing, and its capture rate."""
    with _opened(path) as (container, stream):
        capture_rate = _capture_rate(container, stream)
        coded = 0
        shown = 0
        listed = len(stream.index_entries)
        cut_off = False
        try:
            for packet in container.demux(stream):
                if packet.size == 0:
                    continue
                coded += 1
                shown += not packet.is_discard
                cut_off = packet.is_corrupt
            shown -= cut_off
        except av.FFmpegError:
            cut_off = True
        return shown, cut_off or coded < listed, capture_rate


def _first_picture(path: Path) -> tuple[tuple[int, int], list[Notice]]:
    """(width, height) of a clip's upright pictures, and what there is to say of them.

    Raises
    ------
    InputError
        Where fewer than two pictures can be read.
    """
    notices = []
    with _opened(path) as (container, stream):
        pictures = _decoded(container, stream)
        first = next(pictures, None)
        if first is None:
            raise InputError(
                f"No picture in {path} can be read; the file is damaged. "
                "Copy it from the phone again."
            )
        if next(pictures, None) is None:
            raise InputError(
                f"{path} holds a single picture. A clip of one frame shows no waiting; "
                "film at least a few seconds."
            )
        size = Frame(0, 0.0, first[1], _display_size(first[1], stream), _turn_of(first[1])).size
        if first[1].color_trc in (ColorTrc.ARIB_STD_B67, ColorTrc.SMPTE2084):
            notices.append(
                Notice(
                    "hdr",
                    "The clip was filmed in HDR; colours in the report may look flat. "
                    "The measures are not affected.",
                )
            )
    return size, notices


def read_frames(
    path: str | Path, cores: int | None = None, enough: float = np.inf
) -> Iterator[Frame]:
    """Read a clip picture by picture.

    Only a few pictures are held at any time. Damaged pictures are left out, pictures with the
    time of the one before too; a picture without a time gets one a step after the one before.

    Parameters
    ----------
    path : str or Path
        The clip.
    cores : int, optional
        That decode; by default all. The pictures are the same.
    enough : float
        Pictures a second that are enough: as long as so many remain, those that no other picture
        is predicted from are not decoded. They count in `index`, and the next picture tells their
        times. The edges of blocks are not smoothed then where the film has `RICH_BITS`, which
        saves a fifth of decoding.

    Yields
    ------
    Frame
        The next picture; times strictly increase.

    Raises
    ------
    InputError
        Where the file is no readable video or no picture in it can be read.
    """
    path = Path(path)
    with _opened(path) as (container, stream):
        stream.codec_context.thread_count = decoding_threads(cores or usable_cores())
        needless: tuple[int, ...] = ()
        if np.isfinite(enough):
            needless = _needless(path, enough)
            if _bits_per_pixel(container, stream) >= RICH_BITS:
                stream.codec_context.options = {"skip_loop_filter": "all"}
        size, turn = None, None
        index, last = -1, None
        for time_s, picture in _decoded(container, stream, frozenset(needless)):
            size = size or _display_size(picture, stream)
            # Of the first picture only: PyAV ties a picture that was asked in a knot, which holds
            # its memory until Python happens to collect such knots.
            turn = turn or _turn_of(picture)
            left_out: tuple[float, ...] = ()
            if needless and stream.time_base is not None and picture.pts is not None:
                if last is not None:
                    between = needless[bisect(needless, last) : bisect(needless, picture.pts)]
                    left_out = tuple(
                        time_s - float((picture.pts - pts) * stream.time_base) for pts in between)
                last = picture.pts
            index += 1 + len(left_out)
            yield Frame(index, time_s, picture, size, turn, left_out=left_out)
    if size is None:
        raise InputError(
            f"No picture in {path} can be read; the file is damaged. Copy it from the phone again."
        )


def read_key_pictures(path: str | Path, most: int) -> list[np.ndarray]:
    """Read some pictures that are coded whole, without decoding those between.

    Parameters
    ----------
    path : str or Path
        The clip.
    most : int
        How many to read at most, spread evenly over the clip.

    Returns
    -------
    list of ndarray
        (height, width, 3) uint8, RGB, upright; few or none where the clip has no more such
        pictures or does not say how long it is.

    Raises
    ------
    InputError
        Where the file is no readable video.
    """
    images: dict[int, np.ndarray] = {}
    with _opened(Path(path)) as (container, stream):
        if not container.duration or not stream.time_base:
            return []
        stream.codec_context.skip_frame = "NONKEY"
        seconds = container.duration / av.time_base
        for moment in (np.arange(most) + 0.5) / most * seconds:
            with suppress(av.FFmpegError):
                container.seek(int(moment / stream.time_base), stream=stream)
                picture = next(_pictures(container, stream), None)
                if picture is not None and picture.pts is not None and picture.pts not in images:
                    size, turn = _display_size(picture, stream), _turn_of(picture)
                    shown = Frame(0, 0.0, picture, size, turn)
                    images[picture.pts] = shown.image
    return list(images.values())


def read_frames_at(path: str | Path, indices: Collection[int]) -> Iterator[Frame]:
    """Read a few pictures of a clip, by the `index` that `read_frames` gives them.

    The clip is decoded from its start, since seeking does not count pictures.

    Parameters
    ----------
    path : str or Path
        The clip.
    indices : collection of int
        Wanted pictures, in any order; repeats are given once.

    Yields
    ------
    Frame
        The wanted pictures in the clip's order.

    Raises
    ------
    InputError
        Where the file is no readable video.
    IndexError
        Where the clip has no picture of a wanted index.
    """
    wanted = sorted(set(indices))
    if not wanted:
        return
    if wanted[0] < 0:
        raise IndexError(f"pictures count from 0, not {wanted[0]}")
    position = 0
    with _opened(Path(path)) as (container, stream):
        size, turn = None, None
        for index, (time_s, picture) in enumerate(_decoded(container, stream)):
            size = size or _display_size(picture, stream)
            # Of the first picture only: PyAV ties a picture that was asked in a knot, which holds
            # its memory until Python happens to collect such knots.
            turn = turn or _turn_of(picture)
            if index == wanted[position]:
                yield Frame(index, time_s, picture, size, turn)
                position += 1
                if position == len(wanted):
                    return
    raise IndexError(f"{path} has no picture number {wanted[position]}")


def summarise(
    description: ClipDescription, frame_times: np.ndarray
) -> tuple[ClipSummary, tuple[Notice, ...]]:
    """Sum up a clip after all its pictures were read.

    The time between pictures is the median one; the last picture is taken to last as long.

    Parameters
    ----------
    description : ClipDescription
        From `describe_clip`.
    frame_times : ndarray
        (frames,) seconds, the `time_s` of all pictures, strictly increasing.

    Returns
    -------
    summary : ClipSummary
        For the result.
    notices : tuple of Notice
        `slow_motion`, `variable_frame_rate`, `gap` and `damaged`, where they apply; those of the
        description are not repeated.

    Raises
    ------
    InputError
        Where fewer than two pictures were read.
    """
    times = np.asarray(frame_times, dtype=float)
    if len(times) < 2:
        raise InputError(
            f"Only one picture of {description.file} can be read. A clip of one frame shows no "
            "waiting; film at least a few seconds."
        )
    intervals = np.diff(times)
    median_s = float(np.median(intervals))
    summary = ClipSummary(
        file=description.file,
        sha256=description.sha256,
        duration_s=float(times[-1] - times[0]) + median_s,
        frames=len(times),
        frame_rate=1 / median_s,
        size=description.size,
    )
    notices = _rate_notices(description.capture_rate, intervals, median_s)
    gaps = np.flatnonzero(intervals > max(GAP_S, GAP_MEDIANS * median_s))
    if len(gaps):
        longest = gaps[np.argmax(intervals[gaps])]
        count = "one place" if len(gaps) == 1 else f"{len(gaps)} places"
        notices.append(
            Notice(
                "gap",
                f"Pictures are missing in {count} of the clip; the longest gap is "
                f"{intervals[longest]:.1f} s, from {times[longest]:.1f} s on. "
                "Nothing is known of the player there.",
            )
        )
    if len(times) < READABLE_SHARE * description.packets:
        notices.append(
            Notice(
                "damaged",
                f"Only {len(times)} of {description.packets} pictures in the file could be read; "
                "the others are damaged and were left out. Copy the clip from the phone again.",
            )
        )
    return summary, tuple(notices)


class VideoWriter:
    """Writes an H.264 MP4 that browsers and phones play, used in a `with` statement.

    The video is written under a temporary name beside the target and moved into place at the
    end; after an error nothing is left behind and what was there before stays.

    Parameters
    ----------
    path : str or Path
        The video to write.
    size : tuple of int
        (width, height) of the pictures to come, pixels; an odd last column or row is dropped,
        since the format knows even sizes only.
    frame_rate : float
        About how many pictures come per second; the times given with the pictures count.
    crf : float, optional
        Constant rate factor of x264: smaller is better and larger in bytes.
    """

    def __init__(
        self, path: str | Path, size: tuple[int, int], frame_rate: float, crf: float = 23.0
    ) -> None:
        self._path = Path(path)
        self._temporary = self._path.with_name(
            f".{self._path.stem}-{secrets.token_hex(4)}.partial.mp4"
        )
        self._size = size
        self._frame_rate = frame_rate
        self._crf = crf
        self._last_tick = -1
        self._container: OutputContainer | None = None
        self._stream: VideoStream | None = None

    def __enter__(self) -> "VideoWriter":
        """Start the temporary file; raises OutputError where that can't be."""
        if self._path.is_dir():
            raise OutputError(f"{self._path} is a folder; a video can't be written over it.")
        try:
            self._temporary.open("xb").close()
        except OSError as error:
            raise self._not_written(error) from error
        try:
            self._container = av.open(
                f"file:{self._temporary}",
                mode="w",
                format="mp4",
                container_options={"movflags": "+faststart"},
            )
            self._stream = self._added_stream(self._container)
        except BaseException as error:
            self._discard()
            if isinstance(error, OSError | av.FFmpegError):
                raise self._not_written(error) from error
            raise
        return self

    def write(self, image: np.ndarray, time_s: float) -> None:
        """Add a picture.

        Parameters
        ----------
        image : ndarray
            (height, width, 3) uint8, RGB, of the writer's size.
        time_s : float
            When it is shown, seconds from the start; later than the picture before.

        Raises
        ------
        OutputError
            Where the video can't be written, for example on a full disk.
        ValueError
            For a picture of another size or a time that does not increase.
        """
        assert self._container is not None and self._stream is not None
        width, height = self._size
        if image.shape != (height, width, 3) or image.dtype != np.uint8:
            raise ValueError(f"a picture of {image.shape} {image.dtype} in a {self._size} video")
        tick = round(time_s / WRITER_TIME_BASE)
        if tick <= self._last_tick:
            raise ValueError(f"picture at {time_s} s is not later than the one before")
        self._last_tick = tick
        even = np.ascontiguousarray(image[: height // 2 * 2, : width // 2 * 2])
        picture = VideoFrame.from_ndarray(even, format="rgb24").reformat(
            format="yuv420p",
            dst_colorspace=Colorspace.ITU709,
            dst_color_range=ColorRange.MPEG,
            dst_color_trc=ColorTrc.BT709,
            dst_color_primaries=ColorPrimaries.BT709,
        )
        picture.pts = tick
        picture.time_base = WRITER_TIME_BASE
        try:
            self._container.mux(self._stream.encode(picture))
        except (OSError, av.FFmpegError) as error:
            raise self._not_written(error) from error

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        """Move the finished video into place, or remove it after an error."""
        assert self._container is not None and self._stream is not None
        if kind is not None:
            self._discard()
            return
        try:
            if self._last_tick < 0:
                raise ValueError(f"no picture was written to {self._path}")
            self._container.mux(self._stream.encode(None))
            self._container.close()
            os.replace(self._temporary, self._path)
        except BaseException as failure:
            self._discard()
            if isinstance(failure, OSError | av.FFmpegError):
                raise self._not_written(failure) from failure
            raise

    def _added_stream(self, container: OutputContainer) -> VideoStream:
        rate = Fraction(self._frame_rate).limit_denominator(1001)
        stream = container.add_stream(
            "libx264",
            rate=rate,
            options={
                "crf": f"{self._crf:g}",
                "preset": "veryfast",
                "g": str(max(1, round(rate))),
            },
        )
        stream.width = self._size[0] // 2 * 2
        stream.height = self._size[1] // 2 * 2
        stream.pix_fmt = "yuv420p"
        stream.time_base = WRITER_TIME_BASE
        stream.codec_context.time_base = WRITER_TIME_BASE
        stream.codec_context.colorspace = Colorspace.ITU709
        stream.codec_context.color_range = ColorRange.MPEG
        stream.codec_context.color_trc = ColorTrc.BT709
        stream.codec_context.color_primaries = ColorPrimaries.BT709
        return stream

    def _discard(self) -> None:
        if self._container is not None:
            # The unfinished file goes anyway.
            with suppress(OSError, ValueError, av.FFmpegError):
                self._container.close()
        self._temporary.unlink(missing_ok=True)

    def _not_written(self, error: Exception) -> OutputError:
        reason = getattr(error, "strerror", None) or str(error)
        return OutputError(
            f"The video {self._path} can't be written ({reason}). "
            "Choose a folder you may write to, with space left."
        )


@contextmanager
def _opened(path: Path) -> Iterator[tuple[InputContainer, VideoStream]]:
    """Open a clip and its video track; everything that is no video raises InputError."""
    head = _first_bytes(path)
    still = InputError(
        f"{path} is a still image. Waiting shows in a video only; film at least a few seconds."
    )
    if head[4:8] == b"ftyp" and head[8:12] in STILL_BRANDS:
        raise still
    try:
        # "file:" keeps a colon in a name from being read as a protocol; the list of formats
        # keeps playlists and scripts, which name other files, from being followed.
        container = av.open(
            f"file:{path}",
            metadata_errors="replace",
            container_options={
                "format_whitelist": ",".join(VIDEO_FORMATS + AUDIO_FORMATS + IMAGE_FORMATS)
            },
        )
    except av.FFmpegError as error:
        if head[4:8] in QUICKTIME_BOXES:
            raise InputError(
                f"{path} is cut off: the part of the file that lists its pictures is missing. "
                "Copy it from the phone again, whole."
            ) from error
        raise InputError(
            f"{path} is not a video, or not of a kind that can be read. "
            "Give a clip as the phone saves it (MP4 or MOV)."
        ) from error
    with container:
        if container.format.name in IMAGE_FORMATS:
            raise still
        yield container, _video_stream(container, path)


def _video_stream(container: InputContainer, path: Path) -> VideoStream:
    """Give the clip's largest video track that is no cover picture, ready to decode."""
    attached = av.stream.Disposition.attached_pic | av.stream.Disposition.timed_thumbnails
    streams = [s for s in container.streams.video if not s.disposition & attached]
    if not streams:
        if container.streams.audio:
            raise InputError(f"{path} holds sound only, no pictures. Give the video clip.")
        raise InputError(f"{path} holds no video. Give the clip as the phone saved it.")
    readable = [s for s in streams if s.codec_context is not None]
    if not readable:
        raise InputError(
            f"The pictures in {path} are of a kind that can't be read. "
            "Save the clip again as H.264 or HEVC."
        )
    stream = max(readable, key=lambda s: s.width * s.height)
    stream.thread_type = "AUTO"
    return stream


def _first_bytes(path: Path) -> bytes:
    """Give the start of the file, after a look at everything that can be wrong with a path."""
    try:
        if path.is_dir():
            raise InputError(f"{path} is a folder. Give the clip itself.")
        if path.exists() and not path.is_file():
            raise InputError(f"{path} is not a file. Give a clip.")
        with path.open("rb") as file:
            head = file.read(12)
    except PermissionError as error:
        raise InputError(
            f"{path} can't be read: permission is missing. "
            "Change the file's permissions or copy it to a folder of your own."
        ) from error
    except FileNotFoundError as error:
        raise InputError(f"There is no file {path}. Check the name and the folder.") from error
    except (OSError, ValueError) as error:
        raise InputError(f"{path} can't be read ({error}).") from error
    if not head:
        raise InputError(f"{path} is empty. Copy the clip from the phone again.")
    return head


def _sha256(path: Path) -> str:
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while block := file.read(READ_BYTES):
                digest.update(block)
    except OSError as error:
        raise InputError(f"{path} can't be read ({error}).") from error
    return digest.hexdigest()


def _capture_rate(container: InputContainer, stream: VideoStream) -> float | None:
    """Give the rate at which an Android phone says it filmed."""
    text = container.metadata.get(CAPTURE_RATE_TAG) or stream.metadata.get(CAPTURE_RATE_TAG)
    try:
        rate = float(text or "")
    except ValueError:
        return None
    return rate if np.isfinite(rate) and rate > 0 else None


def decoding_threads(cores: int) -> int:
    """How many pictures are decoded at once, so that no core waits for one before to be done."""
    if cores == 1:
        return 1
    return min(THREADS_A_CORE * cores, max(ENOUGH_THREADS, cores + 1), MOST_THREADS)


def usable_cores() -> int:
    """How many cores this process may use."""
    return (len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count()) or 1


def _decoded(
    container: InputContainer, stream: VideoStream, without: Collection[int] = ()
) -> Iterator[tuple[float, VideoFrame]]:
    """Yield readable pictures with their times, seconds from the first, strictly increasing."""
    time_base = stream.time_base or WRITER_TIME_BASE
    step = 1 / (stream.guessed_rate or Fraction(30))
    origin: Fraction | None = None
    last: Fraction | None = None
    for picture in _pictures(container, stream, without):
        following = Fraction(0) if last is None else last + step
        if picture.pts is None:
            time = following
        else:
            moment = picture.pts * time_base
            # A clock that starts again goes on from where it was.
            if origin is None or moment - origin < following - step - CLOCK_RESTART_S:
                origin = moment - following
            time = moment - origin
        if last is not None:
            if time <= last:
                continue
            step = time - last
        last = time
        yield float(time), picture


def _pictures(
    container: InputContainer, stream: VideoStream, without: Collection[int] = ()
) -> Iterator[VideoFrame]:
    """Yield every picture that decodes, up to the end or to where the file can't be read.

    Those with the time stamps `without` are not decoded.
    """
    packets = container.demux(stream)
    shown = None
    while True:
        try:
            packet = next(packets, None)
        except av.FFmpegError:
            packet = None
        if packet is not None and (packet.is_corrupt or packet.pts in without):
            continue
        try:
            # None, too, drains the decoder: a cut-off file has no last, empty packet.
            pictures: Iterable[VideoFrame] = stream.decode(packet)
        except av.FFmpegError:
            pictures = []
            if packet is None and shown is not None and stream.codec_context.thread_count != 1:
                # What was in work when the file ended is lost with the damaged picture.
                pictures = _last_pictures(container, stream, shown, without)
        for picture in pictures:
            shown = picture.pts
            yield picture
        if packet is None:
            return


def _last_pictures(
    container: InputContainer, stream: VideoStream, shown: int, without: Collection[int]
) -> Iterator[VideoFrame]:
    """Read the pictures after a time stamp again, one at a time."""
    with _opened(Path(container.name.removeprefix("file:"))) as (again, once_more):
        once_more.codec_context.thread_count = 1
        once_more.codec_context.options = stream.codec_context.options
        # Where nothing can be sought, all is read from the start.
        with suppress(av.FFmpegError):
            again.seek(shown, stream=once_more)
        for picture in _pictures(again, once_more, without):
            if picture.pts is not None and picture.pts > shown:
                yield picture


def _bits_per_pixel(container: InputContainer, stream: VideoStream) -> float:
    """Bits that a film has for a pixel; 0 where it does not tell."""
    pixels = stream.codec_context.width * stream.codec_context.height
    rate = stream.average_rate
    return float(container.bit_rate / (rate * pixels)) if rate and pixels else 0.0


def _needless(path: Path, enough: float) -> tuple[int, ...]:
    """Time stamps, in order, of pictures of a clip that need not be decoded.

    No other picture is predicted from them, and without them `enough` pictures a second remain.
    Empty where the clip does not tell so much of every picture.
    """
    stamps: list[int] = []
    unused: list[tuple[bool, int]] = []
    with _opened(path) as (container, stream):
        told = _UNUSED.get(stream.codec_context.name)
        timed = container.format.name.split(",")[0] in TIMED_FORMATS
        if told is None or not timed or stream.time_base is None:
            return ()
        longest = LONGEST_STEP / enough / stream.time_base
        first = next(_pictures(container, stream), None)
        # Two fields of a picture may come one by one.
        if first is None or first.interlaced_frame:
            return ()
    with _opened(path) as (container, stream):
        length_bytes = _length_bytes(stream)
        try:
            for packet in container.demux(stream):
                if packet.size == 0:
                    continue
                if packet.pts is None or packet.is_discard or packet.is_corrupt:
                    return ()
                stamps.append(packet.pts)
                unused.append(told(_unit_heads(bytes(packet), length_bytes)))
                if len(unused) == TELLING_PICTURES and not any(free for free, _ in unused):
                    return ()
        except av.FFmpegError:
            return ()
    order = np.argsort(stamps)
    # A clock that starts again puts pictures far from where they are coded.
    if len(set(stamps)) < len(stamps) or (
            np.abs(order - np.arange(len(order))).max(initial=0) > MOST_REORDERED):
        return ()
    highest = max((level for _, level in unused), default=0)
    needless: list[int] = []
    last = stamps[order[0]] if stamps else 0
    for number, after in pairwise(order[1:]):
        free, level = unused[number]
        if free and level == highest and stamps[after] - last <= longest:
            needless.append(stamps[number])
        else:
            last = stamps[number]
    return tuple(needless)


def _length_bytes(stream: VideoStream) -> int:
    """Give how many bytes tell the length of a unit; 0 where start codes part them.

    By the decoder configuration records of ISO/IEC 14496-15, 5.3.3.1 and 8.3.3.1.
    """
    record = bytes(stream.codec_context.extradata or b"")
    at = {"h264": 4, "hevc": 21}[stream.codec_context.name]
    return (record[at] & 3) + 1 if len(record) > at and record[0] == 1 else 0


def _unit_heads(coded: bytes, length_bytes: int) -> Iterator[bytes]:
    """Yield the first two bytes of each unit (NAL unit) of a coded picture."""
    if not length_bytes:
        at = coded.find(START_CODE)
        while at >= 0:
            yield coded[at + 3 : at + 5]
            at = coded.find(START_CODE, at + 3)
        return
    at = 0
    while at + length_bytes < len(coded):
        start = at + length_bytes
        yield coded[start : start + 2]
        at = start + int.from_bytes(coded[at:start], "big")


def _unused_h264(heads: Iterator[bytes]) -> tuple[bool, int]:
    """Tell whether no picture is predicted from one: nal_ref_idc of ITU-T H.264, 7.4.1.

    Parameter sets, which later pictures may need, have one that is not 0 too.
    """
    first = [head[0] for head in heads if head]
    slices = [byte for byte in first if 1 <= byte & 0x1F <= 5]
    return bool(slices) and not any(byte & 0x60 for byte in first), 0


def _unused_hevc(heads: Iterator[bytes]) -> tuple[bool, int]:
    """Tell whether no picture of its temporal level is predicted from one, and the level.

    By nal_unit_type and nuh_temporal_id_plus1 of ITU-T H.265, 7.4.2.2: of the picture types below
    16 the even ones.
    """
    units = [(head[0] >> 1 & 0x3F, (head[1] & 7) - 1) for head in heads if len(head) == 2]
    slices = [(kind, level) for kind, level in units if kind < 32]
    parameters = any(32 <= kind <= 34 for kind, _ in units)
    free = bool(slices) and all(kind < 16 and kind % 2 == 0 for kind, _ in slices)
    return free and not parameters, max((level for _, level in slices), default=0)


_UNUSED: Mapping[str, Callable[[Iterator[bytes]], tuple[bool, int]]] = {
    "h264": _unused_h264, "hevc": _unused_hevc}


def _display_size(picture: VideoFrame, stream: VideoStream) -> tuple[int, int]:
    """Give (width, height) of the coded picture with square pixels, before it is turned."""
    aspect = stream.sample_aspect_ratio or Fraction(1)
    return round(picture.width * aspect), picture.height


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


def _part_rgb(
    picture: VideoFrame, rows: tuple[int, int], columns: tuple[int, int]
) -> np.ndarray:
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


def _turn_of(picture: VideoFrame) -> _Turn:
    """Tell how a picture is turned, by its rotation tag."""
    matrix = cast(Mapping[str, bytes], picture.side_data).get("DISPLAYMATRIX")
    if matrix is None:
        return _Turn(False, False, False)
    # Display matrix of ISO/IEC 14496-12, 8.3.2: x' = a x + c y, y' = b x + d y, y downwards.
    a, b, _, c, d = np.frombuffer(bytes(matrix), np.int32)[:5]
    if abs(b) > abs(a):
        return _Turn(True, bool(b < 0), bool(c < 0))
    return _Turn(False, bool(d < 0), bool(a < 0))


def _turned(image: np.ndarray, turn: _Turn) -> np.ndarray:
    """Turn a coded picture (height, width, ...) upright; one that is upright is not copied."""
    if turn == _Turn(False, False, False):
        return image
    if turn.transposed:
        image = np.swapaxes(image, 0, 1)
    return np.ascontiguousarray(
        image[:: -1 if turn.rows_flipped else 1, :: -1 if turn.columns_flipped else 1]
    )


def ahead(items: Iterator[Item], count: int) -> Iterator[Item]:
    """Pass items on, made in a thread of their own up to `count` ahead of their use.

    Parameters
    ----------
    items : iterator
        What it raises is raised here, in its place.
    count : int
        How many items wait at most.
    """
    waiting: queue.Queue[tuple[Item | None, BaseException | None]] = queue.Queue(count)
    stop = threading.Event()

    def put(item: Item | None, error: BaseException | None) -> None:
        while not stop.is_set():
            with suppress(queue.Full):
                waiting.put((item, error), timeout=0.1)
                return

    def make() -> None:
        _let_others_go_first()
        try:
            for item in items:
                put(item, None)
                if stop.is_set():
                    return
            put(None, None)
        except BaseException as error:
            put(None, error)

    maker = threading.Thread(target=make, daemon=True)
    maker.start()
    try:
        while True:
            item, error = waiting.get()
            if error is not None:
                raise error
            if item is None:
                return
            yield item
    finally:
        stop.set()
        maker.join()


def _let_others_go_first() -> None:
    """Lower the priority of this thread and of those that it makes, such as a decoder's.

    Whoever uses what is made ahead mostly has it at hand and else waits. With equal shares of the
    cores the queue was full again and again, and then a core idle, while its user had not come to
    an end (docs/performance.md). Linux only: elsewhere there is no such number for a thread.
    """
    if sys.platform == "linux":
        thread = threading.get_native_id()
        with suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, thread,
                           os.getpriority(os.PRIO_PROCESS, thread) + NICENESS)


def _rate_notices(
    capture_rate: float | None, intervals: np.ndarray, median_s: float
) -> list[Notice]:
    """Judge the clip's clock from the times between pictures, (frames - 1,) seconds."""
    advice = (
        "Angles and classes hold, but seconds and shares of time do not. "
        "Film at normal speed, without slow motion."
    )
    if capture_rate is not None and capture_rate * median_s > STRETCHED:
        return [
            Notice(
                "slow_motion",
                f"The clip is slow motion: filmed at {capture_rate:.0f} pictures a second, played "
                f"at {1 / median_s:.0f}, so its clock is stretched about "
                f"{capture_rate * median_s:.0f} times. {advice}",
            )
        ]
    if len(intervals) >= 2 * RAMP_PICTURES:
        held = np.median(
            np.lib.stride_tricks.sliding_window_view(intervals, RAMP_PICTURES), axis=-1
        )
        fastest, slowest = held.min(), held.max()
        if slowest > RAMP * fastest and fastest < RAMP_FASTEST_S:
            return [
                Notice(
                    "slow_motion",
                    f"The clip seems to be partly slow motion: it plays {1 / fastest:.0f} pictures "
                    f"a second in some parts and {1 / slowest:.0f} in others. {advice}",
                )
            ]
    short, long = np.percentile(intervals, (5, 95))
    if long > UNSTEADY * short:
        return [
            Notice(
                "variable_frame_rate",
                f"The phone did not film at a steady rate (between {1 / long:.0f} and "
                f"{1 / short:.0f} pictures a second). The time of every picture is known, so the "
                "measures are not affected.",
            )
        ]
    return []
