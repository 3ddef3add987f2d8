"""The camera's motion is seen, cut at knocks, or refused."""

import re

import numpy as np
import pytest

from stance.camera_motion.motion import motion_notices
from stance.camera_motion.segments import estimate_camera_motions
from stance.errors import InputError
from tests.evaluation.camera_motion import Sway, errors_px, write_moved
from tests.unit.camera_motion.halls import SIZE, bare_hall_with_people, hall, moved, write


def test_a_hands_sway_is_taken_out(tmp_path):
    clip = tmp_path / "sway.mp4"
    changes = write_moved(clip, Sway((0.5, 0.4, 0.25), seed=5).turn, seconds=3.0)
    motion = estimate_camera_motions(clip, SIZE)[0]
    before, after = errors_px(motion, changes)
    assert len(motion.parts) == 1 and not motion.stands
    assert list(motion.frames) == list(range(90))
    assert np.sqrt(np.mean(after**2)) < 1.0 < 0.2 * np.sqrt(np.mean(before**2)) + 0.5
    assert motion.sway_px == pytest.approx(np.sqrt(np.mean(before**2)), rel=0.35)
    assert [n.code for n in motion_notices(motion)] == ["camera_sways"]


def test_a_camera_put_elsewhere_altogether_cuts_the_clip(tmp_path):
    clip, size = write(tmp_path / "clip.mp4", [hall()] * 60 + [hall(seed=1)] * 150)
    motion = estimate_camera_motions(clip, size)[0]
    assert [part.first_frame for part in motion.parts] == [0, pytest.approx(78, abs=8)]
    assert motion.used == (motion.parts[1],)


def test_where_a_clip_comes_back_to_a_view_it_is_measured_on_and_the_rest_is_named(tmp_path):
    close, elsewhere = hall(seed=1), hall(seed=2)
    shown = [hall()] * 45 + [close] * 90 + [hall()] * 40 + [elsewhere] * 40 + [hall()] * 30
    clip, size = write(tmp_path / "clip.mp4", shown)
    first, second = estimate_camera_motions(clip, size)
    assert first.stands and first.parts == second.parts
    spans = [(part.first_frame, part.last_frame) for part in first.used]
    assert spans == [
        (0, pytest.approx(44, abs=3)),
        (pytest.approx(135, abs=3), pytest.approx(174, abs=3)),
        (pytest.approx(215, abs=3), 244),
    ]
    assert second.used[0].first_frame == pytest.approx(60, abs=5)
    (notice,) = motion_notices(first)
    times = re.findall(r"(\d+\.\d) to (\d+\.\d) s", notice.text)
    assert [float(start) for start, _ in times] == pytest.approx([0.0, 4.5, 7.2, 1.5, 5.8], abs=0.2)
    measured, left_out = notice.text.split("From")
    assert measured.count(" to ") == 3 and left_out.count(" to ") == 3


def test_a_camera_that_was_put_a_little_aside_while_something_else_was_shown_is_elsewhere(tmp_path):
    aside, _ = moved(hall(), 40, 0)
    shown = [hall()] * 90 + [hall(seed=1)] * 60 + [aside] * 80
    clip, size = write(tmp_path / "clip.mp4", shown)
    motion = estimate_camera_motions(clip, size)[0]
    assert [(p.first_frame, p.last_frame) for p in motion.used] == [(0, pytest.approx(89, abs=3))]
    assert len(motion.parts) == 3


def test_a_hand_before_the_lens_for_a_moment_is_no_move(tmp_path):
    covered = np.full((360, 640, 3), 30, np.uint8)
    clip, size = write(tmp_path / "clip.mp4", [hall()] * 60 + [covered] * 8 + [hall()] * 60)
    motion = estimate_camera_motions(clip, size)[0]
    assert len(motion.parts) == 1 and motion.stands and motion.used[0].last_frame >= 125


def test_faint_corners_of_a_bare_hall_show_that_the_camera_stands(tmp_path):
    clip, size = write(tmp_path / "clip.mp4", bare_hall_with_people(marks=(102, 102, 102)))
    motion = estimate_camera_motions(clip, size)[0]
    assert motion.stands and len(motion.parts) == 1


def test_a_knock_is_seen_in_a_bare_hall_full_of_people(tmp_path):
    clip, size = write(
        tmp_path / "clip.mp4", bare_hall_with_people() + bare_hall_with_people(shift=27)
    )
    assert len(estimate_camera_motions(clip, size)[0].parts) > 1


def test_a_camera_that_keeps_moving_is_refused_with_a_sentence(tmp_path):
    wide = hall((6000, 360))
    pictures = [wide[:, 36 * k : 36 * k + 640].copy() for k in range(120)]
    clip, size = write(tmp_path / "pan.mp4", pictures)
    with pytest.raises(InputError, match=r"keeps moving.*tripod"):
        estimate_camera_motions(clip, size)[0]


@pytest.mark.parametrize("shade", [0, 128])
def test_a_picture_without_anything_to_follow_is_taken_to_stand(tmp_path, shade):
    clip, size = write(tmp_path / "clip.mp4", [np.full((240, 320, 3), shade, np.uint8)] * 40)
    motion = estimate_camera_motions(clip, size)[0]
    assert motion.stands and len(motion.parts) == 1 and motion.used[0].last_frame == 39
