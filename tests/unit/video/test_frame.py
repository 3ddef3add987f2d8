"""Frames are upright, in true colours, whole and in parts."""

from fractions import Fraction

import cv2
import numpy as np
import pytest
from av.video.reformatter import ColorRange

from stance.video.probe import describe_clip
from stance.video.reader import read_frames
from tests.unit.video.clips import CODECS, Encoding, assert_corners, corners, encode, tag_matrix


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
        part = frame.crop(10, 20, 50, 60)
        assert (part == frame.image[20:60, 10:50]).all()
        grey = cv2.cvtColor(part, cv2.COLOR_RGB2GRAY)
        seen = frame.crop_grey(10, 20, 50, 60).astype(float)
        # Video levels run from 16 to 235 (ITU-R BT.601).
        assert np.abs((seen - 16.0) * 255.0 / 219.0 - grey).mean() < 6.0
        assert frame.shrink_grey(40).shape == (round(40 * size[1] / size[0]), 40)


def test_a_mirrored_clip_is_shown_as_players_show_it(tmp_path):
    clip = encode(tmp_path / "clip.mp4", [corners(128, 80)[:, ::-1]] * 3)
    tag_matrix(clip, -1, 0, 0, 1)
    assert_corners(next(read_frames(clip)).image)


@pytest.mark.parametrize(("codec", "pix_fmt"), CODECS)
def test_colours_and_turn_hold_in_every_codec(tmp_path, codec, pix_fmt):
    coded = np.rot90(corners(80, 128))
    clip = encode(tmp_path / "clip.mp4", [coded] * 3, Encoding(codec=codec, pix_fmt=pix_fmt))
    tag_matrix(clip, 0, 1, -1, 0)
    for frame in read_frames(clip):
        assert_corners(frame.image)


def test_full_range_colours_are_not_stretched(tmp_path):
    clip = encode(
        tmp_path / "clip.mp4", [corners(128, 80)] * 3, Encoding(color_range=ColorRange.JPEG)
    )
    assert_corners(next(read_frames(clip)).image)


def test_oblong_pixels_are_made_square(tmp_path):
    clip = encode(tmp_path / "clip.mp4", [corners(128, 160)] * 3, Encoding(aspect=Fraction(2)))
    assert describe_clip(clip).size == (256, 160)
    assert next(read_frames(clip)).image.shape == (160, 256, 3)


def test_large_pictures_are_read(tmp_path):
    image = corners(3840, 2160)
    clip = encode(tmp_path / "clip.mp4", [image] * 2, Encoding(options={"preset": "ultrafast"}))
    assert describe_clip(clip).size == (3840, 2160)
    assert_corners(next(read_frames(clip)).image)
