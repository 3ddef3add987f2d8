"""Clips are read upright with true times, whatever the phone; videos are written whole or not."""

import hashlib
import os
import struct
import sys
import threading
import time
import weakref
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import av
import cv2
import numpy as np
import pytest
from av.audio.frame import AudioFrame
from av.video.frame import VideoFrame
from av.video.reformatter import ColorRange, Colorspace, ColorTrc
from av.video.stream import VideoStream

from stance.errors import InputError, OutputError
from stance.runtime.cores import NICENESS
from stance.video import decoding, reader
from stance.video.decoding import decoded_frames
from stance.video.prefetch import prefetched
from stance.video.probe import ClipDescription, describe_clip
from stance.video.reader import read_frames, read_frames_at, read_key_pictures
from stance.video.skippable import _unused_h264, _unused_hevc
from stance.video.timing import summarise
from stance.video.writer import VideoWriter

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


def encode(
    path: Path,
    images: Sequence[np.ndarray],
    ticks: Sequence[int] | None = None,
    codec: str = "libx264",
    pix_fmt: str = "yuv420p",
    rate: int = 30,
    movflags: str = "",
    metadata: dict[str, str] | None = None,
    options: dict[str, str] | None = None,
    color_range: ColorRange = ColorRange.MPEG,
    color_trc: ColorTrc = ColorTrc.BT709,
    aspect: Fraction = Fraction(1),
) -> Path:
    """Write a clip as a phone would; `ticks` are presentation times in 1/90000 s."""
    ticks = ticks if ticks is not None else [i * TICKS // rate for i in range(len(images))]
    flags = {"movflags": movflags} if movflags else {}
    with av.open(str(path), "w", container_options=flags) as container:
        container.metadata.update(metadata or {})
        stream = container.add_stream(codec, rate=rate, options=SPEED[codec] | (options or {}))
        assert isinstance(stream, VideoStream)
        stream.height, stream.width = images[0].shape[:2]
        stream.pix_fmt = pix_fmt
        stream.time_base = Fraction(1, TICKS)
        context = stream.codec_context
        context.time_base = Fraction(1, TICKS)
        context.colorspace = Colorspace.ITU709
        context.color_range = color_range
        context.color_trc = color_trc
        context.sample_aspect_ratio = aspect
        for image, tick in zip(images, ticks, strict=True):
            frame = VideoFrame.from_ndarray(np.ascontiguousarray(image), format="rgb24").reformat(
                format=pix_fmt, dst_colorspace=Colorspace.ITU709, dst_color_range=color_range
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


def description(packets: int = 100, capture_rate: float | None = None) -> ClipDescription:
    return ClipDescription("drill.mp4", "0", (96, 64), packets, capture_rate, ())


def codes(times: np.ndarray, capture_rate: float | None = None) -> set[str]:
    _, notices = summarise(description(len(times), capture_rate), times)
    assert all(notice.text.endswith(".") for notice in notices)
    return {notice.code for notice in notices}


@pytest.mark.parametrize("size", [(128, 80), (80, 128)], ids=["landscape", "portrait"])
@pytest.mark.parametrize(
    ("quarter_turns", "matrix"),
    [(0, (1, 0, 0, 1)), (1, (0, 1, -1, 0)), (2, (-1, 0, 0, -1)), (3, (0, -1, 1, 0))],
    ids=["0", "90", "180", "270"],
)
def test_a_turned_phone_gives_upright_pictures(tmp_path, size, quarter_turns, matrix):
    coded = np.rot90(corners(*size), quarter_turns)
    clip = encode(tmp_path / "clip.mov", [coded] * 3)
    tag_matrix(clip, *matrix)
    assert describe_clip(clip).size == size
    for frame in read_frames(clip):
        assert frame.image.shape == (size[1], size[0], 3)
        assert frame.image.dtype == np.uint8
        assert frame.image.flags.c_contiguous
        assert_corners(frame.image)
        assert frame.size == size
        part = frame.part(10, 20, 50, 60)
        assert (part == frame.image[20:60, 10:50]).all()
        grey = cv2.cvtColor(part, cv2.COLOR_RGB2GRAY)
        seen = frame.part_brightness(10, 20, 50, 60).astype(float)
        # Video levels run from 16 to 235 (ITU-R BT.601).
        assert np.abs((seen - 16.0) * 255.0 / 219.0 - grey).mean() < 6.0
        assert frame.brightness(40).shape == (round(40 * size[1] / size[0]), 40)


def test_a_mirrored_clip_is_shown_as_players_show_it(tmp_path):
    clip = encode(tmp_path / "clip.mp4", [corners(128, 80)[:, ::-1]] * 3)
    tag_matrix(clip, -1, 0, 0, 1)
    assert_corners(next(read_frames(clip)).image)


@pytest.mark.parametrize(("codec", "pix_fmt"), CODECS)
@pytest.mark.parametrize("suffix", [".mp4", ".mov"])
def test_phone_codecs_are_read_whole_and_in_order(tmp_path, codec, pix_fmt, suffix):
    clip = encode(tmp_path / f"clip{suffix}", shades(20), codec=codec, pix_fmt=pix_fmt)
    frames = list(read_frames(clip))
    assert [frame.index for frame in frames] == list(range(20))
    np.testing.assert_allclose([f.time_s for f in frames], np.arange(20) / 30, atol=1e-12)
    for i, frame in enumerate(frames):
        np.testing.assert_allclose(frame.image.mean(), 20 + i * 10, atol=4)


@pytest.mark.parametrize(("codec", "pix_fmt"), CODECS)
def test_pictures_are_the_same_however_many_cores_decode(tmp_path, codec, pix_fmt):
    clip = encode(tmp_path / "clip.mp4", drifting(40), codec=codec, pix_fmt=pix_fmt)
    alone = list(read_frames(clip, cores=1))
    assert len(alone) == 40
    for cores in (2, 7):
        for one, other in zip(alone, read_frames(clip, cores=cores), strict=True):
            assert (one.index, one.time_s) == (other.index, other.time_s)
            np.testing.assert_array_equal(one.image, other.image)


@pytest.mark.parametrize(("codec", "pix_fmt"), CODECS)
def test_colours_and_turn_hold_in_every_codec(tmp_path, codec, pix_fmt):
    coded = np.rot90(corners(80, 128))
    clip = encode(tmp_path / "clip.mp4", [coded] * 3, codec=codec, pix_fmt=pix_fmt)
    tag_matrix(clip, 0, 1, -1, 0)
    for frame in read_frames(clip):
        assert_corners(frame.image)


def test_full_range_colours_are_not_stretched(tmp_path):
    clip = encode(tmp_path / "clip.mp4", [corners(128, 80)] * 3, color_range=ColorRange.JPEG)
    assert_corners(next(read_frames(clip)).image)


def test_oblong_pixels_are_made_square(tmp_path):
    clip = encode(tmp_path / "clip.mp4", [corners(128, 160)] * 3, aspect=Fraction(2))
    assert describe_clip(clip).size == (256, 160)
    assert next(read_frames(clip)).image.shape == (160, 256, 3)


def test_large_pictures_are_read(tmp_path):
    image = corners(3840, 2160)
    clip = encode(tmp_path / "clip.mp4", [image] * 2, options={"preset": "ultrafast"})
    assert describe_clip(clip).size == (3840, 2160)
    assert_corners(next(read_frames(clip)).image)


def test_uneven_times_are_kept_exactly(tmp_path):
    steps = np.random.default_rng(1).integers(300, 9000, 40)
    ticks = [500, *(500 + np.cumsum(steps)).tolist()]
    clip = encode(tmp_path / "clip.mp4", shades(41), ticks)
    expected = [float(Fraction(tick - ticks[0], TICKS)) for tick in ticks]
    assert times_of(clip) == expected


@pytest.mark.parametrize("rate", [24, 25, 60, 120, 240])
def test_true_rates_from_24_to_240_are_kept_without_a_notice(tmp_path, rate):
    clip = encode(tmp_path / "clip.mp4", shades(60), rate=rate)
    times = np.array(times_of(clip))
    np.testing.assert_allclose(times, np.arange(60) / rate, atol=0.5 / TICKS)
    clip_description = describe_clip(clip)
    summary, notices = summarise(clip_description, times)
    assert summary.frame_rate == pytest.approx(rate, rel=1e-3)
    assert summary.duration_s == pytest.approx(60 / rate, rel=1e-3)
    assert (summary.frames, summary.size, notices) == (60, (96, 64), ())
    assert clip_description.notices == ()


def test_few_pictures_are_held_at_a_time(tmp_path):
    clip = encode(tmp_path / "clip.mp4", shades(60))
    alive = []
    for frame in read_frames(clip):
        alive = [reference for reference in alive if reference() is not None]
        alive.append(weakref.ref(frame.image))
        assert len(alive) <= 2


def test_wrong_headers_do_not_matter(tmp_path):
    clip = encode(tmp_path / "clip.mkv", shades(30), [i * 3000 for i in range(30)], rate=1000)
    data = bytearray(clip.read_bytes())
    duration = data.index(b"\x44\x89\x88") + 3
    data[duration : duration + 8] = struct.pack(">d", 36e6)
    clip.write_bytes(data)
    with av.open(str(clip)) as container:
        stream = container.streams.video[0]
        assert (stream.frames, stream.average_rate) == (0, 1000)
        assert container.duration == 36e9
    summary, notices = summarise(describe_clip(clip), np.array(times_of(clip)))
    assert (summary.frames, notices) == (30, ())
    assert summary.duration_s == pytest.approx(1.0, abs=0.002)


def test_missing_and_repeated_times_are_mended(monkeypatch):
    ticks = [5, 6, 6, None, 8, 7, 9, -300, -299]
    pictures = [SimpleNamespace(pts=tick) for tick in ticks]
    monkeypatch.setattr(
        decoding, "decoded_pictures", lambda container, stream, without: iter(pictures)
    )
    stream = SimpleNamespace(time_base=Fraction(1), guessed_rate=Fraction(1))
    times, kept = zip(*decoded_frames(None, stream), strict=True)  # type: ignore[arg-type]
    assert times == (0, 1, 2, 3, 4, 5, 6)
    assert [picture.pts for picture in kept] == [5, 6, None, 8, 9, -300, -299]


PREDICTED = [
    pytest.param("libx264", {"bf": "3", "b_strategy": "0"}, 2, id="h264"),
    pytest.param("libx264", {"bf": "1", "b_strategy": "0"}, 2, id="h264-single"),
    pytest.param("libx265", {"x265-params": "log-level=none:bframes=3:b-adapt=0"}, 2, id="hevc"),
    pytest.param(
        "libx265",
        {"x265-params": "log-level=none:bframes=3:b-adapt=0:temporal-layers=1"},
        2,
        id="hevc-layers",
    ),
    pytest.param("libx264", {"bf": "2", "b_strategy": "0"}, 1.5, id="h264-two"),
    pytest.param("libx264", {"bf": "0"}, 1, id="h264-phone"),
]


@pytest.mark.parametrize(("codec", "options", "factor"), PREDICTED)
@pytest.mark.parametrize("suffix", [".mp4", ".mkv", ".ts"])
def test_pictures_that_no_other_needs_are_left_out_and_the_rest_is_the_same(
    tmp_path, monkeypatch, codec, options, factor, suffix
):
    monkeypatch.setattr(reader, "RICH_BITS", np.inf)
    clip = encode(tmp_path / f"clip{suffix}", drifting(40), codec=codec, rate=60, options=options)
    whole, some = list(read_frames(clip)), list(read_frames(clip, enough=30.0))
    assert len(whole) == 40
    assert len(whole) / factor <= len(some) <= len(whole) / factor * 1.4
    assert (some[0].index, some[-1].index) == (0, 39)
    for frame in some:
        assert frame.time_s == whole[frame.index].time_s
        np.testing.assert_array_equal(frame.image, whole[frame.index].image)
    times = [time_s for frame in some for time_s in (*frame.left_out, frame.time_s)]
    np.testing.assert_allclose(times, [frame.time_s for frame in whole], atol=1e-9)
    assert np.diff([frame.time_s for frame in some]).max() <= 1.05 / 30


@pytest.mark.parametrize(
    ("codec", "quality"),
    [
        ("libx264", {"rich": {"crf": "18"}, "poor": {"crf": "51"}}),
        (
            "libx265",
            {
                name: {"x265-params": f"log-level=none:crf={factor}"}
                for name, factor in (("rich", 18), ("poor", 51))
            },
        ),
    ],
)
def test_edges_of_blocks_stay_in_rich_films_only_and_hardly_show(tmp_path, codec, quality):
    off = {}
    for name, options in quality.items():
        clip = encode(tmp_path / f"{name}.mp4", drifting(40), codec=codec, rate=60, options=options)
        off[name] = [
            np.abs(one.image.astype(int) - other.image)
            for one, other in zip(read_frames(clip), read_frames(clip, enough=60.0), strict=True)
        ]
    assert np.max(off["poor"]) == 0
    assert np.max(off["rich"]) > 0
    assert max(np.mean(one) for one in off["rich"]) < 1.0


@pytest.mark.parametrize("rate", [24, 30, 50])
def test_no_picture_is_left_out_that_is_needed_for_the_rate_asked_for(tmp_path, rate):
    clip = encode(
        tmp_path / "clip.mp4", drifting(20), rate=rate, options={"bf": "3", "b_strategy": "0"}
    )
    assert [frame.index for frame in read_frames(clip, enough=30.0)] == list(range(20))


@pytest.mark.parametrize(
    ("name", "options"),
    [
        pytest.param("clip.avi", {}, id="times-of-coding"),
        pytest.param("clip.mp4", {"x264-params": "tff=1"}, id="interlaced"),
    ],
)
def test_no_picture_is_left_out_of_clips_that_tell_too_little(tmp_path, name, options):
    clip = encode(
        tmp_path / name, drifting(40), rate=60, options={"bf": "3", "b_strategy": "0", **options}
    )
    whole = [frame.index for frame in read_frames(clip)]
    assert [frame.index for frame in read_frames(clip, enough=30.0)] == whole


def test_no_picture_is_left_out_that_brings_parameters_for_later_ones():
    free, parameters = b"\x01\x00", b"\x68\x00"
    assert _unused_h264(iter([b"\x09\x10", b"\x06\x05", free, free])) == (True, 0)
    assert _unused_h264(iter([parameters, free])) == (False, 0)
    assert _unused_h264(iter([free, b"\x21\x00"])) == (False, 0)
    parameters = b"\x44\x01"
    assert _unused_hevc(iter([b"\x46\x01", b"\x00\x03"])) == (True, 2)
    assert _unused_hevc(iter([b"\x02\x01"])) == (False, 0)
    assert _unused_hevc(iter([parameters, b"\x00\x01"])) == (False, 0)


def test_no_picture_is_left_out_where_clocks_start_again(tmp_path):
    one = encode(tmp_path / "one.ts", drifting(20), rate=60, options={"bf": "3", "b_strategy": "0"})
    both = tmp_path / "both.ts"
    both.write_bytes(one.read_bytes() * 2)
    assert len(list(read_frames(both, enough=30.0))) == len(list(read_frames(both)))


def test_wanted_pictures_are_those_of_the_whole_reading(tmp_path):
    clip = encode(tmp_path / "clip.mp4", shades(20))
    whole = list(read_frames(clip))
    for frame in read_frames_at(clip, [17, 3, 3, 0]):
        assert frame.time_s == whole[frame.index].time_s
        np.testing.assert_array_equal(frame.image, whole[frame.index].image)
    assert [frame.index for frame in read_frames_at(clip, [17, 3, 3, 0])] == [0, 3, 17]
    assert list(read_frames_at(clip, [])) == []
    for beyond in (20, -1):
        with pytest.raises(IndexError):
            list(read_frames_at(clip, [beyond]))


def test_key_pictures_are_those_that_reading_all_gives(tmp_path):
    clip = encode(tmp_path / "keys.mp4", shades(40), options={"g": "5", "preset": "veryfast"})
    whole = [frame.image for frame in read_frames(clip)]
    found = read_key_pictures(clip, 6)
    assert len(found) == 6
    places = [
        next(i for i, image in enumerate(whole) if np.array_equal(image, one)) for one in found
    ]
    assert places == sorted(places) and all(place % 5 == 0 for place in places)


def test_the_description_names_the_file_and_counts(tmp_path, monkeypatch):
    clip = encode(tmp_path / "drill:1.mp4", shades(25))
    monkeypatch.chdir(tmp_path)
    described = describe_clip("drill:1.mp4")
    assert described.file == "drill:1.mp4"
    assert described.sha256 == hashlib.sha256(clip.read_bytes()).hexdigest()
    assert described.packets == 25
    assert described == describe_clip(clip)


@pytest.mark.parametrize("curve", [ColorTrc.ARIB_STD_B67, ColorTrc.SMPTE2084])
def test_hdr_is_said(tmp_path, curve):
    clip = encode(
        tmp_path / "clip.mov", shades(3), codec="libx265", pix_fmt="yuv420p10le", color_trc=curve
    )
    assert [notice.code for notice in describe_clip(clip).notices] == ["hdr"]
    assert len(times_of(clip)) == 3


def test_a_stretched_clock_is_said_where_the_phone_tells(tmp_path):
    clip = encode(
        tmp_path / "clip.mp4",
        shades(30),
        movflags="use_metadata_tags",
        metadata={"com.android.capture.fps": "240.000000"},
    )
    described = describe_clip(clip)
    assert described.capture_rate == 240
    _, notices = summarise(described, np.array(times_of(clip)))
    assert [notice.code for notice in notices] == ["slow_motion"]
    assert "8 times" in notices[0].text
    assert codes(np.arange(90) / 240, capture_rate=240) == set()


def test_a_slow_motion_ramp_is_said():
    fast, slow = np.full(60, 1 / 240), np.full(60, 1 / 30)
    assert codes(np.cumsum(np.concatenate([fast, slow, fast]))) == {"slow_motion"}


def test_an_unsteady_rate_is_said_and_is_no_slow_motion():
    steps = np.concatenate([np.full(60, 1 / 60), np.full(60, 1 / 30)])
    assert codes(np.cumsum(steps)) == {"variable_frame_rate"}
    jitter = 1 / 30 + np.random.default_rng(2).normal(0, 0.001, 300)
    assert codes(np.cumsum(jitter)) == set()


def test_a_gap_is_said_with_its_place():
    times = np.concatenate([np.arange(60) / 30, 3.5 + np.arange(60) / 30])
    _, notices = summarise(description(120), times)
    assert [notice.code for notice in notices] == ["gap"]
    assert "1.5 s" in notices[0].text
    assert "from 2.0 s" in notices[0].text


def test_damage_in_the_middle_costs_those_pictures_only(tmp_path, capfd):
    clip = encode(tmp_path / "clip.mp4", noise(40), options={"g": "4", "bf": "0"})
    data = bytearray(clip.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 30_000] = bytes(30_000)
    clip.write_bytes(data)
    described = describe_clip(clip)
    times = np.array(times_of(clip))
    assert 25 <= len(times) < 40
    np.testing.assert_allclose(times * 30, np.round(times * 30), atol=1e-9)
    assert times[-1] == pytest.approx(39 / 30)
    assert "damaged" in {notice.code for notice in summarise(described, times)[1]}
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("cores", [1, 2, 16])
@pytest.mark.parametrize("damaged", [35, 37])
def test_damage_near_the_end_costs_that_picture_only(tmp_path, capfd, cores, damaged):
    clip = encode(tmp_path / "clip.mp4", noise(40), options={"bf": "2"})
    with av.open(str(clip)) as container:
        packets = [packet for packet in container.demux(video=0) if packet.size]
        start, size = packets[damaged].pos, packets[damaged].size
    data = bytearray(clip.read_bytes())
    data[start + 8 : start + size] = bytes(size - 8)
    clip.write_bytes(data)
    frames = [frame.index for frame in read_frames(clip, cores=cores)]
    assert frames == list(range(39))
    assert capfd.readouterr() == ("", "")


@pytest.mark.parametrize("surplus", [0, 500], ids=["between pictures", "in a picture"])
def test_a_clip_cut_off_in_its_pictures_is_read_up_to_there(tmp_path, capfd, surplus):
    clip = encode(tmp_path / "clip.mp4", noise(40), movflags="+faststart", options={"bf": "0"})
    with av.open(str(clip)) as container:
        starts = [packet.pos for packet in container.demux(video=0) if packet.size]
    clip.write_bytes(clip.read_bytes()[: starts[24] + surplus])
    described = describe_clip(clip)
    assert [notice.code for notice in described.notices] == ["cut_off"]
    times = np.array(times_of(clip))
    assert len(times) == 24
    assert summarise(described, times)[1] == ()
    assert capfd.readouterr() == ("", "")


def test_a_clip_without_a_readable_picture_is_refused(tmp_path):
    clip = encode(tmp_path / "clip.mp4", noise(6), movflags="+faststart")
    data = bytearray(clip.read_bytes())
    start = data.index(b"mdat") + 4
    data[start:] = bytes(len(data) - start)
    clip.write_bytes(data)
    for read in (describe_clip, times_of):
        with pytest.raises(InputError, match="No picture in .* damaged"):
            read(clip)


def still(path: Path) -> Path:
    assert cv2.imwrite(str(path), corners(96, 64))
    return path


def moved(path: Path, name: str) -> Path:
    return path.rename(path.with_name(name))


def text(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def cut_before_the_list(folder: Path) -> Path:
    clip = encode(folder / "clip.mov", noise(20))
    return text(clip, clip.read_bytes()[:60_000])


BAD_CLIPS = {
    "missing": (lambda f: f / "no.mp4", "There is no file .*no.mp4"),
    "missing folder": (lambda f: f / "no" / "no.mp4", "There is no file"),
    "folder": (lambda f: f, "is a folder"),
    "empty": (lambda f: text(f / "clip.mp4", b""), "is empty"),
    "cut off": (cut_before_the_list, "is cut off.*Copy it from the phone again"),
    "text": (lambda f: text(f / "clip.txt", b"not a clip\n" * 99), "is not a video"),
    "JSON": (lambda f: text(f / "clip.mp4", b'{"schema": "stance-court/1"}'), "is not a video"),
    "PDF": (lambda f: text(f / "a.pdf", b"%PDF-1.7\n1 0 obj\n" + bytes(999)), "is not a video"),
    "playlist": (
        lambda f: text(f / "clip.mp4", b"ffconcat version 1.0\nfile other.mp4\n"),
        "is not a video",
    ),
    "sound": (lambda f: encode_sound(f / "clip.m4a"), "holds sound only"),
    "PNG": (lambda f: still(f / "photo.png"), "is a still image"),
    "JPEG": (lambda f: still(f / "photo.jpg"), "is a still image"),
    "JPEG named MP4": (lambda f: moved(still(f / "photo.jpg"), "clip.mp4"), "is a still image"),
    "HEIC": (
        lambda f: text(f / "photo.heic", b"\0\0\0\x18ftypheic" + bytes(999)),
        "is a still image",
    ),
    "one frame": (
        lambda f: encode(f / "clip.mp4", shades(1)),
        "A clip of one frame shows no waiting; film at least a few seconds",
    ),
}


@pytest.mark.parametrize("name", BAD_CLIPS)
def test_a_file_that_is_no_clip_gets_a_sentence(tmp_path, capfd, name):
    make, sentence = BAD_CLIPS[name]
    path = make(tmp_path)
    with pytest.raises(InputError, match=sentence) as caught:
        describe_clip(path)
    assert str(path) in str(caught.value)
    assert str(caught.value).endswith(".")
    assert capfd.readouterr() == ("", "")


def test_missing_permission_gets_a_sentence(tmp_path, monkeypatch):
    clip = encode(tmp_path / "clip.mp4", shades(3))

    def refuse(*args, **kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(InputError, match="permission is missing"):
        describe_clip(clip)


def test_one_readable_picture_is_not_summed_up():
    with pytest.raises(InputError, match="one frame shows no waiting"):
        summarise(description(), np.array([0.0]))


def test_a_written_video_comes_back(tmp_path, capfd):
    path = tmp_path / "overlay.mp4"
    times = np.cumsum(np.random.default_rng(4).uniform(0.004, 0.05, 30))
    times -= times[0]
    with VideoWriter(path, (128, 80), 30) as writer:
        for time_s in times:
            writer.write(corners(128, 80), float(time_s))
    frames = list(read_frames(path))
    np.testing.assert_allclose([f.time_s for f in frames], times, atol=1 / TICKS)
    for frame in frames:
        assert frame.image.shape == (80, 128, 3)
        assert_corners(frame.image)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        assert (stream.codec_context.name, stream.pix_fmt) == ("h264", "yuv420p")
    data = path.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")
    assert [p.name for p in tmp_path.iterdir()] == ["overlay.mp4"]
    assert capfd.readouterr() == ("", "")


def test_odd_sizes_lose_a_row_and_a_column(tmp_path):
    path = tmp_path / "overlay.mp4"
    with VideoWriter(path, (129, 81), 30) as writer:
        for i in range(3):
            writer.write(corners(129, 81), i / 30)
    assert describe_clip(path).size == (128, 80)


def test_a_finer_quality_makes_a_larger_file(tmp_path):
    sizes = []
    for crf in (15, 35):
        path = tmp_path / f"{crf}.mp4"
        with VideoWriter(path, (160, 96), 30, crf=crf) as writer:
            for i, image in enumerate(noise(5)):
                writer.write(image, i / 30)
        sizes.append(path.stat().st_size)
    assert sizes[0] > 1.5 * sizes[1]


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
@pytest.mark.parametrize("written", [0, 20])
def test_an_error_leaves_what_was_there_before(tmp_path, error, written):
    path = tmp_path / "overlay.mp4"
    path.write_text("before")
    with pytest.raises(error), VideoWriter(path, (96, 64), 30) as writer:
        for i, image in enumerate(shades(20)[:written]):
            writer.write(image, i / 30)
        raise error
    assert path.read_text() == "before"
    assert list(tmp_path.iterdir()) == [path]


def test_a_video_without_pictures_is_not_written(tmp_path):
    with (
        pytest.raises(ValueError, match="no picture"),
        VideoWriter(tmp_path / "overlay.mp4", (96, 64), 30),
    ):
        pass
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("image", "time_s"),
    [(shades(1)[0], 0.0), (shades(1)[0].astype(float), 1.0), (corners(128, 80), 1.0)],
    ids=["not later", "not uint8", "other size"],
)
def test_a_wrong_picture_is_refused(tmp_path, image, time_s):
    with pytest.raises(ValueError), VideoWriter(tmp_path / "o.mp4", (96, 64), 30) as writer:
        writer.write(shades(1)[0], 0.0)
        writer.write(image, time_s)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_can_not_be_written_gets_a_sentence(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    (tmp_path / "folder.mp4").mkdir()
    for path in ("no/overlay.mp4", "file/overlay.mp4", "folder.mp4"):
        with (
            pytest.raises(OutputError, match=r"overlay.mp4|folder.mp4"),
            VideoWriter(tmp_path / path, (96, 64), 30),
        ):
            pass

    def refuse(*args):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("os.replace", refuse)
    with (
        pytest.raises(OutputError, match="Permission denied"),
        VideoWriter(tmp_path / "overlay.mp4", (96, 64), 30) as writer,
    ):
        writer.write(shades(1)[0], 0.0)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file", "folder.mp4"]


def test_a_full_disk_gets_a_sentence(tmp_path, monkeypatch):
    path = tmp_path / "overlay.mp4"

    def full(*args):
        raise OSError(28, "No space left on device")

    with (
        pytest.raises(OutputError, match="No space left"),
        VideoWriter(path, (96, 64), 30) as writer,
    ):
        monkeypatch.setattr(writer, "_stream", SimpleNamespace(encode=full))
        writer.write(shades(1)[0], 0.0)
    assert list(tmp_path.iterdir()) == []


def test_frames_made_ahead_come_in_order_and_so_does_what_goes_wrong():
    def broken():
        yield from range(5)
        raise InputError("The end is missing.")

    items = prefetched(broken(), 2)
    assert [next(items) for _ in range(5)] == [0, 1, 2, 3, 4]
    with pytest.raises(InputError, match="end"):
        next(items)


def niceness() -> int:
    return os.getpriority(os.PRIO_PROCESS, threading.get_native_id())


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux counts a thread's niceness")
def test_what_is_made_ahead_lets_its_user_go_first():
    def told():
        with ThreadPoolExecutor(1) as made_there:
            yield niceness()
            yield made_there.submit(niceness).result()

    before = niceness()
    wanted = min(before + NICENESS, 19)
    assert list(prefetched(told(), 2)) == [wanted, wanted]
    assert niceness() == before


def test_frames_made_ahead_stop_when_nobody_wants_them():
    made = []

    def endless():
        while True:
            made.append(len(made))
            yield made[-1]

    items = prefetched(endless(), 2)
    assert next(items) == 0
    items.close()
    count = len(made)
    assert count <= 6
    time.sleep(0.1)
    assert len(made) == count
