"""Reads a clip's frames in their order, at chosen times, or its key pictures."""

from bisect import bisect
from collections.abc import Collection, Iterator
from contextlib import suppress
from pathlib import Path

import av
import av.logging
import numpy as np

from stance.errors import InputError
from stance.runtime.cores import usable_cores
from stance.video.decoding import decoded_frames, decoded_pictures, decoding_threads
from stance.video.frame import Frame, display_turn
from stance.video.opening import opened_clip
from stance.video.probe import bits_per_pixel, display_size
from stance.video.skippable import RICH_BITS, skippable_pictures


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
    with opened_clip(path) as (container, stream):
        stream.codec_context.thread_count = decoding_threads(cores or usable_cores())
        needless: tuple[int, ...] = ()
        if np.isfinite(enough):
            needless = skippable_pictures(path, enough)
            if bits_per_pixel(container, stream) >= RICH_BITS:
                stream.codec_context.options = {"skip_loop_filter": "all"}
        size, turn = None, None
        index, last = -1, None
        for time_s, picture in decoded_frames(container, stream, frozenset(needless)):
            size = size or display_size(picture, stream)
            # Of the first picture only: PyAV ties a picture that was asked in a knot, which holds
            # its memory until Python happens to collect such knots.
            turn = turn or display_turn(picture)
            left_out: tuple[float, ...] = ()
            if needless and stream.time_base is not None and picture.pts is not None:
                if last is not None:
                    between = needless[bisect(needless, last) : bisect(needless, picture.pts)]
                    left_out = tuple(
                        time_s - float((picture.pts - pts) * stream.time_base) for pts in between
                    )
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
    with opened_clip(Path(path)) as (container, stream):
        if not container.duration or not stream.time_base:
            return []
        stream.codec_context.skip_frame = "NONKEY"
        seconds = container.duration / av.time_base
        for moment in (np.arange(most) + 0.5) / most * seconds:
            with suppress(av.FFmpegError):
                container.seek(int(moment / stream.time_base), stream=stream)
                picture = next(decoded_pictures(container, stream), None)
                if picture is not None and picture.pts is not None and picture.pts not in images:
                    size, turn = display_size(picture, stream), display_turn(picture)
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
    with opened_clip(Path(path)) as (container, stream):
        size, turn = None, None
        for index, (time_s, picture) in enumerate(decoded_frames(container, stream)):
            size = size or display_size(picture, stream)
            # Of the first picture only: PyAV ties a picture that was asked in a knot, which holds
            # its memory until Python happens to collect such knots.
            turn = turn or display_turn(picture)
            if index == wanted[position]:
                yield Frame(index, time_s, picture, size, turn)
                position += 1
                if position == len(wanted):
                    return
    raise IndexError(f"{path} has no picture number {wanted[position]}")
