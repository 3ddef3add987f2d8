"""Opens a clip, and says in a sentence what is wrong with one that is none."""

from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import av
import av.logging
from av.container import InputContainer
from av.video.stream import VideoStream

from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.runtime.regular_files import open_regular

# FFmpeg writes what it finds damaged to the terminal; the tool says it itself.
av.logging.set_level(None)

VIDEO_FORMATS = ("mov", "matroska", "avi", "mpegts", "mpeg", "asf", "flv", "ogg")
"""FFmpeg's names of the containers that are read."""

AUDIO_FORMATS = ("mp3", "wav", "aac", "flac", "amr")
"""Opened only to be refused with a sentence, as images are."""

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
"""Boxes that a QuickTime or MP4 file may begin with (ISO/IEC 14496-12)."""

MOST_PIXELS = 1 << 26
"""Pixels of the largest picture that is read; one of 8K has half as many."""

WRITER_TIME_BASE = Fraction(1, 90_000)
"""Clock of videos that are written, and of clips that tell none: that of MPEG."""


@contextmanager
def open_clip(path: Path) -> Iterator[tuple[InputContainer, VideoStream]]:
    """Open a clip and its video track; everything that is no video raises InputError."""
    head = _first_bytes(path)
    still = InputError(
        _(
            "{path} is a still image. Waiting shows in a video only; film at least a few seconds."
        ).format(path=path)
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
                _(
                    "{path} is cut off: the part of the file that lists its pictures is missing. "
                    "Copy it from the phone again, whole."
                ).format(path=path)
            ) from error
        raise InputError(
            _(
                "{path} is not a video, or not of a kind that can be read. Give a clip as the "
                "phone saves it (MP4 or MOV)."
            ).format(path=path)
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
            raise InputError(
                _("{path} holds sound only, no pictures. Give the video clip.").format(path=path)
            )
        raise InputError(
            _("{path} holds no video. Give the clip as the phone saved it.").format(path=path)
        )
    readable = [s for s in streams if s.codec_context is not None]
    if not readable:
        raise InputError(
            _(
                "The pictures in {path} are of a kind that can't be read. Save the clip again "
                "as H.264 or HEVC."
            ).format(path=path)
        )
    stream = max(readable, key=lambda s: s.width * s.height)
    if stream.width * stream.height > MOST_PIXELS:
        raise InputError(
            _(
                "The pictures in {path} are said to be {width} x {height} pixels large, more "
                "than can be read. Film in 4K or smaller, or copy the clip from the phone "
                "again."
            ).format(path=path, width=stream.width, height=stream.height)
        )
    # Pictures later in the file may be larger than its head says.
    stream.codec_context.options = {"max_pixels": str(MOST_PIXELS)}
    stream.thread_type = "AUTO"
    return stream


def _first_bytes(path: Path) -> bytes:
    """Give the start of the file, after a look at everything that can be wrong with a path."""
    with open_regular(path) as file:
        head = file.read(12)
    if not head:
        raise InputError(
            _("{path} is empty. Copy the clip from the phone again.").format(path=path)
        )
    return head
