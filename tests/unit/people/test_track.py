"""Tracks at any frames of the clip, between observations."""

import numpy as np

from stance.people.landmarks import LANDMARKS
from stance.people.track import Track


def track_of(frames: list[int], unseen: list[int]) -> Track:
    """A track at 30 frames a second whose pixels are the frames' numbers."""
    numbers = np.array(frames)
    pixels = np.broadcast_to(
        numbers[:, None, None].astype(float), (len(numbers), LANDMARKS, 2)
    ).copy()
    pixels[np.isin(numbers, unseen)] = np.nan
    return Track(
        numbers,
        numbers / 30.0,
        pixels,
        np.ones((len(numbers), LANDMARKS)),
        np.zeros((len(numbers), LANDMARKS, 3)),
    )


def test_a_track_lies_on_straight_lines_between_its_observations() -> None:
    track = track_of([0, 4, 8, 100], unseen=[8])
    wanted = np.array([0, 1, 4, 5, 8, 50, 100])
    here = track.between(wanted, wanted / 30.0).pixels[:, 0, 0]
    np.testing.assert_allclose(here, [0.0, 1.0, 4.0, np.nan, np.nan, np.nan, 100.0])


def test_who_is_missed_once_is_where_the_observations_before_and_after_say() -> None:
    track = track_of([0, 4, 8, 12, 16, 20], unseen=[4, 12, 16, 20])
    wanted = np.array([2, 4, 6, 8, 10])
    here = track.between(wanted, wanted / 30.0).pixels[:, 0, 0]
    np.testing.assert_allclose(here, [2.0, 4.0, 6.0, 8.0, np.nan])
