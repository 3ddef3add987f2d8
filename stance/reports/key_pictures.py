"""The key pictures of a clip's ready positions."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from stance.assessment.players import MeasuredPlayer
from stance.reports.pictures import key_picture
from stance.results.model import ReadyPosition
from stance.types import ImageArray


class KeyPictures(Mapping[tuple[str, int], ImageArray]):
    """Key pictures by player and number, drawn when asked for: together they would fill memory."""

    def __init__(self, measured: Mapping[str, MeasuredPlayer]) -> None:
        self._measured = measured
        self._positions = {
            (letter, number): position
            for letter, one in measured.items()
            for number, position in enumerate(one.positions, 1)
        }

    def __getitem__(self, key: tuple[str, int]) -> ImageArray:
        return _drawn(self._measured[key[0]], self._positions[key])

    def __iter__(self) -> Iterator[tuple[str, int]]:
        return iter(self._positions)

    def __len__(self) -> int:
        return len(self._positions)


def _drawn(player: MeasuredPlayer, position: ReadyPosition) -> ImageArray:
    """Draw a ready position on its key frame."""
    cut = player.watched.key_crops[position.key_frame]
    observation = player.watched.observations[position.key_frame]
    image = cut.image
    matrix = player.camera.matrix - np.array([[0, 0, cut.x], [0, 0, cut.y], [0, 0, 0]])
    camera = replace(player.camera, matrix=matrix, image_size=image.shape[1::-1])
    return key_picture(
        image, observation.pose.pixels - (cut.x, cut.y), position, camera, player.racket.hand
    )
