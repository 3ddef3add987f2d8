"""Videos are written whole or not at all."""

from types import SimpleNamespace

import av
import numpy as np
import pytest

from stance.errors import OutputError
from stance.video.probe import describe_clip
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter
from tests.unit.video.clips import TICKS, assert_corners, corners, noise, shades


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
    open_video = av.open

    def open_on_full_disk(*args, **kwargs):
        container = open_video(*args, **kwargs)
        return SimpleNamespace(add_stream=container.add_stream, mux=full, close=container.close)

    def full(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(av, "open", open_on_full_disk)
    with (
        pytest.raises(OutputError, match="No space left"),
        VideoWriter(tmp_path / "overlay.mp4", (96, 64), 30) as writer,
    ):
        writer.write(shades(1)[0], 0.0)
    assert list(tmp_path.iterdir()) == []
