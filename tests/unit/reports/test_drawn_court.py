"""The clip's picture with the court drawn on it."""

from dataclasses import replace

import numpy as np

from stance.assessment.analysis_model import Analysis
from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt
from stance.court.camera import project
from stance.people.track import Track
from stance.reports.drawn_court import draw_court_of_clip
from stance.reports.palette import SKY
from stance.video.writer import VideoWriter
from stance.watching.watched_clip import Opponent, WatchedClip
from tests.unit.court.cameras import BEHIND, SIZE
from tests.unit.figures import figure
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


def test_without_a_court_there_is_no_picture(tmp_path):
    assert draw_court_of_clip(make_clip(tmp_path / "clip.mp4"), watched(None)) is None


def head_at(place, seen):
    """A track of somebody whose nose is at a pixel, seen in some of the clip's five pictures."""
    pixels = project(BEHIND, figure((0.6, -4.0)))
    pixels = np.repeat((pixels - pixels[0] + place)[None], 5, axis=0)
    pixels[[index not in seen for index in range(5)]] = np.nan
    return Track(np.arange(5), np.arange(5) / 30, pixels, np.ones((5, 33)), np.zeros((5, 33, 3)))


def test_with_faces_blurred_only_lines_stay_sharp_and_heads_before_them_do_not(tmp_path):
    # A pattern that only a sharp picture shows, in the one in which both people are seen.
    noise = np.kron(np.random.default_rng(1).integers(0, 2, (360, 640)), np.ones((2, 2)))
    with VideoWriter(tmp_path / "clip.mp4", SIZE, 30.0) as writer:
        for index in range(5):
            picture = (noise * 200 if index == 2 else noise * 0).astype(np.uint8)
            writer.write(np.repeat(picture[:, :, None], 3, axis=2), index / 30)
    on_line, face, other_face, beside = project(
        BEHIND, [[2.0, -1.98, 0.0], [-2.0, -1.98, 0.0], [-1.0, 1.98, 0.0], [1.5, -3.5, 0.0]]
    )
    people = (head_at(face, (1, 2)), head_at(other_face, (2, 3)))
    court = CalibratedCourt(BEHIND, 1.0, "marked")
    analysis = watched(court, used=(0, 4), blurred=True)
    opponents = tuple(Opponent("far", track) for track in people)
    clip = replace(analysis.watched_clip, opponents=opponents)
    drawn = draw_court_of_clip(tmp_path / "clip.mp4", replace(analysis, watched_clip=clip))

    def roughness(place):
        # Beside the drawn line, but close to it.
        x, y = np.round(place).astype(int) + [0, 6]
        part = drawn[y - 2 : y + 2, x - 20 : x + 20, 0].astype(float)
        return np.abs(np.diff(part, axis=1)).mean()

    assert roughness(on_line) > 40
    assert all(roughness(place) < 10 for place in (face, other_face, beside))
