"""Players get their letters by where they stand; what they are measured by is in their own half."""

from dataclasses import replace

import numpy as np
import pytest

from stance.assessment.players import measure_players, select_player
from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt
from stance.court.camera import turned_180
from stance.errors import InputError
from stance.measures.classes import DEFAULT_LIMITS
from stance.watching.watched_clip import RacketHand, WatchedClip, WatchedPlayer
from tests.unit.figures import behind_camera, figure, track_of
from tests.unit.results.invented import invented_position

NEAR = behind_camera()


def watched_player(half: str, base: tuple[float, float]) -> WatchedPlayer:
    """A player who stands at a place of their own half's frame and never waits."""
    camera = NEAR if half == "near" else turned_180(NEAR)
    track = track_of(camera, np.stack([figure(base)] * 5), 30.0)
    return WatchedPlayer(half, track, {"right": (), "left": ()}, {}, {}, {})


def watched_clip(*players: WatchedPlayer) -> WatchedClip:
    """A clip of some right-handers."""
    part = Part(0, 4, 0.0, 0.14)
    motion = CameraMotion(
        NEAR.image_size, (part,), (part,), 0, np.arange(5), np.stack([np.eye(3)] * 5), 0.0, True
    )
    hands = (RacketHand("right", 0.9),) * len(players)
    court = CalibratedCourt(NEAR, 1.0, "marked")
    return WatchedClip(motion, np.arange(5) / 30.0, players, hands, court, None)


def test_letters_go_left_to_right_the_near_half_first() -> None:
    far, right, left = (
        watched_player("far", (-1.0, -4.0)),
        watched_player("near", (1.5, -3.0)),
        watched_player("near", (-1.5, -4.0)),
    )
    clip = watched_clip(far, right, left)
    measured = measure_players(clip, clip.court, DEFAULT_LIMITS)
    assert {letter: player.watched for letter, player in measured.items()} == {
        "A": left,
        "B": right,
        "C": far,
    }
    assert measured["A"].camera == NEAR
    for letter, metres in (("A", -1.5), ("B", 1.5), ("C", -1.0)):
        assert measured[letter].metres_right == pytest.approx(metres, abs=0.1)
        assert not measured[letter].positions


def test_where_a_player_first_waits_counts_before_where_they_are_on_the_whole() -> None:
    clip = watched_clip(watched_player("near", (0.0, -4.0)))
    player = measure_players(clip, clip.court, DEFAULT_LIMITS)["A"]
    waits = replace(player, positions=(invented_position(-10.0, 0.0, place=(2.0, -4.0)),))
    assert waits.metres_right == 2.0


def test_a_player_who_was_not_found_is_refused_and_one_who_was_is_alone() -> None:
    clip = watched_clip(watched_player("near", (-1.0, -4.0)), watched_player("near", (1.0, -4.0)))
    players = measure_players(clip, clip.court, DEFAULT_LIMITS)
    assert select_player(players, "B", "a.mp4") == {"B": players["B"]}
    assert select_player(players, None, "a.mp4") == players
    with pytest.raises(InputError, match=r"no player C in a\.mp4: found A and B"):
        select_player(players, "C", "a.mp4")


def test_where_nobody_was_found_nobody_is_refused() -> None:
    assert select_player({}, "B", "a.mp4") == {}
