"""Writes videos that phones and browsers play."""

import os
import secrets
from contextlib import suppress
from fractions import Fraction
from pathlib import Path
from types import TracebackType

import av
import numpy as np
from av.container import OutputContainer
from av.video.frame import VideoFrame
from av.video.reformatter import ColorPrimaries, ColorRange, Colorspace, ColorTrc
from av.video.stream import VideoStream

from stance.errors import OutputError
from stance.results.temporary import name_temporary, open_private
from stance.runtime.language import gettext as _
from stance.video.opening import WRITER_TIME_BASE

# Of the encoder: by itself it takes more the more cores there are, and writes other bytes then.
_THREADS = 4


class VideoWriter:
    """Writes an H.264 MP4 that browsers and phones play, used in a `with` statement.

    The video is written under a temporary name beside the target and moved into place at the
    end; after an error nothing is left behind and what was there before stays.

    Parameters
    ----------
    path
        str or Path The video to write.
    size
        tuple of int (width, height) of the pictures to come, pixels; an odd last column or row is
        dropped, since the format knows even sizes only.
    frame_rate
        about how many pictures come per second; the times given with the pictures count
    crf
        float, optional Constant rate factor of x264: smaller is better and larger in bytes.
    """

    def __init__(
        self, path: str | Path, size: tuple[int, int], frame_rate: float, crf: float = 23.0
    ) -> None:
        self._path = Path(path)
        self._temporary = self._path.with_name(
            name_temporary(f"{self._path.name}-{secrets.token_hex(4)}")
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
            raise OutputError(
                _("{path} is a folder; a video can't be written over it.").format(path=self._path)
            )
        try:
            open_private(self._temporary).close()
        except OSError as error:
            raise self._not_written(error) from error
        try:
            self._container = av.open(
                f"file:{self._temporary}",
                mode="w",
                format="mp4",
                container_options={"movflags": "+faststart"},
            )
            self._stream = self._add_stream(self._container)
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
        image
            ndarray (height, width, 3) uint8, RGB, of the writer's size.
        time_s
            when it is shown, seconds from the start; later than the picture before

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

    def _add_stream(self, container: OutputContainer) -> VideoStream:
        """Add the H.264 stream, its colours tagged as those of high definition (ITU-R BT.709)."""
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
        stream.codec_context.thread_count = _THREADS
        stream.codec_context.colorspace = Colorspace.ITU709
        stream.codec_context.color_range = ColorRange.MPEG
        stream.codec_context.color_trc = ColorTrc.BT709
        stream.codec_context.color_primaries = ColorPrimaries.BT709
        return stream

    def _discard(self) -> None:
        """Remove the temporary file."""
        if self._container is not None:
            # The unfinished file goes anyway.
            with suppress(OSError, ValueError, av.FFmpegError):
                self._container.close()
        self._temporary.unlink(missing_ok=True)

    def _not_written(self, error: Exception) -> OutputError:
        """Give the sentence for a video that can't be written."""
        reason = getattr(error, "strerror", None) or str(error)
        return OutputError(
            _(
                "The video {path} can't be written ({reason}). Choose a folder you may write "
                "to, with space left."
            ).format(path=self._path, reason=reason)
        )
