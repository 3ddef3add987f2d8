"""A file that is no clip gets a sentence that says what to do."""

import builtins
import os
from fractions import Fraction
from pathlib import Path

import cv2
import pytest

from stance.errors import InputError
from stance.video.probe import describe_clip
from tests.unit.video.clips import Encoding, corners, encode, encode_sound, noise, shades


def still(path: Path) -> Path:
    assert cv2.imwrite(str(path), corners(96, 64))
    return path


def moved(path: Path, name: str) -> Path:
    return path.rename(path.with_name(name))


def text(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


def pipe(path: Path) -> Path:
    os.mkfifo(path)
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
    "pipe": (lambda f: pipe(f / "clip.mp4"), "is a pipe or a device"),
    "long name": (lambda f: f / f"{'x' * 300}.mp4", "can't be read"),
    "flat pixels": (
        lambda f: encode(f / "clip.mp4", shades(3), Encoding(aspect=Fraction(20))),
        "no phone films",
    ),
    "stripe": (
        lambda f: encode(f / "clip.mp4", shades(3, 1600, 64)),
        "1600 x 64 pixels large; no player",
    ),
    "lying clock": (
        lambda f: encode(f / "clip.mp4", shades(4), ticks=[0, 3000, 6000, 90_000 * 1000]),
        "4 pictures span 1000 seconds",
    ),
    "time lapse": (
        lambda f: encode(f / "clip.mp4", shades(40), ticks=[450_000 * k for k in range(40)]),
        "40 pictures span 195 seconds. A time lapse",
    ),
    "tiny": (lambda f: encode(f / "clip.mp4", shades(3, 16, 16)), "16 x 16 pixels large"),
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

    monkeypatch.setattr(builtins, "open", refuse)
    with pytest.raises(InputError, match="permission is missing"):
        describe_clip(clip)
