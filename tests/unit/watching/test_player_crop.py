"""A crop is a copy of the part around a player."""

from types import SimpleNamespace

import numpy as np

from stance.watching.player_crop import take_crop
from tests.unit.figures import behind_camera
from tests.unit.watching.made_players import pose_at


def test_a_crop_holds_nothing_of_the_frame_it_was_cut_from() -> None:
    picture = np.random.default_rng(1).integers(0, 256, (720, 1280, 3), np.uint8)
    frame = SimpleNamespace(
        size=(1280, 720),
        crop=lambda left, top, right, bottom: picture[top:bottom, left:right],
    )
    pose = pose_at(behind_camera(), (0.0, -4.0))
    crop = take_crop(frame, pose)
    height, width = crop.image.shape[:2]
    shown = picture[crop.top : crop.top + height, crop.left : crop.left + width].copy()
    assert not np.shares_memory(crop.image, picture)
    picture[:] = 0
    np.testing.assert_array_equal(crop.image, shown)
    assert shown.any()
