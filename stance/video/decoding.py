"""Decodes a clip's stream picture by picture, the last ones of a damaged clip too."""

from collections.abc import Collection, Iterable, Iterator
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import av
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from stance.video.opening import WRITER_TIME_BASE, open_clip
from stance.video.skippable import (
    CODECS,
    CodedPicture,
    choose_skippable,
    nal_length_bytes,
    read_access_unit,
)

THREADS_A_CORE = 3

ENOUGH_THREADS, MOST_THREADS = 8, 16
"""Threads that decode: each picture waits for parts of those before it, so with the decoder's own
choice, one more than there are cores, one of few cores is often idle (docs/performance.md). Each
thread holds pictures, so many cores get no more than that; FFmpeg advises against more than 16."""

CLOCK_RESTART_S = 1
"""A step back longer than this is a clock that starts again, not two pictures out of order."""

TIMED_FORMATS = ("mov", "matroska", "mpegts")
"""Formats that tell when each picture is shown; AVI, say, tells when it is coded."""

ENOUGH_EXAMINED = 300
"""Where none of so many pictures can be skipped, none is."""

STEP_TOLERANCE = 1.05
"""A step between pictures may be longer by this factor than the rate asked for says."""


def decoding_threads(cores: int) -> int:
    """Give how many pictures are decoded at once, so that no core waits for one before."""
    if cores == 1:
        return 1
    return min(THREADS_A_CORE * cores, max(ENOUGH_THREADS, cores + 1), MOST_THREADS)


def decode_frames(
    container: InputContainer, stream: VideoStream, without: Collection[int] = ()
) -> Iterator[tuple[float, VideoFrame]]:
    """Yield readable pictures with their times, seconds from the first, strictly increasing.

    Parameters
    ----------
    container, stream
        From `open_clip`.
    without
        collection of int Presentation time stamps of pictures that are not decoded.
    """
    time_base = stream.time_base or WRITER_TIME_BASE
    step = 1 / (stream.guessed_rate or Fraction(30))
    origin: Fraction | None = None
    last: Fraction | None = None
    for picture in decode_pictures(container, stream, without):
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


def decode_pictures(
    container: InputContainer, stream: VideoStream, without: Collection[int] = ()
) -> Iterator[VideoFrame]:
    """Yield every picture that decodes, up to the end or to where the file can't be read.

    Parameters are those of `decode_frames`.
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
                pictures = _decode_last(container, stream, shown, without)
        for picture in pictures:
            shown = picture.pts
            yield picture
        if packet is None:
            return


def find_skippable_pictures(path: Path, min_rate: float) -> tuple[int, ...]:
    """Find pictures that need not be decoded.

    No other picture is predicted from them, and without them `min_rate` pictures a second remain.

    Returns
    -------
    tuple of int
        Presentation time stamps, in order; none where the clip does not tell so much of every
        picture.
    """
    with open_clip(path) as (container, stream):
        timed = container.format.name.split(",")[0] in TIMED_FORMATS
        if stream.codec_context.name not in CODECS or not timed or stream.time_base is None:
            return ()
        longest_step = STEP_TOLERANCE / min_rate / stream.time_base
        first = next(decode_pictures(container, stream), None)
        # Two fields of a picture may come one by one.
        if first is None or first.interlaced_frame:
            return ()
    return choose_skippable(_examine_pictures(path), longest_step)


def _examine_pictures(path: Path) -> dict[int, CodedPicture]:
    """Read what a clip's packets tell of its pictures, by presentation time stamp.

    Empty where they do not tell it of all pictures, or none of many can be skipped.
    """
    pictures: dict[int, CodedPicture] = {}
    some_disposable = False
    with open_clip(path) as (container, stream), suppress(av.FFmpegError):
        codec = stream.codec_context.name
        length_bytes = nal_length_bytes(codec, bytes(stream.codec_context.extradata or b""))
        for packet in container.demux(stream):
            if packet.size == 0:
                continue
            if packet.pts is None or packet.pts in pictures:
                return {}
            if packet.is_discard or packet.is_corrupt:
                return {}
            picture = read_access_unit(codec, bytes(packet), length_bytes)
            pictures[packet.pts] = picture
            some_disposable = some_disposable or picture.disposable
            if len(pictures) == ENOUGH_EXAMINED and not some_disposable:
                return {}
        return pictures
    # The file can't be read to its end.
    return {}


def _decode_last(
    container: InputContainer, stream: VideoStream, shown: int, without: Collection[int]
) -> Iterator[VideoFrame]:
    """Decode the pictures after a time stamp again, one at a time."""
    with open_clip(Path(container.name.removeprefix("file:"))) as (again, once_more):
        once_more.codec_context.thread_count = 1
        once_more.codec_context.options = stream.codec_context.options
        # Where nothing can be sought, all is read from the start.
        with suppress(av.FFmpegError):
            again.seek(shown, stream=once_more)
        for picture in decode_pictures(again, once_more, without):
            if picture.pts is not None and picture.pts > shown:
                yield picture
