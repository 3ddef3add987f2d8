"""The cards of a clip's report: one for each ready position, and the strokes met on the move."""

from typing import Any

from stance.assessment.tendencies import LATE_S
from stance.reports.packed_pictures import PackedPictures
from stance.reports.sentences import class_words, how_sure, measure_rows, stance_words
from stance.reports.stance_chart import view_from_above
from stance.reports.stroke_words import contact_words, feet_words, offset_words
from stance.results.model import PlayerResult, ReadyPosition, StrokeFaced
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.types import NOT_ASSESSED, RACKET_FOOT_LEADING

OVERLAY_FILE = "overlay.mp4"

_MOST_OPEN = 30
"""So many cards are open from the start: in a minute nobody faces more strokes."""

_LEAST_URGENT = 4
"""Rank of the cards that are folded away."""

_BEFORE_S = 0.8
"""A link into the video leads so long before its moment, seconds: to see the player come."""


def list_cards(
    player: PlayerResult,
    pictures: PackedPictures,
    place_known: bool,
    overlay: bool,
    late: bool = False,
) -> dict[str, list[dict[str, Any]]]:
    """What the template shows of each ready position.

    Parameters
    ----------
    player
        the player
    pictures
        of the clip
    place_known
        whether the camera knows where on the court the player stands
    overlay
        whether the overlay video lies beside the report
    late
        whether late landings are what is to be worked on

    Returns
    -------
    "first": the cards that a coach looks at first, late landings where these are to be worked on,
    over-side-on, with the racket foot in front and then not assessed, the surest first; "further":
    those of them that are too many to be open; "other" ones; and "all", in the order of time as
    the others are
    """
    strokes = player.stroke_of
    cards = [
        _card(player, number, strokes.get(number - 1), pictures, place_known)
        | {"video": video_link(_shown_s(position, strokes.get(number - 1))) if overlay else ""}
        for number, position in enumerate(player.ready_positions, 1)
    ]
    ranks = [_rank(player, number, late) for number in range(len(cards))]
    first = sorted(
        (number for number, rank in enumerate(ranks) if rank < _LEAST_URGENT),
        key=lambda number: (ranks[number], -_certainty(player.ready_positions[number])),
    )
    urgent = [cards[number] for number in first]
    return {
        "first": urgent[:_MOST_OPEN],
        "further": urgent[_MOST_OPEN:],
        "other": [card for number, card in enumerate(cards) if number not in first],
        "all": cards,
    }


def video_link(time_s: float) -> str:
    """A link to a moment of the overlay video, shortly before a time in the clip, seconds."""
    return f"{OVERLAY_FILE}#t={max(time_s - _BEFORE_S, 0.0):.1f}"


def _shown_s(position: ReadyPosition, stroke: StrokeFaced | None) -> float:
    """When a card's moment is, seconds: the first of landing and contact."""
    return position.start_s if stroke is None else min(position.start_s, stroke.time_s)


def _rank(player: PlayerResult, index: int, late: bool) -> int:
    """How soon a coach looks at a ready position, 0 first."""
    position, stroke = player.ready_positions[index], player.stroke_of.get(index)
    if index not in player.counted_indices:
        return _LEAST_URGENT
    if late and stroke is not None and position.start_s - stroke.time_s > LATE_S:
        return 0
    if position.stance_class == "over_side_on":
        return 1
    if position.has_leading_foot:
        return 2
    return 3 if position.stance_class == NOT_ASSESSED else _LEAST_URGENT


def _certainty(position: ReadyPosition) -> float:
    """How sure the class is, or, without one, the likeliest."""
    return max(position.probabilities.values(), default=0.0)


def list_strokes_unset(
    player: PlayerResult, pictures: PackedPictures, overlay: bool
) -> list[dict[str, Any]]:
    """What the template shows of the strokes that were not met set, one group for each way."""
    groups = []
    counts = player.stroke_counts
    for met, title, alternative, count in (
        (
            "on_the_move",
            _("Met on the move: {count} of {total}"),
            _("The player at {time} s, met on the move"),
            counts.on_the_move,
        ),
        (
            "not_seen",
            _("Not seen well enough: {count} of {total}"),
            _("The player at {time} s, not seen well enough"),
            counts.not_seen,
        ),
    ):
        strokes = [
            {
                "contact": contact_words(stroke),
                "serve": stroke.serve,
                "picture": pictures.find(player.player, number, "stroke"),
                "alternative": alternative.format(time=format_number(stroke.time_s, 2)),
                "video": video_link(stroke.time_s) if overlay else "",
            }
            for number, stroke in enumerate(player.strokes_faced, 1)
            if stroke.met == met
        ]
        if strokes:
            title = title.format(count=count, total=counts.in_play)
            groups.append({"title": title, "strokes": strokes})
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
    start, end, length = (
        format_number(seconds, digits)
        for seconds, digits in (
            (position.start_s, 1),
            (position.end_s, 1),
            (position.duration_s, 1 if stroke is None else 2),
        )
    )
    times = _("{start} to {end} s ({length} s)")
    if stroke is not None:
        times = _("{start} to {end} s (set for {length} s)")
    unclear = position.stance_class == NOT_ASSESSED
    return {
        "number": number,
        "class": position.stance_class,
        "class_name": class_words(position),
        "leading": position.has_leading_foot,
        "serve": stroke is not None and stroke.serve,
        "start": start,
        "times": times.format(start=start, end=end, length=length),
        "line": how_sure(position) if unclear else stance_words(position),
        "sure": how_sure(position),
        "picture": pictures.find(player.player, number),
        "alternative": _alternative(number, position),
        "moments": []
        if stroke is None
        else _list_moments(player, number, stroke, position, pictures),
        "feet": "" if stroke is None else feet_words(stroke, position),
        "down": "" if stroke is None else offset_words(position.start_s - stroke.time_s),
        "contact": "" if stroke is None else contact_words(stroke),
        "view": view_from_above(position, player.hand, place_known),
        "measures": measure_rows(position, place_known),
        # The remark on the racket foot stands beside the class.
        "remarks": [_(r) for r in position.remarks if r != RACKET_FOOT_LEADING],
    }


def _alternative(number: int, position: ReadyPosition) -> str:
    """A key picture in words, for who can't see it."""
    return _("Ready position {number}: {stance}").format(
        number=number, stance=stance_words(position)
    )


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
        _("contact"),
        "",
        _("Ready position {number}: the player at the contact").format(number=number),
    )
    landing = _moment(
        pictures.find(player.player, number, "landing"),
        _("feet down"),
        offset_words(landing_s),
        _("Ready position {number}: the player as both feet are down").format(number=number),
    )
    measured = _moment(
        pictures.find(player.player, number),
        _("measured"),
        "",
        _alternative(number, position),
    )
    before = [contact, landing] if landing_s >= 0 else [landing, contact]
    return [moment for moment in (*before, measured) if moment["picture"]]


def _moment(
    picture: dict[str, Any] | None, title: str, when: str, alternative: str
) -> dict[str, Any]:
    """What the template shows of one moment."""
    return {"picture": picture, "title": title, "when": when, "alternative": alternative}
