"""What a quick look at a clip tells."""

import hashlib

import pytest
from av.video.reformatter import ColorTrc

from stance.video.probe import describe_clip
from tests.unit.video.clips import (
    Encoding,
    encode,
    shades,
    times_of,
)


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
        tmp_path / "clip.mov",
        shades(3),
        Encoding(codec="libx265", pix_fmt="yuv420p10le", color_trc=curve),
    )
    assert [notice.code for notice in describe_clip(clip).notices] == ["hdr"]
    assert len(times_of(clip)) == 3
