"""The pictures of a clip's ready positions and of the strokes they were for."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from stance.assessment.picture_key import PictureKey
from stance.assessment.players import MeasuredPlayer
from stance.people.track import Track
from stance.reports.face_blur import blur_faces
from stance.reports.pictures import key_picture, moment_picture
from stance.results.model import ReadyPosition
from stance.types import FloatArray, ImageArray

_NEAR_S = 0.08
"""A picture shows a moment that is no farther from it than this, seconds."""


@dataclass(frozen=True)
class _Shot:
    """What a picture is drawn from: a player's frame and, at a key frame, the ready position."""

    player: MeasuredPlayer
    frame: int
    position: ReadyPosition | None = None


class KeyPictures(Mapping[PictureKey, ImageArray]):
    """Pictures by player, number and moment, drawn when asked for: together they fill memory.

    Parameters
    ----------
    measured
        players by letter
    blurred
        tracks of all whose heads are blurred, with all that is not the player's body; None where
        nothing is
    """

    def __init__(
        self, measured: Mapping[str, MeasuredPlayer], blurred: Sequence[Track] | None = None
    ) -> None:
        self._blurred = blurred
        self._shots: dict[PictureKey, _Shot] = {}
        for letter, player in measured.items():
            self._shots |= _list_shots(letter, player)

    def __getitem__(self, key: PictureKey) -> ImageArray:
        shot = self._shots[key]
        cut = shot.player.watched.key_crops[shot.frame]
        image = cut.image
        if self._blurred is not None:
            others = [_follow(track, shot) - (cut.x, cut.y) for track in self._blurred]
            image = blur_faces(image, [_landmarks(shot)], others)
        if shot.position is None:
            return moment_picture(image, _landmarks(shot), shot.player.racket.hand)
        return _draw_key(shot, shot.position, image)

    def __iter__(self) -> Iterator[PictureKey]:
        return iter(self._shots)

    def __len__(self) -> int:
        return len(self._shots)


def _list_shots(letter: str, player: MeasuredPlayer) -> dict[PictureKey, _Shot]:
    """What there is a picture of, of one player."""
    frames = np.array(sorted(player.watched.key_crops), int)
    track = player.watched.track
    times = np.interp(frames, track.frames, track.times) if len(frames) else np.zeros(0)
    shots = {
        PictureKey(letter, number): _Shot(player, position.key_frame, position)
        for number, position in enumerate(player.positions, 1)
    }
    moments = {}
    for number, stroke in enumerate(player.strokes_faced, 1):
        index = stroke.ready_position
        if index is None:
            moments[PictureKey(letter, number, "stroke")] = stroke.time_s
        else:
            moments[PictureKey(letter, index + 1, "contact")] = stroke.time_s
            moments[PictureKey(letter, index + 1, "landing")] = player.positions[index].start_s
    for key, time_s in moments.items():
        nearest = int(np.argmin(np.abs(times - time_s))) if len(times) else 0
        if len(times) and abs(times[nearest] - time_s) <= _NEAR_S:
            shots[key] = _Shot(player, int(frames[nearest]))
    return shots


def _draw_key(shot: _Shot, position: ReadyPosition, image: ImageArray) -> ImageArray:
    """Draw a ready position on the crop of its key frame."""
    player = shot.player
    cut = player.watched.key_crops[shot.frame]
    matrix = player.camera.matrix - np.array([[0, 0, cut.x], [0, 0, cut.y], [0, 0, 0]])
    camera = replace(player.camera, matrix=matrix, image_size=image.shape[1::-1])
    return key_picture(image, _landmarks(shot), position, camera, player.racket.hand)


def _landmarks(shot: _Shot) -> FloatArray:
    """The player's landmarks (33, 2) in the crop: as observed, or else from the track."""
    watched = shot.player.watched
    cut = watched.key_crops[shot.frame]
    observation = watched.observations.get(shot.frame)
    if observation is not None:
        return observation.pose.pixels - (cut.x, cut.y)
    return _follow(watched.track, shot) - (cut.x, cut.y)


def _follow(track: Track, shot: _Shot) -> FloatArray:
    """Landmarks (33, 2) of somebody at the moment of a shot, in the frame; NaN where not seen."""
    times = shot.player.watched.track
    time_s = np.interp(shot.frame, times.frames, times.times)
    pixels = track.between(np.array([shot.frame]), np.array([time_s])).pixels[0]
    return np.asarray(pixels, float)
