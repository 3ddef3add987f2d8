"""A camera is seen to stand, or not, while the clip is read."""

import numpy as np
import pytest

from stance.camera_motion.segments import estimate_camera_motions
from stance.camera_motion.standing import CameraStillnessCheck
from stance.video.reader import read_frames
from tests.unit.camera_motion.halls import bare_hall_with_people, hall, moved, write


def seen_on_the_way(clip, size):
    standing = CameraStillnessCheck(size)
    for frame in read_frames(clip):
        standing.take(frame)
    return standing


def test_a_standing_camera_is_seen_to_stand_while_the_clip_is_read(tmp_path):
    rng = np.random.default_rng(4)
    pictures = [
        np.clip(hall() + rng.integers(-4, 5, (360, 640, 1)), 0, 255).astype(np.uint8)
        for _ in range(90)
    ]
    clip, size = write(tmp_path / "still.mp4", pictures)
    motion, whole = seen_on_the_way(clip, size).motion(), estimate_camera_motions(clip, size)[0]
    assert motion is not None and motion.stands
    assert motion.parts == whole.parts and motion.used == whole.used


def test_a_camera_at_rest_stands_in_a_bare_hall_full_of_people(tmp_path):
    clip, size = write(tmp_path / "clip.mp4", bare_hall_with_people())
    motion = estimate_camera_motions(clip, size)[0]
    assert motion.stands and len(motion.parts) == 1
    camera = CameraStillnessCheck(size)
    for frame in read_frames(clip):
        camera.take(frame)
    assert camera.motion() is not None


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
