"""Clips as phones make them, and pictures to put into them."""

import struct
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from av.audio.frame import AudioFrame
from av.video.frame import VideoFrame
from av.video.reformatter import ColorRange, Colorspace, ColorTrc
from av.video.stream import VideoStream

from stance.video.reader import read_frames

TICKS = 90_000


CODECS = [
    pytest.param("libx264", "yuv420p", id="h264"),
    pytest.param("libx265", "yuv420p", id="hevc-8-bit"),
    pytest.param("libx265", "yuv420p10le", id="hevc-10-bit"),
]


SPEED = {
    "libx264": {"preset": "veryfast", "crf": "12"},
    "libx265": {"preset": "ultrafast", "crf": "12", "x265-params": "log-level=none"},
}


RED, GREEN, BLUE, GREY = (200, 40, 40), (40, 180, 60), (40, 60, 200), (128, 128, 128)


def corners(width: int, height: int) -> np.ndarray:
    """Grey picture with a red top left, a green top right and a blue bottom left corner."""
    image = np.full((height, width, 3), GREY, np.uint8)
    image[:24, :24] = RED
    image[:24, -24:] = GREEN
    image[-24:, :24] = BLUE
    return image


def assert_corners(image: np.ndarray, tolerance: int = 12) -> None:
    """The picture of `corners` is upright and not mirrored."""
    for place, colour in (
        ((10, 10), RED),
        ((10, -10), GREEN),
        ((-10, 10), BLUE),
        ((-10, -10), GREY),
    ):
        np.testing.assert_allclose(image[place].astype(int), colour, atol=tolerance)


def shades(count: int, width: int = 96, height: int = 64) -> list[np.ndarray]:
    """Pictures that grow lighter, so that each one tells its number."""
    return [np.full((height, width, 3), 20 + i * 200 // count, np.uint8) for i in range(count)]


def noise(count: int, width: int = 160, height: int = 96) -> list[np.ndarray]:
    """Pictures that don't compress, so that the file is mostly picture data."""
    random = np.random.default_rng(3)
    return [random.integers(0, 255, (height, width, 3), np.uint8) for _ in range(count)]


def drifting(count: int) -> list[np.ndarray]:
    """One picture that moves to the right, which each can be predicted from the one before."""
    return [np.roll(noise(1)[0], i, axis=1) for i in range(count)]


@dataclass(frozen=True)
class Encoding:
    """How a clip is encoded; as most phones do by default."""

    codec: str = "libx264"
    pix_fmt: str = "yuv420p"
    rate: int = 30
    movflags: str = ""
    metadata: dict[str, str] = field(default_factory=dict)
    options: dict[str, str] = field(default_factory=dict)
    color_range: ColorRange = ColorRange.MPEG
    color_trc: ColorTrc = ColorTrc.BT709
    aspect: Fraction = Fraction(1)


def encode(
    path: Path,
    images: Sequence[np.ndarray],
    encoding: Encoding = Encoding(),
    ticks: Sequence[int | None] | None = None,
) -> Path:
    """Write a clip as a phone would; `ticks` are presentation times in 1/90000 s."""
    ticks = ticks if ticks is not None else [i * TICKS // encoding.rate for i in range(len(images))]
    flags = {"movflags": encoding.movflags} if encoding.movflags else {}
    with av.open(str(path), "w", container_options=flags) as container:
        container.metadata.update(encoding.metadata)
        stream = container.add_stream(
            encoding.codec, rate=encoding.rate, options=SPEED[encoding.codec] | encoding.options
        )
        assert isinstance(stream, VideoStream)
        stream.height, stream.width = images[0].shape[:2]
        stream.pix_fmt = encoding.pix_fmt
        stream.time_base = Fraction(1, TICKS)
        context = stream.codec_context
        context.time_base = Fraction(1, TICKS)
        context.colorspace = Colorspace.ITU709
        context.color_range = encoding.color_range
        context.color_trc = encoding.color_trc
        context.sample_aspect_ratio = encoding.aspect
        for image, tick in zip(images, ticks, strict=True):
            frame = VideoFrame.from_ndarray(np.ascontiguousarray(image), format="rgb24").reformat(
                format=encoding.pix_fmt,
                dst_colorspace=Colorspace.ITU709,
                dst_color_range=encoding.color_range,
            )
            frame.pts = tick
            frame.time_base = Fraction(1, TICKS)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def encode_sound(path: Path) -> Path:
    """Write half a second of silence."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("aac", rate=48_000)
        for start in range(0, 24_000, 1024):
            frame = AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), "fltp", "mono")
            frame.sample_rate = 48_000
            frame.pts = start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def tag_matrix(path: Path, a: int, b: int, c: int, d: int) -> None:
    """Set the track header's matrix as a phone does (ISO/IEC 14496-12, 8.3.2)."""
    data = bytearray(path.read_bytes())
    box = data.index(b"tkhd")
    assert data[box + 4] == 0
    one = 1 << 16
    struct.pack_into(">9i", data, box + 44, a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30)
    path.write_bytes(data)


def times_of(path: Path) -> list[float]:
    return [frame.time_s for frame in read_frames(path)]
