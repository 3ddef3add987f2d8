"""Which coded pictures no other needs, so that they need not be decoded (H.264 and H.265)."""

from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from pathlib import Path

import av
import av.logging
import numpy as np
from av.video.stream import VideoStream

from stance.video.decoding import decoded_pictures
from stance.video.opening import opened_clip

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


def skippable_pictures(path: Path, enough: float) -> tuple[int, ...]:
    """Time stamps, in order, of pictures of a clip that need not be decoded.

    No other picture is predicted from them, and without them `enough` pictures a second remain.
    Empty where the clip does not tell so much of every picture.
    """
    stamps: list[int] = []
    unused: list[tuple[bool, int]] = []
    with opened_clip(path) as (container, stream):
        told = _UNUSED.get(stream.codec_context.name)
        timed = container.format.name.split(",")[0] in TIMED_FORMATS
        if told is None or not timed or stream.time_base is None:
            return ()
        longest = LONGEST_STEP / enough / stream.time_base
        first = next(decoded_pictures(container, stream), None)
        # Two fields of a picture may come one by one.
        if first is None or first.interlaced_frame:
            return ()
    with opened_clip(path) as (container, stream):
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
        np.abs(order - np.arange(len(order))).max(initial=0) > MOST_REORDERED
    ):
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
    "h264": _unused_h264,
    "hevc": _unused_hevc,
}
