"""The cards of a clip's report: one for each ready position, and the strokes met on the move."""

import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

from stance.assessment.picture_key import Moment, PictureKey
from stance.reports.kept_pictures import picture_source
from stance.reports.pictures import jpeg
from stance.reports.sentences import how_sure, measure_rows, stance_words
from stance.reports.stance_chart import view_from_above
from stance.reports.stroke_words import contact_words, feet_words, offset_words
from stance.results.model import PlayerResult, ReadyPosition, StrokeFaced
from stance.types import RACKET_FOOT_LEADING, ImageArray

# All pictures together stay under this, so that a report of 20 cards is below 3 MB (base64
# takes a third more), and a single picture never needs more than the largest.
_PICTURES_BYTES = 1_900_000

_PICTURE_BYTES = (20_000, 95_000)

_MOMENT_PART = 0.5
"""A picture of a moment that is not measured gets this part of a key picture's bytes."""


@dataclass(frozen=True)
class PackedPictures:
    """Pictures as they stand in the page itself, by player, number and moment."""

    by_key: Mapping[PictureKey, dict[str, Any]]

    def find(self, player: str, number: int, moment: Moment = "key") -> dict[str, Any] | None:
        """A picture; None where there is none."""
        return self.by_key.get(PictureKey(player, number, moment))


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


def list_cards(
    player: PlayerResult, pictures: PackedPictures, place_known: bool
) -> list[dict[str, Any]]:
    """What the template shows of each ready position.

    Parameters
    ----------
    player
        the player
    pictures
        of the clip
    place_known
        whether the camera knows where on the court the player stands
    """
    strokes = player.stroke_of
    return [
        _card(player, number, strokes.get(number - 1), pictures, place_known)
        for number in range(1, len(player.ready_positions) + 1)
    ]


def list_strokes_unset(player: PlayerResult, pictures: PackedPictures) -> list[dict[str, Any]]:
    """What the template shows of the strokes that were not met set, one group for each way."""
    groups = []
    counts = player.stroke_counts
    for met, title, count in (
        ("on_the_move", "Met on the move", counts.on_the_move),
        ("not_seen", "Not seen well enough", counts.not_seen),
    ):
        strokes = [
            {
                "contact": contact_words(stroke),
                "serve": stroke.serve,
                "picture": pictures.find(player.player, number, "stroke"),
                "alternative": f"The player at {stroke.time_s:.2f} s, {title.lower()}",
            }
            for number, stroke in enumerate(player.strokes_faced, 1)
            if stroke.met == met
        ]
        if strokes:
            groups.append({"title": f"{title}: {count} of {counts.in_play}", "strokes": strokes})
    return groups


def _card(
    player: PlayerResult,
    number: int,
    stroke: StrokeFaced | None,
    pictures: PackedPictures,
    place_known: bool,
) -> dict[str, Any]:
    """What the template shows of one ready position."""
    position = player.ready_positions[number - 1]
    alternative = f"Ready position {number}: {stance_words(position)}"
    facts = [] if stroke is None else [contact_words(stroke), feet_words(stroke, position)]
    return {
        "number": number,
        "class": position.stance_class,
        "class_name": position.class_name,
        "leading": position.has_leading_foot,
        "serve": stroke is not None and stroke.serve,
        "time": f"{position.start_s:.1f} to {position.end_s:.1f} s",
        "duration": f"{position.duration_s:.1f} s"
        if stroke is None
        else f"set for {position.duration_s:.2f} s",
        "sure": how_sure(position),
        "picture": pictures.find(player.player, number),
        "alternative": alternative,
        "moments": []
        if stroke is None
        else _list_moments(player, number, stroke, position, pictures),
        "facts": facts,
        "view": view_from_above(position, player.hand, place_known),
        "measures": measure_rows(position, place_known),
        # The remark that the racket foot leads stands beside the class.
        "remarks": [r for r in position.remarks if r != RACKET_FOOT_LEADING],
    }


def _list_moments(
    player: PlayerResult,
    number: int,
    stroke: StrokeFaced,
    position: ReadyPosition,
    pictures: PackedPictures,
) -> list[dict[str, Any]]:
    """The contact and the landing in their order, then the key frame; those with a picture."""
    landing_s = position.start_s - stroke.time_s
    contact = _moment(
        pictures.find(player.player, number, "contact"),
        "contact",
        f"{stroke.time_s:.2f} s",
        f"Ready position {number}: the player at the contact",
    )
    landing = _moment(
        pictures.find(player.player, number, "landing"),
        "both feet down",
        offset_words(landing_s),
        f"Ready position {number}: the player as both feet are down",
    )
    measured = _moment(
        pictures.find(player.player, number),
        "as measured",
        "",
        f"Ready position {number}: {stance_words(position)}",
    )
    before = [contact, landing] if landing_s >= 0 else [landing, contact]
    return [moment for moment in (*before, measured) if moment["picture"]]


def _moment(
    picture: dict[str, Any] | None, title: str, when: str, alternative: str
) -> dict[str, Any]:
    """What the template shows of one moment."""
    return {"picture": picture, "title": title, "when": when, "alternative": alternative}


def _image(key: PictureKey, picture: ImageArray, most_bytes: int) -> dict[str, Any]:
    """A picture as it stands in the page itself."""
    height, width = picture.shape[:2]
    source = picture_source(key, jpeg(picture, most_bytes))
    return {"source": source, "width": width, "height": height}
