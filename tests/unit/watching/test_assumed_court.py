"""A camera assumed from a player puts them on the floor, as tall as grown-ups are."""

import numpy as np

from stance.people.floor import base_on_floor
from stance.watching.assumed_court import assume_court
from tests.unit.figures import behind_camera, figure, track_of


def test_an_assumed_camera_sees_the_player_move_as_far_as_they_do() -> None:
    true = behind_camera()
    places = [(x, -4.0) for x in np.linspace(-1.0, 1.0, 21)]
    track = track_of(true, np.stack([figure(place) for place in places]), 30.0)
    court = assume_court(track, true.image_size)
    assert court.source == "assumed" and court.error_px is None
    bases = base_on_floor(court.camera, track.pixels)
    moved = np.linalg.norm(bases[-1] - bases[0])
    # The figure crouches, so that it seems further away than it is.
    assert 1.5 < moved < 3.0
    assert court.camera.image_size == true.image_size
