"""Pictures of contacts, landings and key frames: the nearest crop in time, or none."""

import numpy as np

from stance.assessment.picture_key import PictureKey
from stance.assessment.players import MeasuredPlayer
from stance.people.landmarks import Pose
from stance.people.track import Track
from stance.reports.key_pictures import KeyPictures
from stance.results.model import StrokeFaced
from stance.watching.player_crop import PlayerCrop, compress_crop
from stance.watching.watched_clip import RacketHand, WatchedPlayer
from tests.unit.reports.scenes import invented_scene
from tests.unit.results.invented import invented_position

RATE = 30.0
POSITION = invented_position(
    start_s=2.0, end_s=2.4, start_frame=60, end_frame=71, key_frame=64, base_m=(1.5, -4.2)
)
IMAGE, LANDMARKS, CAMERA = invented_scene(POSITION)


def measured(crop_frames, strokes):
    """A player with one ready position, who was cut out in some frames."""
    pose = Pose(LANDMARKS, np.ones(33), np.zeros((33, 3)))
    crop = compress_crop(PlayerCrop(IMAGE, 0, 0, pose))
    frames = np.arange(0, 121, 3)
    track = Track(
        frames,
        frames / RATE,
        np.stack([LANDMARKS] * len(frames)),
        np.ones((len(frames), 33)),
        np.zeros((len(frames), 33, 3)),
    )
    watched = WatchedPlayer("near", track, {}, {}, {}, dict.fromkeys(crop_frames, crop))
    return MeasuredPlayer(watched, CAMERA, RacketHand("right", 0.9), (POSITION,), strokes)


def test_contact_and_landing_are_shown_by_the_nearest_crop():
    strokes = (StrokeFaced(1.88, 0.02, ("seen",), met="set", ready_position=0),)
    pictures = KeyPictures({"A": measured((54, 57, 60, 64), strokes)})
    assert set(pictures) == {
        PictureKey("A", 1),
        PictureKey("A", 1, "contact"),
        PictureKey("A", 1, "landing"),
    }
    for key in pictures:
        assert pictures[key].dtype == np.uint8 and pictures[key].shape[0] >= 360


def test_a_moment_far_from_every_crop_has_no_picture():
    strokes = (
        StrokeFaced(1.88, 0.02, met="set", ready_position=0),
        StrokeFaced(3.0, 0.02, met="on_the_move"),
        StrokeFaced(3.5, 0.02, met="on_the_move"),
    )
    pictures = KeyPictures({"A": measured((64, 91), strokes)})
    assert set(pictures) == {PictureKey("A", 1), PictureKey("A", 2, "stroke")}


def test_without_strokes_there_are_the_key_pictures_alone():
    assert set(KeyPictures({"A": measured((60, 64), ())})) == {PictureKey("A", 1)}
