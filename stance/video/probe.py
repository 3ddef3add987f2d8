"""What a clip is, told from its head: size, rotation, rates, length."""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.container import InputContainer
from av.video.reformatter import ColorTrc
from av.video.stream import VideoStream

from stance.errors import InputError
from stance.results.model import Notice
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import printable
from stance.runtime.regular_files import hash_file
from stance.video.decoding import decode_frames
from stance.video.frame import read_display
from stance.video.opening import MOST_PIXELS, open_clip

CAPTURE_RATE_TAG = "com.android.capture.fps"
"""Where Android phones say how fast they filmed."""

LONGEST_STEP_S, LONGEST_PAUSE_S = 2.0, 60.0
"""A clip may last so many seconds for each picture, and one such pause more."""

SHORTEST_SIDE = 32
"""A picture with a shorter side, in pixels, is none of a player."""

MOST_OBLONG_PICTURE = 4
"""Long side over short side of the longest picture that is taken; those of phones have 2.2."""

MOST_OBLONG_PIXEL = 2.5
"""Width over height of a pixel, or the other way round, in the most oblong that is taken."""


@dataclass(frozen=True)
class ClipDescription:
    """What a quick look at a clip tells.

    Attributes
    ----------
    file
        name of the file, without its folder
    sha256
        of the whole file
    size
        tuple of int (width, height) of the upright picture in pixels.
    packets
        coded pictures found in the file, for a progress bar; not all need be readable
    capture_rate
        float or None Pictures per second at which the phone says it filmed, where it says so.
    notices
        tuple of Notice `cut_off` and `hdr`, where they apply.
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
    path
        str or Path The clip.

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
        digest = beside.submit(hash_file, path)
        packets = _count_packets(path)
        first = _examine_first_picture(path)
    notices = []
    if first.hdr:
        notices.append(
            Notice(
                "hdr",
                _(
                    "The clip was filmed in HDR; colours in the report may look flat. The measures "
                    "are not affected."
                ),
            )
        )
    if packets.cut_off:
        notices.append(
            Notice(
                "cut_off",
                _(
                    "The end of the clip is missing from the file; what could be read before it "
                    "was used. Copy the clip from the phone again if you need the rest."
                ),
            )
        )
    return ClipDescription(
        printable(path.name),
        digest.result(),
        first.size,
        packets.shown,
        packets.capture_rate,
        tuple(notices),
    )


@dataclass(frozen=True)
class _Packets:
    """What a clip's packets tell: pictures shown, whether the end is missing, capture rate."""

    shown: int
    cut_off: bool
    capture_rate: float | None


@dataclass(frozen=True)
class _FirstPicture:
    """(width, height) of a clip's upright pictures in pixels, and whether it is HDR."""

    size: tuple[int, int]
    hdr: bool


def _count_packets(path: Path) -> _Packets:
    """Go through a clip's packets without decoding them."""
    with open_clip(path) as (container, stream):
        capture_rate = _capture_rate(container, stream)
        coded = 0
        stamps = (math.inf, -math.inf)
        shown = 0
        listed = len(stream.index_entries)
        cut_off = False
        try:
            for packet in container.demux(stream):
                if packet.size == 0:
                    continue
                coded += 1
                if packet.pts is not None:
                    stamps = min(stamps[0], packet.pts), max(stamps[1], packet.pts)
                shown += not packet.is_discard
                cut_off = packet.is_corrupt
            shown -= cut_off
        except av.FFmpegError:
            cut_off = True
        span_s = float((stamps[1] - stamps[0]) * (stream.time_base or 0)) if coded else 0.0
        if math.isfinite(span_s) and span_s > LONGEST_PAUSE_S + LONGEST_STEP_S * coded:
            raise InputError(
                _(
                    "{path} says that its {number} pictures span {length} seconds. A time lapse, "
                    "or a clip whose clock is wrong, can't be measured. Film at normal speed, or "
                    "copy the clip from the phone again."
                ).format(path=path, number=coded, length=format_number(span_s))
            )
        return _Packets(shown, cut_off or coded < listed, capture_rate)


def _examine_first_picture(path: Path) -> _FirstPicture:
    """Look at a clip's first picture.

    Raises
    ------
    InputError
        Where fewer than two pictures can be read.
    """
    with open_clip(path) as (container, stream):
        pictures = decode_frames(container, stream)
        first = next(pictures, None)
        if first is None:
            raise InputError(
                _(
                    "No picture in {path} can be read; the file is damaged. Copy it from the phone "
                    "again."
                ).format(path=path)
            )
        if next(pictures, None) is None:
            raise InputError(
                _(
                    "{path} holds a single picture. A clip of one frame shows no waiting; film at "
                    "least a few seconds."
                ).format(path=path)
            )
        picture = first[1]
        return _FirstPicture(
            _check_size(path, read_display(picture, stream).size, stream.sample_aspect_ratio),
            picture.color_trc in (ColorTrc.ARIB_STD_B67, ColorTrc.SMPTE2084),
        )


def _check_size(
    path: Path, size: tuple[int, int], pixel_aspect: Fraction | None
) -> tuple[int, int]:
    """Pass the size of an upright picture on, (width, height), where a phone can have filmed so.

    A lying header makes pictures of any size out of small ones by the shape of their pixels.
    """
    advice = _("Copy the clip from the phone again, as the phone saved it.")
    if pixel_aspect and not 1 / MOST_OBLONG_PIXEL <= pixel_aspect <= MOST_OBLONG_PIXEL:
        raise InputError(
            _(
                "The head of {path} says that its pixels are {times:.3g} times as wide "
                "as high, which no phone films. {advice}"
            ).format(path=path, times=float(pixel_aspect), advice=advice)
        )
    short, long = sorted(size)
    if short < SHORTEST_SIDE or long > MOST_OBLONG_PICTURE * short or short * long > MOST_PIXELS:
        raise InputError(
            _(
                "The pictures in {path} are {width} x {height} pixels large; no player can be "
                "measured in such. {advice}"
            ).format(path=path, width=size[0], height=size[1], advice=advice)
        )
    return size


def _capture_rate(container: InputContainer, stream: VideoStream) -> float | None:
    """Give the rate at which an Android phone says it filmed."""
    text = container.metadata.get(CAPTURE_RATE_TAG) or stream.metadata.get(CAPTURE_RATE_TAG)
    try:
        rate = float(text or "")
    except ValueError:
        return None
    return rate if np.isfinite(rate) and rate > 0 else None
