"""Players at rest."""

import numpy as np

from stance.people.candidates import Candidate
from stance.people.landmarks import Box
from stance.people.player_state import Player
from stance.people.resting import (
    is_unchanged,
    keep_reference,
    may_be_misplaced,
)
from tests.unit.people.made_people import RED, Picture, observed, player_seen, pose_at

# A pose whose square lies inside the picture.
RESTING = pose_at(0.0).moved(0.0, -250.0)
GREY = Picture(np.full((720, 1280, 3), 100, np.uint8))


def moved(picture: Picture, box: Box, by: int, index: int = 0) -> Picture:
    """A picture whose square shows a stripe so much brighter."""
    image = picture.image.copy()
    left, top, side = int(box.x), int(box.y), int(box.side)
    image[top + side // 4 : top + side // 2, left + side // 4 : left + side // 2] += np.uint8(by)
    return Picture(image, index, 0.1 * index)


def player_with_reference(centred: bool = True) -> Player:
    """A player who was just seen, in a grey picture."""
    player = player_seen(0, RED, 0, RESTING)
    keep_reference(player, Candidate(player.last_observation, np.zeros(2), RED, centred), GREY)
    return player


def test_a_player_is_unchanged_while_the_square_looks_as_at_the_last_observation() -> None:
    player = player_with_reference()
    box = player.last_pose.box
    assert is_unchanged(player, GREY)
    assert not is_unchanged(player, moved(GREY, box, 90))
    player.append(Picture(GREY.image, 1, 0.1), observed(RESTING))
    # What the square looked like at that observation is not known.
    assert not is_unchanged(player, GREY)


def test_only_who_keeps_still_since_an_observation_from_beside_may_be_misplaced() -> None:
    player = player_with_reference(centred=False)
    assert may_be_misplaced(player, GREY)
    assert not may_be_misplaced(player, moved(GREY, player.last_pose.box, 90))
    assert not may_be_misplaced(player_with_reference(), GREY)
