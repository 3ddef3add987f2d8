"""The clip's picture with the court drawn on it."""

import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt
from stance.court.camera import project
from stance.reports.drawn_court import draw_court_of_clip
from stance.reports.palette import SKY
from stance.video.writer import VideoWriter
from stance.watching.watched_clip import WatchedClip
from tests.unit.court.cameras import BEHIND, SIZE
from tests.unit.results.invented import invented_result

GREY, LIGHT = 90, 130


def make_clip(path):
    """Three grey pictures and then two light ones."""
    with VideoWriter(path, SIZE, 30.0) as writer:
        for index, shade in enumerate((GREY, GREY, GREY, LIGHT, LIGHT)):
            writer.write(np.full((SIZE[1], SIZE[0], 3), shade, np.uint8), index / 30)
    return path


def watched(court, used=(3, 4), blurred=False):
    """An analysis in which the camera stands, of which only some pictures are used."""
    part = Part(*used, used[0] / 30, used[1] / 30)
    motion = CameraMotion(
        SIZE, (part,), (part,), used[0], np.array([used[0]]), np.eye(3)[None], 0.0, True
    )
    clip = WatchedClip(motion, np.arange(5) / 30, (), (), court, None)
    return Analysis(invented_result(), {}, {}, "", None, clip, blurred)


def test_the_lines_are_drawn_on_the_first_picture_that_was_measured(tmp_path):
    court = CalibratedCourt(BEHIND, 1.0, "marked")
    drawn = draw_court_of_clip(make_clip(tmp_path / "clip.mp4"), watched(court))
    assert drawn.shape == (SIZE[1], SIZE[0], 3)
    assert abs(int(drawn[3, 3, 0]) - LIGHT) < 4
    # The middle of the short service line, beside the centre line.
    x, y = project(BEHIND, [[1.0, -2.0, 0.0]])[0].round().astype(int)
    near = drawn[y - 2 : y + 3, x].astype(int)
    assert np.abs(near - SKY).sum(axis=1).min() < 40


def test_without_a_court_or_with_faces_blurred_there_is_no_picture(tmp_path):
    clip = make_clip(tmp_path / "clip.mp4")
    assert draw_court_of_clip(clip, watched(None)) is None
    court = CalibratedCourt(BEHIND, 1.0, "marked")
    assert draw_court_of_clip(clip, watched(court, blurred=True)) is None
