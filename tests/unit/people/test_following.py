"""Players who are followed."""

import json

import numpy as np

from stance.people.following import observe_wider
from stance.people.landmarks import box_around
from stance.people.player_state import Player
from stance.people.tracker_state import TrackerContext
from stance.video.frame import Frame
from stance.video.reader import read_frames
from tests.evaluation.pair_accuracy import true_pixels
from tests.unit.people.made_people import CLIP, RED, context_of, first_picture, player_seen


def player_in(context: TrackerContext, frames: list[Frame]) -> Player:
    """The first defender of the clip, as observed in some frames."""
    joints = true_pixels(json.loads(CLIP.with_suffix(".truth.json").read_text()))[0][0]
    poses = [
        context.models.finder.observe(frame, box_around(joints[frame.index]).widened(1.2))[0].pose
        for frame in frames
    ]
    player = player_seen(0, RED, 0, *poses)
    player.frames = [frame.index for frame in frames]
    player.times = [frame.time_s for frame in frames]
    return player


def test_who_has_run_out_of_the_usual_square_is_found_in_a_wider_one() -> None:
    frame = next(read_frames(CLIP))
    with context_of(None) as context:
        player = player_in(context, [frame])
        seen = player.last_pose
        height = float(np.ptp(seen.pixels[:, 1]))
        player = player_seen(0, RED, 0, seen.moved(0.6 * height, 0.0))
        found = observe_wider(context, frame, [player], {})
    away = [
        np.linalg.norm((candidate.pose.pixels - seen.pixels).mean(axis=0)) for candidate in found
    ]
    assert min(away) < 0.1 * height


def test_who_stays_unseen_is_looked_for_ever_less_often_in_a_wider_square() -> None:
    frame = next(read_frames(CLIP))
    with context_of(None) as context:
        player = player_in(context, [frame])
        looked = []
        for misses in range(9):
            looked.append(bool(observe_wider(context, frame, [player], {})))
            player.append(first_picture(misses + 1, 0.05 * (misses + 1)), None)
    assert [misses for misses, has in enumerate(looked) if has] == [0, 1, 3, 7]
