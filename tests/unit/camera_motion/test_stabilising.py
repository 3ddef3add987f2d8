"""Pictures of a camera that sways are warped onto the reference picture."""

import cv2

from stance.camera_motion.motion import motion_notices
from stance.camera_motion.segments import estimate_camera_motions
from stance.camera_motion.stabilising import stabilise_frame
from stance.video.probe import describe_clip
from stance.video.reader import read_frames
from tests.evaluation.camera_motion import SAMPLE, Sway, turned, write_moved
from tests.unit.camera_motion.halls import SIZE


def stabilised(clip, motion):
    """The clip's frames of the used part, warped onto the reference picture."""
    frames = (stabilise_frame(frame, motion) for frame in read_frames(clip))
    return (frame for frame in frames if frame is not None)


def test_a_camera_at_rest_stands_and_its_pictures_are_left_alone():
    size = describe_clip(SAMPLE).size
    motion = estimate_camera_motions(SAMPLE, size)[0]
    assert motion.stands and len(motion.parts) == 1 and motion_notices(motion) == ()
    first = next(stabilised(SAMPLE, motion))
    assert (first.image == next(read_frames(SAMPLE)).image).all()


def test_a_warped_frames_parts_and_grey_are_those_of_its_picture(tmp_path):
    clip = tmp_path / "sway.mp4"
    write_moved(clip, Sway((0.5, 0.4, 0.25), seed=5).turn, seconds=1.0)
    frame = list(stabilised(clip, estimate_camera_motions(clip, SIZE)[0]))[20]
    assert (frame.crop(100, 50, 400, 300) == frame.image[50:300, 100:400]).all()
    grey = cv2.cvtColor(frame.image, cv2.COLOR_RGB2GRAY)
    assert (frame.crop_grey(100, 50, 400, 300) == grey[50:300, 100:400]).all()
    wanted = cv2.resize(grey, (280, 140), interpolation=cv2.INTER_AREA)
    assert (frame.shrink_grey(280) == wanted).all()
    assert not (frame.image == list(read_frames(clip))[20].image).all()


def test_a_knock_cuts_the_clip_and_the_longest_part_is_used(tmp_path):
    clip = tmp_path / "knock.mp4"
    write_moved(clip, lambda t: turned(*((0, 0, 0) if t < 2.5 else (3.0, -1.0, 1.0))), seconds=8.0)
    motion = estimate_camera_motions(clip, SIZE)[0]
    assert len(motion.parts) == 2 and motion.stands
    (used,) = motion.used
    assert 1.7 <= motion.parts[0].end_s <= 2.5 <= used.start_s <= 3.3
    assert used.end_s > 7.8
    indices = [frame.index for frame in stabilised(clip, motion)]
    assert indices == list(range(used.first_frame, used.last_frame + 1))
    (notice,) = motion_notices(motion)
    assert notice.code == "camera_moved" and f"{used.start_s:.1f}" in notice.text
