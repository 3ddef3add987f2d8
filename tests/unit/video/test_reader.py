"""Clips are read whole and in order with true times; what is damaged or skipped costs no more."""

import struct
import weakref
from fractions import Fraction

import av
import numpy as np
import pytest

from stance.errors import InputError
from stance.video import reader
from stance.video.probe import describe_clip
from stance.video.reader import read_frames, read_frames_at, read_key_pictures
from stance.video.timing import summarise
from tests.paths import DATA
from tests.unit.video.clips import (
    CODECS,
    TICKS,
    Encoding,
    drifting,
    encode,
    noise,
    shades,
    times_of,
)
from tests.unit.video.shifting import write_shifted

PAIR = DATA / "pair.mp4"


@pytest.mark.parametrize(("codec", "pix_fmt"), CODECS)
@pytest.mark.parametrize("suffix", [".mp4", ".mov"])
def test_phone_codecs_are_read_whole_and_in_order(tmp_path, codec, pix_fmt, suffix):
    clip = encode(tmp_path / f"clip{suffix}", shades(20), Encoding(codec=codec, pix_fmt=pix_fmt))
    frames = list(read_frames(clip))
    assert [frame.index for frame in frames] == list(range(20))
    np.testing.assert_allclose([f.time_s for f in frames], np.arange(20) / 30, atol=1e-12)
    for i, frame in enumerate(frames):
        np.testing.assert_allclose(frame.image.mean(), 20 + i * 10, atol=4)


@pytest.mark.parametrize(("codec", "pix_fmt"), CODECS)
def test_pictures_are_the_same_however_many_cores_decode(tmp_path, codec, pix_fmt):
    clip = encode(tmp_path / "clip.mp4", drifting(40), Encoding(codec=codec, pix_fmt=pix_fmt))
    alone = list(read_frames(clip, cores=1))
    assert len(alone) == 40
    for cores in (2, 7):
        for one, other in zip(alone, read_frames(clip, cores=cores), strict=True):
            assert (one.index, one.time_s) == (other.index, other.time_s)
            np.testing.assert_array_equal(one.image, other.image)


def test_uneven_times_are_kept_exactly(tmp_path):
    steps = np.random.default_rng(1).integers(300, 9000, 40)
    ticks = [500, *(500 + np.cumsum(steps)).tolist()]
    clip = encode(tmp_path / "clip.mp4", shades(41), ticks=ticks)
    expected = [float(Fraction(tick - ticks[0], TICKS)) for tick in ticks]
    assert times_of(clip) == expected


def test_few_pictures_are_held_at_a_time(tmp_path):
    clip = encode(tmp_path / "clip.mp4", shades(60))
    alive = []
    for frame in read_frames(clip):
        alive = [reference for reference in alive if reference() is not None]
        alive.append(weakref.ref(frame.image))
        assert len(alive) <= 2


def test_wrong_headers_do_not_matter(tmp_path):
    clip = encode(
        tmp_path / "clip.mkv", shades(30), Encoding(rate=1000), ticks=[i * 3000 for i in range(30)]
    )
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
def test_pictures_that_no_other_needs_are_skipped_and_the_rest_is_the_same(
    tmp_path, monkeypatch, codec, options, factor, suffix
):
    monkeypatch.setattr(reader, "RICH_BITS", np.inf)
    clip = encode(
        tmp_path / f"clip{suffix}", drifting(40), Encoding(codec=codec, rate=60, options=options)
    )
    whole, some = list(read_frames(clip)), list(read_frames(clip, min_rate=30.0))
    assert len(whole) == 40
    assert len(whole) / factor <= len(some) <= len(whole) / factor * 1.4
    assert (some[0].index, some[-1].index) == (0, 39)
    for frame in some:
        assert frame.time_s == whole[frame.index].time_s
        np.testing.assert_array_equal(frame.image, whole[frame.index].image)
    times = [time_s for frame in some for time_s in (*frame.skipped_s, frame.time_s)]
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
        clip = encode(
            tmp_path / f"{name}.mp4", drifting(40), Encoding(codec=codec, rate=60, options=options)
        )
        off[name] = [
            np.abs(one.image.astype(int) - other.image)
            for one, other in zip(read_frames(clip), read_frames(clip, min_rate=60.0), strict=True)
        ]
    assert np.max(off["poor"]) == 0
    assert np.max(off["rich"]) > 0
    assert max(np.mean(one) for one in off["rich"]) < 1.0


