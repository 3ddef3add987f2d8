"""Two players of whom one stands before the other."""

import numpy as np

from stance.people.player_observation import observe_past_each_other
from tests.unit.people.made_people import RED, context_of, player_seen, two_in_line


def test_two_of_whom_one_stands_before_the_other_are_each_seen_where_they_are() -> None:
    picture, pose, shift = two_in_line(time_s=0.1)
    places = pose, pose.moved(shift, -0.1 * shift)
    players = [player_seen(number, RED, 0, place) for number, place in enumerate(places)]
    with context_of(None, picture.size) as context:
        seen = observe_past_each_other(context, picture, players)
    middles = np.array([candidate.pose.pixels.mean(axis=0) for candidate in seen])
    wanted = np.array([pose.pixels.mean(axis=0), pose.moved(shift, 0.0).pixels.mean(axis=0)])
    assert len(middles) == 2
    assert np.linalg.norm(middles - wanted, axis=1).max() < 0.12 * np.ptp(pose.pixels[:, 1])
