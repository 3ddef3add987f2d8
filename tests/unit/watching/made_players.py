"""Players made of stick figures, as the tracker would know them."""

from collections.abc import Sequence
from types import SimpleNamespace

import numpy as np

from stance.court.camera import Camera
from stance.people.landmarks import Pose
from stance.people.observation import Observation, ObservationId
from stance.people.player_state import Player, TrackId
from stance.people.pose_history import PoseHistory
from tests.unit.figures import figure, track_of


class PlainFrame(SimpleNamespace):
    """A frame of one colour."""

    size = (1280, 720)

    def crop(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        return np.full((bottom - top, right - left, 3), 99, np.uint8)


def plain_frame(index: int, rate: float = 30.0) -> PlainFrame:
    """A frame of a clip with so many frames a second."""
    return PlainFrame(index=index, time_s=index / rate)


def pose_at(camera: Camera, base: tuple[float, float]) -> Pose:
    """The pose of a figure that stands at a place of the court, metres."""
    track = track_of(camera, figure(base)[None], 30.0)
    return Pose(track.pixels[0], track.visibility[0], track.world[0])


def observation_at(camera: Camera, base: tuple[float, float], number: int) -> Observation:
    """An observation of a figure that stands at a place of the court, metres."""
    return Observation(ObservationId("made", number, 0), pose_at(camera, base))


def made_player(
    camera: Camera,
    places: Sequence[tuple[float, float] | None],
    number: int = 0,
    rate: float = 30.0,
) -> Player:
    """A player seen at a place of the court in each frame; None where not seen."""
    player = Player(TrackId("near", number), number, np.ones(2), PoseHistory())
    for index, base in enumerate(places):
        seen = None if base is None else observation_at(camera, base, index)
        player.append(plain_frame(index, rate), seen)
    return player
