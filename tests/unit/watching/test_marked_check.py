"""A court file is taken where it fits the clip, replaced where the court is found, else refused."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from stance.court.calibration import CalibratedCourt, FoundCourt, calibrate
from stance.court.camera import HALF_TURN
from stance.court.court_file import read_court_file
from stance.court.detection.detect import find_court
from stance.errors import InputError
from stance.video.probe import describe_clip
from stance.watching.court_place import CourtPlace
from stance.watching.marked_check import KnownCourt, agrees_at_once, check_marked
from tests.paths import DATA
from tests.unit.court.detection.pictures import BADMINTON, BEHIND, CORNER, GREEN, WHITE, drawn

CLIP = DATA / "rear_corner_drill.mp4"
PAINTED = drawn(BEHIND, [(BADMINTON, WHITE)], GREEN, net=True)
FOUND = find_court(PAINTED)
NOT_FOUND = FoundCourt(None, 0.2, "It could be read in two ways.")


def marked(camera=BEHIND):
    return CalibratedCourt(camera, 1.0, "marked")


def test_a_court_on_its_lines_is_taken():
    for found in (FOUND, NOT_FOUND):
        known = check_marked(marked(), CourtPlace(None, PAINTED, found))
        assert known == KnownCourt(marked(), None, "agrees")
        assert known.court.camera is BEHIND


def test_a_court_beside_its_lines_is_replaced_by_the_one_that_is_found():
    known = check_marked(marked(CORNER), CourtPlace(None, PAINTED, FOUND))
    assert known == KnownCourt(None, FOUND, "replaced")
    assert known.court is FOUND.court


def test_a_court_beside_its_lines_is_refused_where_none_is_found():
    with pytest.raises(InputError, match=r"does not fit this clip.*Mark the court anew"):
        check_marked(marked(CORNER), CourtPlace(None, PAINTED, NOT_FOUND))


def test_a_court_rolled_against_its_lines_is_replaced_by_the_found_one_or_else_taken():
    roll = Rotation.from_euler("z", 0.7, degrees=True).as_matrix()
    rolled = marked(
        replace(BEHIND, rotation=roll @ BEHIND.rotation, translation=roll @ BEHIND.translation)
    )
    known = check_marked(rolled, CourtPlace(None, PAINTED, FOUND))
    assert known == KnownCourt(None, FOUND, "replaced")
    assert check_marked(rolled, CourtPlace(None, PAINTED, NOT_FOUND)).court is rolled


def test_where_too_little_shows_a_court_is_taken_and_that_is_said():
    bare = drawn(BEHIND, [], GREEN)
    known = check_marked(marked(), CourtPlace(None, bare, NOT_FOUND))
    assert known == KnownCourt(marked(), None, "unseen")


def test_a_court_that_is_found_where_it_was_marked_agrees_though_little_shows():
    bare = drawn(BEHIND, [], GREEN)
    for turn in (np.eye(3), HALF_TURN):
        court = marked(replace(BEHIND, rotation=BEHIND.rotation @ turn))
        known = check_marked(court, CourtPlace(None, bare, FOUND))
        assert known == KnownCourt(court, None, "agrees")


def test_a_court_beside_the_found_one_is_kept():
    beside = replace(BEHIND, translation=BEHIND.translation + BEHIND.rotation @ [7.5, 0.0, 0.0])
    known = check_marked(marked(beside), CourtPlace(None, drawn(BEHIND, [], GREEN), FOUND))
    assert known.marked is not None and known.marked_fit == "unseen"


def test_a_clips_own_court_file_is_seen_to_fit_at_once_and_a_moved_one_is_not():
    size = describe_clip(CLIP).size
    marks = read_court_file(CLIP.with_suffix(".court.json"), size)
    assert agrees_at_once(calibrate(marks), CLIP, size)
    moved = replace(marks, pixels=marks.pixels + [30.0, 8.0])
    assert not agrees_at_once(calibrate(moved), CLIP, size)
