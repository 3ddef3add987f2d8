"""Pictures packed into a page itself, so that together they keep to a size."""

import os
from collections.abc import Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from stance.assessment.picture_key import Moment, PictureKey
from stance.reports.kept_pictures import picture_source
from stance.reports.pictures import jpeg
from stance.types import ImageArray

# All pictures together stay under this, so that a report of 20 cards is below 3 MB (base64
# takes a third more, and three pictures beside the cards come on top), and a single picture never
# needs more than the largest.
_PICTURES_BYTES = 1_750_000

_PICTURE_BYTES = (20_000, 95_000)

_MOMENT_PART = 0.5
"""A picture of a moment that is not measured gets this part of a key picture's bytes."""


@dataclass(frozen=True)
class PackedPictures:
    """Pictures as they stand in the page itself, by player, number and moment."""

    by_key: Mapping[PictureKey, dict[str, Any]]

    @property
    def keys(self) -> Collection[PictureKey]:
        """Which pictures there are."""
        return self.by_key.keys()

    def find(self, player: str, number: int, moment: Moment = "key") -> dict[str, Any] | None:
        """A picture; None where there is none."""
        return self.by_key.get(PictureKey(player, number, moment))


def pack_picture(picture: ImageArray) -> dict[str, Any]:
    """Pack a picture (height, width, 3), uint8 RGB, that is no player's."""
    return _image(None, picture, _PICTURE_BYTES[1])


def pack_pictures(pictures: Mapping[PictureKey, ImageArray]) -> PackedPictures:
    """Draw and pack all pictures of a clip, so that together they keep to a size.

    Parameters
    ----------
    pictures
        (height, width, 3) uint8 RGB
    """
    keys = list(pictures)
    weights = [1.0 if key.moment == "key" else _MOMENT_PART for key in keys]
    most = min(max(_PICTURES_BYTES / max(sum(weights), 1.0), _PICTURE_BYTES[0]), _PICTURE_BYTES[1])

    def pack(key: PictureKey, weight: float) -> dict[str, Any]:
        return _image(key, pictures[key], round(most * weight))

    # OpenCV draws and packs pictures beside each other.
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return PackedPictures(dict(zip(keys, pool.map(pack, keys, weights), strict=True)))


def _image(key: PictureKey | None, picture: ImageArray, most_bytes: int) -> dict[str, Any]:
    """A picture as it stands in the page itself."""
    height, width = picture.shape[:2]
    source = picture_source(key, jpeg(picture, most_bytes))
    return {"source": source, "width": width, "height": height}
