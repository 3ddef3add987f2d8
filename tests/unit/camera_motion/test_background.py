"""The background is still and empty."""

import cv2
import numpy as np
import pytest

from stance.camera_motion.background import median_picture, read_quick_pictures, read_still_pictures
from stance.camera_motion.segments import estimate_camera_motions
from tests.unit.camera_motion.halls import hall, write


def test_somebody_who_walks_through_is_neither_motion_nor_in_the_background(tmp_path):
    image = hall()
    pictures = []
    for k in range(90):
        picture = image.copy()
        cv2.rectangle(picture, (6 * k, 60), (6 * k + 120, 359), (220, 60, 40), -1)
        cv2.rectangle(picture, (6 * k + 30, 80), (6 * k + 90, 200), (20, 200, 240), -1)
        pictures.append(picture)
    clip, size = write(tmp_path / "clip.mp4", pictures)
    motion = estimate_camera_motions(clip, size)[0]
    assert motion.stands
    difference = np.abs(median_picture(read_still_pictures(clip, motion)).astype(float) - image)
    # Edges of colours are blurred by the codec; what is left of a person would be a patch.
    assert cv2.blur(difference, (25, 25)).max() < 25 and difference.mean() < 4


def test_a_large_picture_takes_fewer_pictures_at_a_time(tmp_path, monkeypatch):
    image = hall()
    clip, size = write(tmp_path / "clip.mp4", [image] * 40)
    motion = estimate_camera_motions(clip, size)[0]
    monkeypatch.setattr("stance.camera_motion.background.HELD_BYTES", 1)
    difference = np.abs(median_picture(read_still_pictures(clip, motion)).astype(int) - image)
    assert difference.mean() < 4


def test_the_background_of_a_turned_phones_clip_has_its_size(tmp_path):
    clip, size = write(tmp_path / "tall.mp4", [hall((360, 640))] * 20)
    motion = estimate_camera_motions(clip, size)[0]
    assert median_picture(read_still_pictures(clip, motion)).shape == (640, 360, 3)
    assert motion.used[0].duration_s == pytest.approx(19 / 30, abs=0.15)


def test_key_pictures_show_the_background_too(tmp_path):
    image = hall()
    pictures = []
    for index in range(240):
        picture = image.copy()
        cv2.rectangle(picture, (2 * index, 100), (2 * index + 60, 300), (250, 20, 20), -1)
        pictures.append(picture)
    clip, size = write(tmp_path / "walk.mp4", pictures)
    found = median_picture(read_quick_pictures(clip, size))
    assert np.abs(found.astype(int) - image).mean() < 4.0
    assert read_quick_pictures(*write(tmp_path / "short.mp4", pictures[:60])) == []
