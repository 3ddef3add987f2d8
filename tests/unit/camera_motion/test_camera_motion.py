"""The background is still and empty; the camera's motion is seen, taken out, or refused."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from stance.camera_motion.background import background_picture, quick_pictures, without_people
from stance.camera_motion.motion import to_reference
from stance.camera_motion.segments import camera_motion, motion_notices
from stance.camera_motion.stabilising import laid_on_reference, steadied
from stance.camera_motion.standing import StandingCamera
from stance.errors import InputError
from stance.video.probe import describe_clip
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter
from tests.evaluation.camera_motion import SAMPLE, Sway, errors_px, turned, write_moved

SIZE = (1120, 560)


def hall(size=(640, 360), seed=0):
    """A picture with corners all over it."""
    rng = np.random.default_rng(seed)
    width, height = size
    image = np.full((height, width, 3), 90, np.uint8)
    for _ in range(150):
        low = rng.integers(0, (width, height))
        high = low + rng.integers(8, 60, 2)
        cv2.rectangle(image, low.tolist(), high.tolist(), rng.integers(0, 255, 3).tolist(), -1)
    return image


def write(path, pictures, rate=30.0):
    height, width = pictures[0].shape[:2]
    with VideoWriter(path, (width, height), rate, crf=15) as video:
        for index, picture in enumerate(pictures):
            video.write(picture, index / rate)
    return path, (width, height)


def moved(image, dx, dy, turn_deg=0.0, scale=1.0):
    height, width = image.shape[:2]
    change = cv2.getRotationMatrix2D((width / 2, height / 2), turn_deg, scale)
    change[:, 2] += dx, dy
    shown = cv2.warpAffine(image, change, (width, height), borderMode=cv2.BORDER_REFLECT)
    return shown, np.vstack([change, [0, 0, 1]])


@pytest.mark.parametrize(
    ("dx", "dy", "turn_deg", "scale"),
    [
        (9.0, 0.0, 0.0, 1.0),
        (0.0, -6.5, 0.0, 1.0),
        (3.0, 2.0, 1.5, 1.0),
        (0.0, 0.0, 0.0, 1.02),
        (-8.0, 5.0, -1.0, 0.985),
    ],
)
def test_a_known_motion_of_the_picture_is_the_answer(tmp_path, dx, dy, turn_deg, scale):
    image = hall()
    shown, change = moved(image, dx, dy, turn_deg, scale)
    clip, size = write(tmp_path / "clip.mp4", [image] * 30 + [shown] * 15)
    motion = camera_motion(clip, size)
    assert not motion.stands and motion.reference_frame < 30
    # OpenCV's change counts from the middle of the first pixel, ours from its corner.
    pixels = np.array([[[60.0, 50.0], [320.0, 180.0], [600.0, 330.0]]])
    seen = cv2.transform(pixels - 0.5, change[:2]) + 0.5
    np.testing.assert_allclose(to_reference(motion, np.array([40]), seen), pixels, atol=0.3)
    laid = laid_on_reference(shown, 40, motion)[60:-60, 60:-60]
    assert np.abs(laid.astype(int) - image[60:-60, 60:-60]).mean() < 5


def test_a_camera_at_rest_stands_and_its_pictures_are_left_alone():
    size = describe_clip(SAMPLE).size
    motion = camera_motion(SAMPLE, size)
    assert motion.stands and len(motion.parts) == 1 and motion_notices(motion) == ()
    first = next(steadied(read_frames(SAMPLE), motion))
    assert (first.image == next(read_frames(SAMPLE)).image).all()


def test_a_hands_sway_is_taken_out(tmp_path):
    clip = tmp_path / "sway.mp4"
    changes = write_moved(clip, Sway((0.5, 0.4, 0.25), seed=5).turn, seconds=3.0)
    motion = camera_motion(clip, SIZE)
    before, after = errors_px(motion, changes)
    assert len(motion.parts) == 1 and not motion.stands
    assert list(motion.frames) == list(range(90))
    assert np.sqrt(np.mean(after**2)) < 1.0 < 0.2 * np.sqrt(np.mean(before**2)) + 0.5
    assert motion.sway_px == pytest.approx(np.sqrt(np.mean(before**2)), rel=0.35)
    assert [n.code for n in motion_notices(motion)] == ["camera_sways"]


def test_a_knock_cuts_the_clip_and_the_longest_part_is_used(tmp_path):
    clip = tmp_path / "knock.mp4"
    write_moved(clip, lambda t: turned(*((0, 0, 0) if t < 2.5 else (3.0, -1.0, 1.0))), seconds=8.0)
    motion = camera_motion(clip, SIZE)
    assert len(motion.parts) == 2 and motion.stands
    assert 1.7 <= motion.parts[0].end_s <= 2.5 <= motion.used.start_s <= 3.3
    assert motion.used.end_s > 7.8
    indices = [frame.index for frame in steadied(read_frames(clip), motion)]
    assert indices == list(range(motion.used.first_frame, motion.used.last_frame + 1))
    (notice,) = motion_notices(motion)
    assert notice.code == "camera_moved" and f"{motion.used.start_s:.1f}" in notice.text


def test_a_camera_put_elsewhere_altogether_cuts_the_clip(tmp_path):
    clip, size = write(tmp_path / "clip.mp4", [hall()] * 60 + [hall(seed=1)] * 150)
    motion = camera_motion(clip, size)
    assert [part.first_frame for part in motion.parts] == [0, pytest.approx(78, abs=8)]
    assert motion.used == motion.parts[1]


def test_a_hand_before_the_lens_for_a_moment_is_no_move(tmp_path):
    covered = np.full((360, 640, 3), 30, np.uint8)
    clip, size = write(tmp_path / "clip.mp4", [hall()] * 60 + [covered] * 8 + [hall()] * 60)
    motion = camera_motion(clip, size)
    assert len(motion.parts) == 1 and motion.stands and motion.used.last_frame >= 125


def bare_hall_with_people(shift=0, marks=(170, 160, 140)):
    """A bare hall with few corners, and people with many who are elsewhere in every picture."""
    rng = np.random.default_rng(3)
    bare = np.full((360, 640, 3), 90, np.uint8)
    for x in range(20, 640, 50):
        for y in range(20, 340, 70):
            cv2.rectangle(bare, (x, y), (x + 9, y + 7), marks, -1)
    bare = np.roll(bare, shift, axis=1)
    pictures = []
    for _ in range(75):
        picture = bare.copy()
        x, y = rng.integers(0, (420, 160))
        clothes = rng.integers(50, 130, (20, 22, 3)).astype(np.uint8)
        picture[y : y + 200, x : x + 220] = np.repeat(np.repeat(clothes, 10, axis=0), 10, axis=1)
        pictures.append(picture)
    return pictures


def test_a_camera_at_rest_stands_in_a_bare_hall_full_of_people(tmp_path):
    clip, size = write(tmp_path / "clip.mp4", bare_hall_with_people())
    motion = camera_motion(clip, size)
    assert motion.stands and len(motion.parts) == 1
    camera = StandingCamera(size)
    for frame in read_frames(clip):
        camera.see(frame)
    assert camera.motion() is not None


def test_faint_corners_of_a_bare_hall_show_that_the_camera_stands(tmp_path):
    clip, size = write(tmp_path / "clip.mp4", bare_hall_with_people(marks=(102, 102, 102)))
    motion = camera_motion(clip, size)
    assert motion.stands and len(motion.parts) == 1


def test_a_knock_is_seen_in_a_bare_hall_full_of_people(tmp_path):
    clip, size = write(
        tmp_path / "clip.mp4", bare_hall_with_people() + bare_hall_with_people(shift=27)
    )
    assert len(camera_motion(clip, size).parts) > 1


def test_a_camera_that_keeps_moving_is_refused_with_a_sentence(tmp_path):
    wide = hall((6000, 360))
    pictures = [wide[:, 36 * k : 36 * k + 640].copy() for k in range(120)]
    clip, size = write(tmp_path / "pan.mp4", pictures)
    with pytest.raises(InputError, match=r"keeps moving.*tripod"):
        camera_motion(clip, size)


@pytest.mark.parametrize("shade", [0, 128])
def test_a_picture_without_anything_to_follow_is_taken_to_stand(tmp_path, shade):
    clip, size = write(tmp_path / "clip.mp4", [np.full((240, 320, 3), shade, np.uint8)] * 40)
    motion = camera_motion(clip, size)
    assert motion.stands and len(motion.parts) == 1 and motion.used.last_frame == 39


def test_somebody_who_walks_through_is_neither_motion_nor_in_the_background(tmp_path):
    image = hall()
    pictures = []
    for k in range(90):
        picture = image.copy()
        cv2.rectangle(picture, (6 * k, 60), (6 * k + 120, 359), (220, 60, 40), -1)
        cv2.rectangle(picture, (6 * k + 30, 80), (6 * k + 90, 200), (20, 200, 240), -1)
        pictures.append(picture)
    clip, size = write(tmp_path / "clip.mp4", pictures)
    motion = camera_motion(clip, size)
    assert motion.stands
    difference = np.abs(background_picture(clip, motion).astype(float) - image)
    # Edges of colours are blurred by the codec; what is left of a person would be a patch.
    assert cv2.blur(difference, (25, 25)).max() < 25 and difference.mean() < 4


def test_a_large_picture_takes_fewer_pictures_at_a_time(tmp_path, monkeypatch):
    image = hall()
    clip, size = write(tmp_path / "clip.mp4", [image] * 40)
    motion = camera_motion(clip, size)
    monkeypatch.setattr("stance.camera_motion.background.HELD_BYTES", 1)
    difference = np.abs(background_picture(clip, motion).astype(int) - image)
    assert difference.mean() < 4


def test_a_laid_frames_parts_and_brightness_are_those_of_its_picture(tmp_path):
    clip = tmp_path / "sway.mp4"
    write_moved(clip, Sway((0.5, 0.4, 0.25), seed=5).turn, seconds=1.0)
    frame = list(steadied(read_frames(clip), camera_motion(clip, SIZE)))[20]
    assert (frame.crop(100, 50, 400, 300) == frame.image[50:300, 100:400]).all()
    grey = cv2.cvtColor(frame.image, cv2.COLOR_RGB2GRAY)
    assert (frame.crop_grey(100, 50, 400, 300) == grey[50:300, 100:400]).all()
    wanted = cv2.resize(grey, (280, 140), interpolation=cv2.INTER_AREA)
    assert (frame.shrink_grey(280) == wanted).all()
    assert not (frame.image == list(read_frames(clip))[20].image).all()


def test_the_background_of_a_turned_phones_clip_has_its_size(tmp_path):
    clip, size = write(tmp_path / "tall.mp4", [hall((360, 640))] * 20)
    motion = camera_motion(clip, size)
    assert background_picture(clip, motion).shape == (640, 360, 3)
    assert replace(motion.used).duration_s == pytest.approx(19 / 30, abs=0.15)


def seen_on_the_way(clip, size):
    standing = StandingCamera(size)
    for frame in read_frames(clip):
        standing.see(frame)
    return standing


def test_a_standing_camera_is_seen_to_stand_while_the_clip_is_read(tmp_path):
    rng = np.random.default_rng(4)
    pictures = [
        np.clip(hall() + rng.integers(-4, 5, (360, 640, 1)), 0, 255).astype(np.uint8)
        for _ in range(90)
    ]
    clip, size = write(tmp_path / "still.mp4", pictures)
    motion, whole = seen_on_the_way(clip, size).motion(), camera_motion(clip, size)
    assert motion is not None and motion.stands
    assert motion.parts == whole.parts and motion.used == whole.used


@pytest.mark.parametrize("shown", ["sway", "knock", "other view"])
def test_a_camera_that_does_not_stand_is_not_said_to(tmp_path, shown):
    image = hall()
    if shown == "sway":
        pictures = [moved(image, 6 * np.sin(0.31 * i), 5 * np.cos(0.23 * i))[0] for i in range(90)]
    else:
        later = moved(image, 25, 10)[0] if shown == "knock" else hall(seed=5)
        pictures = [image] * 45 + [later] * 45
    clip, size = write(tmp_path / "moves.mp4", pictures)
    assert seen_on_the_way(clip, size).motion() is None


def test_key_pictures_show_the_background_too(tmp_path):
    image = hall()
    pictures = []
    for index in range(240):
        picture = image.copy()
        cv2.rectangle(picture, (2 * index, 100), (2 * index + 60, 300), (250, 20, 20), -1)
        pictures.append(picture)
    clip, size = write(tmp_path / "walk.mp4", pictures)
    found = without_people(quick_pictures(clip, size))
    assert np.abs(found.astype(int) - image).mean() < 4.0
    assert quick_pictures(*write(tmp_path / "short.mp4", pictures[:60])) == []
