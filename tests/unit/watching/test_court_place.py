"""The court is searched from every place of the camera, the longest first."""

import numpy as np
import pytest

from stance.watching.court_place import find_court_place
from tests.end_to_end.edited_clips import read_pictures, write_pictures
from tests.paths import DATA
from tests.unit.camera_motion.halls import hall

CLIP = DATA / "rear_corner_drill.mp4"


@pytest.fixture(scope="module")
def pictures():
    return read_pictures(CLIP)[:100]


def test_what_is_shown_longer_than_the_court_is_left_out(pictures, tmp_path):
    size = (pictures[0].shape[1], pictures[0].shape[0])
    clip = write_pictures(tmp_path / "clip.mp4", pictures[:70] + [hall(size)] * 130, 30.0)
    place = find_court_place(clip, size)
    assert place.found.court is not None
    assert place.motion.used[0].last_frame == pytest.approx(69, abs=3)
    assert np.abs(place.background.astype(int) - pictures[0]).mean() < 5


def test_where_no_court_is_found_the_camera_is_where_it_stands_longest(tmp_path):
    shown = [hall()] * 70 + [hall(seed=1)] * 130
    place = find_court_place(write_pictures(tmp_path / "clip.mp4", shown, 30.0), (640, 360))
    assert place.found.court is None and place.found.reason
    assert place.motion.used[0].last_frame == 199