@pytest.mark.parametrize("rate", [24, 30, 50])
def test_no_picture_is_skipped_that_is_needed_for_the_rate_asked_for(tmp_path, rate):
    clip = encode(
        tmp_path / "clip.mp4",
        drifting(20),
        Encoding(rate=rate, options={"bf": "3", "b_strategy": "0"}),
    )
    assert [frame.index for frame in read_frames(clip, min_rate=30.0)] == list(range(20))


@pytest.mark.parametrize(
    ("name", "options"),
    [
        pytest.param("clip.avi", {}, id="times-of-coding"),
        pytest.param("clip.mp4", {"x264-params": "tff=1"}, id="interlaced"),
    ],
)
def test_no_picture_is_skipped_of_clips_that_tell_too_little(tmp_path, name, options):
    clip = encode(
        tmp_path / name,
        drifting(40),
        Encoding(rate=60, options={"bf": "3", "b_strategy": "0", **options}),
    )
    whole = [frame.index for frame in read_frames(clip)]
    assert [frame.index for frame in read_frames(clip, min_rate=30.0)] == whole


def test_no_picture_is_skipped_where_clocks_start_again(tmp_path):
    one = encode(
        tmp_path / "one.ts", drifting(20), Encoding(rate=60, options={"bf": "3", "b_strategy": "0"})
    )
    both = tmp_path / "both.ts"
    both.write_bytes(one.read_bytes() * 2)
    assert len(list(read_frames(both, min_rate=30.0))) == len(list(read_frames(both)))


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
    clip = encode(
        tmp_path / "keys.mp4", shades(40), Encoding(options={"g": "5", "preset": "veryfast"})
    )
    whole = [frame.image for frame in read_frames(clip)]
    found = read_key_pictures(clip, 6)
    assert len(found) == 6
    places = [
        next(i for i, image in enumerate(whole) if np.array_equal(image, one)) for one in found
    ]
    assert places == sorted(places) and all(place % 5 == 0 for place in places)


def test_damage_in_the_middle_costs_those_pictures_only(tmp_path, capfd):
    clip = encode(tmp_path / "clip.mp4", noise(40), Encoding(options={"g": "4", "bf": "0"}))
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
    clip = encode(tmp_path / "clip.mp4", noise(40), Encoding(options={"bf": "2"}))
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
    clip = encode(
        tmp_path / "clip.mp4", noise(40), Encoding(movflags="+faststart", options={"bf": "0"})
    )
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
    clip = encode(tmp_path / "clip.mp4", noise(6), Encoding(movflags="+faststart"))
    data = bytearray(clip.read_bytes())
    start = data.index(b"mdat") + 4
    data[start:] = bytes(len(data) - start)
    clip.write_bytes(data)
    for read in (describe_clip, times_of):
        with pytest.raises(InputError, match="No picture in .* damaged"):
            read(clip)


@pytest.mark.parametrize(
    ("name", "seconds"), [("a.mp4", 0.5), ("a.mp4", 100.0), ("a.ts", 100.0), ("a.ts", -0.5)]
)
def test_pictures_and_times_are_those_of_the_clip_that_starts_at_zero(tmp_path, name, seconds):
    shifted = tmp_path / name
    write_shifted(shifted, PAIR, seconds)
    times = [(frame.index, frame.time_s) for frame in read_frames(PAIR)]
    assert [(f.index, f.time_s) for f in read_frames(shifted)] == [
        (index, pytest.approx(time_s, abs=1e-3)) for index, time_s in times
    ]
    for frame, wanted in zip(
        read_frames_at(shifted, [0, 40, 100]), read_frames_at(PAIR, [0, 40, 100]), strict=True
    ):
        np.testing.assert_array_equal(frame.image, wanted.image)


@pytest.mark.parametrize("seconds", [0.5, 100.0])
def test_pictures_that_are_coded_whole_are_found_wherever_the_clip_starts(tmp_path, seconds):
    write_shifted(tmp_path / "shifted.mp4", PAIR, seconds)
    wanted = read_key_pictures(PAIR, 25)
    assert len(wanted) > 1
    for picture, found in zip(wanted, read_key_pictures(tmp_path / "shifted.mp4", 25), strict=True):
        np.testing.assert_array_equal(picture, found)
