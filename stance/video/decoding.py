"""Decodes a clip's stream picture by picture, the last ones of a damaged clip too."""

from collections.abc import Collection, Iterable, Iterator
from contextlib import suppress
from fractions import Fraction
from pathlib import Path

import av
import av.logging
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from stance.video.opening import WRITER_TIME_BASE, opened_clip

THREADS_A_CORE = 3

ENOUGH_THREADS, MOST_THREADS = 8, 16
"""Threads that decode: each picture waits for parts of those before it, so with the decoder's own
choice, one more than there are cores, one of few cores is often idle (docs/performance.md). Each
thread holds pictures, so many cores get no more than that; FFmpeg advises against more than 16."""

CLOCK_RESTART_S = 1
"""A step back longer than this is a clock that starts again, not two pictures out of order."""


def decoding_threads(cores: int) -> int:
    """How many pictures are decoded at once, so that no core waits for one before to be done."""
    if cores == 1:
        return 1
    return min(THREADS_A_CORE * cores, max(ENOUGH_THREADS, cores + 1), MOST_THREADS)


def decoded_frames(
    container: InputContainer, stream: VideoStream, without: Collection[int] = ()
) -> Iterator[tuple[float, VideoFrame]]:
    """Yield readable pictures with their times, seconds from the first, strictly increasing."""
    time_base = stream.time_base or WRITER_TIME_BASE
    step = 1 / (stream.guessed_rate or Fraction(30))
    origin: Fraction | None = None
    last: Fraction | None = None
    for picture in decoded_pictures(container, stream, without):
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


def decoded_pictures(
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
    with opened_clip(Path(container.name.removeprefix("file:"))) as (again, once_more):
        once_more.codec_context.thread_count = 1
        once_more.codec_context.options = stream.codec_context.options
        # Where nothing can be sought, all is read from the start.
        with suppress(av.FFmpegError):
            again.seek(shown, stream=once_more)
        for picture in decoded_pictures(again, once_more, without):
            if picture.pts is not None and picture.pts > shown:
                yield picture
