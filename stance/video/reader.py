"""Reads a clip's frames in their order, at chosen indices, or its key pictures."""

from bisect import bisect
from collections.abc import Collection, Iterator
from contextlib import suppress
from pathlib import Path

import av
import numpy as np
from av.container import InputContainer
from av.video.stream import VideoStream

from stance.errors import InputError
from stance.runtime.cores import usable_cores
from stance.runtime.language import gettext as _
from stance.types import ImageArray
from stance.video.decoding import (
    decode_frames,
    decode_pictures,
    decoding_threads,
    find_skippable_pictures,
)
from stance.video.frame import Display, Frame, read_display
from stance.video.opening import open_clip

RICH_BITS = 0.08
"""Where a film has so many bits for a pixel, what smooths the edges of its blocks hardly changes
its pictures. Phones record with 0.09 to 0.3 (from memory)."""


def read_frames(
    path: str | Path, cores: int | None = None, min_rate: float = np.inf
) -> Iterator[Frame]:
    """Read a clip picture by picture.

    Only a few pictures are held at any time. Damaged pictures are left out, pictures with the
    time of the one before too; a picture without a time gets one a step after the one before.

    Parameters
    ----------
    path
        str or Path The clip.
    cores
        int, optional That decode; by default all. The pictures are the same.
    min_rate
        pictures a second that are enough: as long as so many remain, those that no other
        picture is predicted from are not decoded. They count in `index`, and the next picture tells
        their times. The deblocking filter is left out then where the film has `RICH_BITS`, which
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
    display: Display | None = None
    with open_clip(path) as (container, stream):
        stream.codec_context.thread_count = decoding_threads(cores or usable_cores())
        skippable: tuple[int, ...] = ()
        if np.isfinite(min_rate):
            skippable = find_skippable_pictures(path, min_rate)
            if _bits_per_pixel(container, stream) >= RICH_BITS:
                stream.codec_context.options |= {"skip_loop_filter": "all"}
        index, last = -1, None
        for time_s, picture in decode_frames(container, stream, frozenset(skippable)):
            display = display or read_display(picture, stream)
            skipped_s: tuple[float, ...] = ()
            if skippable and stream.time_base is not None and picture.pts is not None:
                if last is not None:
                    between = skippable[bisect(skippable, last) : bisect(skippable, picture.pts)]
                    skipped_s = tuple(
                        time_s - float((picture.pts - pts) * stream.time_base) for pts in between
                    )
                last = picture.pts
            index += 1 + len(skipped_s)
            yield Frame(index, time_s, picture, display, skipped_s=skipped_s)
    if display is None:
        raise InputError(
            _(
                "No picture in {path} can be read; the file is damaged. Copy it from the phone "
                "again."
            ).format(path=path)
        )


def read_key_pictures(path: str | Path, most: int) -> list[ImageArray]:
    """Read some pictures that are coded whole (intra coded), without decoding those between.

    Parameters
    ----------
    path
        str or Path The clip.
    most
        how many to read at most, spread evenly over the clip

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
    images: dict[int, ImageArray] = {}
    with open_clip(Path(path)) as (container, stream):
        if not container.duration or not stream.time_base:
            return []
        stream.codec_context.skip_frame = "NONKEY"
        seconds = container.duration / av.time_base
        # The first picture's time need not be zero.
        first = stream.start_time or 0
        for moment in (np.arange(most) + 0.5) / most * seconds:
            with suppress(av.FFmpegError):
                container.seek(first + int(moment / stream.time_base), stream=stream)
                picture = next(decode_pictures(container, stream), None)
                if picture is not None and picture.pts is not None and picture.pts not in images:
                    frame = Frame(0, 0.0, picture, read_display(picture, stream))
                    images[picture.pts] = frame.image
    return list(images.values())


def read_frames_at(path: str | Path, indices: Collection[int]) -> Iterator[Frame]:
    """Read a few pictures of a clip, by the `index` that `read_frames` gives them.

    The clip is decoded from its start, since seeking does not count pictures.

    Parameters
    ----------
    path
        str or Path The clip.
    indices
        collection of int Wanted pictures, in any order; repeats are given once.

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
    display: Display | None = None
    with open_clip(Path(path)) as (container, stream):
        for index, (time_s, picture) in enumerate(decode_frames(container, stream)):
            display = display or read_display(picture, stream)
            if index == wanted[position]:
                yield Frame(index, time_s, picture, display)
                position += 1
                if position == len(wanted):
                    return
    raise IndexError(f"{path} has no picture number {wanted[position]}")


def _bits_per_pixel(container: InputContainer, stream: VideoStream) -> float:
    """Bits that a film has for a pixel; 0 where it does not tell."""
    pixels = stream.codec_context.width * stream.codec_context.height
    rate = stream.average_rate
    return float(container.bit_rate / (rate * pixels)) if rate and pixels else 0.0
