"""Of a clip's crops those stay that show what was measured, and no others."""

from dataclasses import replace

import numpy as np

from stance.assessment.crops import keep_needed_crops
from stance.assessment.players import MeasuredPlayer
from stance.camera_motion.motion import CameraMotion, Part
from stance.results.model import StrokeFaced
from stance.watching.watched_clip import CompressedCrop, RacketHand, WatchedClip, WatchedPlayer
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.results.invented import invented_position

CAMERA = behind_camera()


def player_with_crops() -> WatchedPlayer:
    """Somebody seen for ten seconds, with a crop in every third frame."""
    track = track_of(CAMERA, np.stack([figure((0.0, -4.0))] * 301), 30.0)
    crops = {frame: CompressedCrop(b"", frame, 0) for frame in range(0, 301, 3)}
    return WatchedPlayer("near", track, {"right": ()}, {}, {}, crops)


def clip_of(*players: WatchedPlayer) -> WatchedClip:
    """A clip with some players."""
    part = Part(0, 300, 0.0, 10.0)
    motion = CameraMotion(
        CAMERA.image_size, (part,), (part,), 0, np.arange(301), np.eye(3)[None], 0.0, True
    )
    return WatchedClip(motion, np.arange(301) / 30.0, players, (), None, None)


def test_key_frames_and_the_crops_nearest_to_strokes_and_landings_stay() -> None:
    player = player_with_crops()
    position = replace(invented_position(), key_frame=63, start_s=1.98)
    measured = MeasuredPlayer(
        player,
        CAMERA,
        RacketHand("right", 0.9),
        (position,),
        (StrokeFaced(1.72, 0.05), StrokeFaced(8.01, 0.05)),
    )
    kept = keep_needed_crops(clip_of(player), [measured]).players[0]
    # The stroke at 1.72 s lies between frames 51 and 52, the landing at 1.98 s in 59.
    assert kept.key_crops == {frame: player.key_crops[frame] for frame in (51, 60, 63, 240)}
    assert kept.track is player.track


def test_of_who_was_not_measured_no_crop_stays() -> None:
    measured, other = player_with_crops(), player_with_crops()
    result = MeasuredPlayer(
        measured, CAMERA, RacketHand("right", 0.9), (), (StrokeFaced(5.0, 0.1),)
    )
    kept = keep_needed_crops(clip_of(other, measured), [result])
    assert [list(player.key_crops) for player in kept.players] == [[], [150]]
