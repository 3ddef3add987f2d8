"""What a clip is, told from its head: size, rotation, rates, length."""

import hashlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import av.logging
import numpy as np
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.reformatter import ColorTrc
from av.video.stream import VideoStream

from stance.errors import InputError
from stance.results.model import Notice
from stance.video.decoding import decoded_frames
from stance.video.frame import Frame, display_turn
from stance.video.opening import opened_clip

CAPTURE_RATE_TAG = "com.android.capture.fps"

READ_BYTES = 1 << 20


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
    return ClipDescription(path.name, digest.result(), size, shown, capture_rate, tuple(notices))


def _packets(path: Path) -> tuple[int, bool, float | None]:
    """Number of pictures that a clip shows, whether its end is missing, and its capture rate."""
    with opened_clip(path) as (container, stream):
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
    with opened_clip(path) as (container, stream):
        pictures = decoded_frames(container, stream)
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
        size = Frame(0, 0.0, first[1], display_size(first[1], stream), display_turn(first[1])).size
        if first[1].color_trc in (ColorTrc.ARIB_STD_B67, ColorTrc.SMPTE2084):
            notices.append(
                Notice(
                    "hdr",
                    "The clip was filmed in HDR; colours in the report may look flat. "
                    "The measures are not affected.",
                )
            )
    return size, notices


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


def bits_per_pixel(container: InputContainer, stream: VideoStream) -> float:
    """Bits that a film has for a pixel; 0 where it does not tell."""
    pixels = stream.codec_context.width * stream.codec_context.height
    rate = stream.average_rate
    return float(container.bit_rate / (rate * pixels)) if rate and pixels else 0.0


def display_size(picture: VideoFrame, stream: VideoStream) -> tuple[int, int]:
    """Give (width, height) of the coded picture with square pixels, before it is turned."""
    aspect = stream.sample_aspect_ratio or Fraction(1)
    return round(picture.width * aspect), picture.height
