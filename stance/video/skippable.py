"""Which coded pictures no other needs, read from the bytes of their NAL unit headers.

Sections are those of ITU-T H.264 (08/2021) and ITU-T H.265 (08/2021). PyAV's packets give the
bytes but not what the headers say, and FFmpeg's own `skip_frame` drops all such pictures, however
few then remain a second.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

START_CODE = b"\x00\x00\x01"
"""Parts NAL units in a byte stream (H.264 and H.265, Annex B)."""

MAX_REORDERING = 16
"""Pictures are coded at most so many places from where they are shown: the size of the decoded
picture buffer (H.264, A.3.1; H.265, A.4.2)."""


@dataclass(frozen=True)
class CodedPicture:
    """What the NAL unit headers of an access unit, which is one coded picture, tell of it.

    Attributes
    ----------
    disposable
        whether it is a non-reference picture of its temporal sub-layer (none of the same layer
        is predicted from it), and brings no parameter sets that later pictures may need.
    temporal_id
        temporal sub-layer (H.265, 7.4.2.2); 0 in H.264
    """

    disposable: bool
    temporal_id: int


def read_access_unit(codec: str, access_unit: bytes, length_bytes: int) -> CodedPicture:
    """Tell from the headers of its NAL units whether others need a picture.

    Parameters
    ----------
    codec
        one of `CODECS`
    access_unit
        bytes A coded picture.
    length_bytes
        from `nal_length_bytes`
    """
    return _READERS[codec](_nal_unit_headers(access_unit, length_bytes))


def nal_length_bytes(codec: str, configuration: bytes) -> int:
    """Give how many bytes tell the length of a NAL unit; 0 where start codes part them.

    Parameters
    ----------
    codec
        one of `CODECS`
    configuration
        bytes Decoder configuration record of ISO/IEC 14496-15, 5.3.3.1 (H.264) and 8.3.3.1 (H.265),
        or what a byte stream has in its place.
    """
    place = _LENGTH_SIZE_PLACES[codec]
    if len(configuration) <= place or configuration[0] != 1:
        return 0
    return (configuration[place] & 3) + 1


def choose_skippable(pictures: Mapping[int, CodedPicture], longest_step: float) -> tuple[int, ...]:
    """Choose pictures that need not be decoded.

    Parameters
    ----------
    pictures
        mapping of int to CodedPicture Of a whole clip, in the order of coding, by their
        presentation time stamps.
    longest_step
        between pictures that remain, in units of the time stamps

    Returns
    -------
    tuple of int
        Time stamps in the order of presentation; none where pictures are coded farther from where
        they are shown than the standards allow, as where a clock starts again.
    """
    stamps = list(pictures)
    order = np.argsort(stamps)
    if np.abs(order - np.arange(len(order))).max(initial=0) > MAX_REORDERING:
        return ()
    shown = [stamps[number] for number in order]
    # Pictures of lower sub-layers may serve those of the highest.
    highest = max((picture.temporal_id for picture in pictures.values()), default=0)
    return tuple(_spaced(shown, pictures, highest, longest_step))


def _spaced(
    shown: Sequence[int],
    pictures: Mapping[int, CodedPicture],
    temporal_id: int,
    longest_step: float,
) -> Iterator[int]:
    """Yield disposable pictures of a sub-layer that leave no step between others too long."""
    last = shown[0] if shown else 0
    for stamp, following in pairwise(shown[1:]):
        picture = pictures[stamp]
        dispensable = picture.disposable and picture.temporal_id == temporal_id
        if dispensable and following - last <= longest_step:
            yield stamp
        else:
            last = stamp


def _nal_unit_headers(access_unit: bytes, length_bytes: int) -> Iterator[bytes]:
    """Yield the first two bytes of each NAL unit (H.264, 7.3.1; H.265, 7.3.1.2)."""
    if not length_bytes:
        at = access_unit.find(START_CODE)
        while at >= 0:
            yield access_unit[at + 3 : at + 5]
            at = access_unit.find(START_CODE, at + 3)
        return
    at = 0
    while at + length_bytes < len(access_unit):
        start = at + length_bytes
        yield access_unit[start : start + 2]
        at = start + int.from_bytes(access_unit[at:start], "big")


def _read_h264(headers: Iterable[bytes]) -> CodedPicture:
    """Read NAL unit headers of H.264, 7.4.1.

    nal_ref_idc (bits 5 and 6) is 0 in all slices of a non-reference picture; in parameter sets it
    never is. nal_unit_type (bits 0 to 4) 1 to 5 are slices.
    """
    first_bytes = [header[0] for header in headers if header]
    has_slices = any(1 <= byte & 0x1F <= 5 for byte in first_bytes)
    return CodedPicture(has_slices and not any(byte & 0x60 for byte in first_bytes), 0)


def _read_hevc(headers: Iterable[bytes]) -> CodedPicture:
    """Read NAL unit headers of H.265, 7.4.2.2.

    Of nal_unit_type (bits 1 to 6 of the first byte) below 32 are slices, of these the even ones
    below 16 those of sub-layer non-reference pictures; 32 to 34 are parameter sets. The lowest
    three bits of the second byte are nuh_temporal_id_plus1.
    """
    units = [(h[0] >> 1 & 0x3F, (h[1] & 7) - 1) for h in headers if len(h) == 2]
    slices = [(unit_type, temporal_id) for unit_type, temporal_id in units if unit_type < 32]
    has_parameters = any(32 <= unit_type <= 34 for unit_type, _ in units)
    non_reference = bool(slices) and all(kind < 16 and kind % 2 == 0 for kind, _ in slices)
    temporal_id = max((temporal_id for _, temporal_id in slices), default=0)
    return CodedPicture(non_reference and not has_parameters, temporal_id)


_READERS: Mapping[str, Callable[[Iterable[bytes]], CodedPicture]] = {
    "h264": _read_h264,
    "hevc": _read_hevc,
}

CODECS = tuple(_READERS)
"""FFmpeg's names of the codecs that can be read."""

_LENGTH_SIZE_PLACES = {"h264": 4, "hevc": 21}
"""Byte of the decoder configuration record whose lowest two bits are lengthSizeMinusOne."""
