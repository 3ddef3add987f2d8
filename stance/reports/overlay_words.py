"""What the overlay video says: the lines of its caption, and the tags above the players' heads."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from stance.reports.drawing import can_write
from stance.reports.sentences import class_words, stance_words
from stance.results.model import PlayerResult, ReadyPosition, Result
from stance.runtime.language import format_day, format_number
from stance.runtime.language import gettext as _
from stance.types import CLASS_NAMES, StanceClass

_CONTACT_SHOWN_S = 0.12
"""A contact is written on the overlay for so long before and after it, seconds: a single frame is
not seen."""


@dataclass(frozen=True)
class Tag:
    """What is written above a player's head, and what it is about: its colour follows from that."""

    about: Literal["theirs", "own", "name"] | StanceClass
    text: str


def position_at(frame: int, player: PlayerResult) -> ReadyPosition | None:
    """The ready position that a frame is part of; None between ready positions."""
    return next(
        (p for p in player.ready_positions if p.start_frame <= frame <= p.end_frame),
        None,
    )


def caption_lines(
    time_s: float, result: Result, positions: Mapping[str, ReadyPosition | None]
) -> list[str]:
    """Lines for the caption bar: what the clip is, and what each player does; always as many.

    Parameters
    ----------
    time_s
        of the frame, seconds
    result
        of the clip
    positions
        of the frame by the players' letters; None between ready positions
    """
    known = (format_day(result.date), result.session)
    time = _("{seconds} s").format(seconds=format_number(time_s, 1))
    if len(result.players) != 1:
        lines = ["   ".join(filter(None, (time, *known)))]
        return lines + [_describe_one_of_two(p, positions[p.player]) for p in result.players]
    player = result.players[0]
    position = positions[player.player]
    doing = _("between ready positions")
    if position is not None:
        number = 1 + player.ready_positions.index(position)
        doing = _("ready position {number}: {stance}").format(
            number=number, stance=class_words(position)
        )
    titles = "   ".join(filter(None, (player.name and _call(player), *known)))
    measures = "" if position is None else _spell_degrees(stance_words(position))
    return [*([titles] if titles else []), f"{time}   {doing}", measures]


def tags_at(
    time_s: float, player: PlayerResult, position: ReadyPosition | None, is_alone: bool
) -> list[Tag]:
    """What is written above a player's head, the lowest first.

    Parameters
    ----------
    time_s
        of the frame, seconds
    player
        with their strokes
    position
        the ready position that the frame is part of; None between ready positions
    is_alone
        whether nobody else is measured, so that no name is needed
    """
    # The longest lasting stands lowest, so that it keeps its place.
    tags = []
    name = "" if is_alone else _call(player)
    if position is not None:
        stance = _(CLASS_NAMES[position.stance_class])
        if player.strokes_faced:
            stance = _("set, {stance}").format(stance=stance)
        tags.append(Tag(position.stance_class, f"{name}: {stance}" if name else stance))
    elif name:
        tags.append(Tag("name", name))
    for faced in player.strokes_faced:
        if abs(faced.time_s - time_s) <= _CONTACT_SHOWN_S:
            what = _("their serve") if faced.serve else _("their contact")
            if faced.met == "on_the_move":
                moving = _("their serve, on the move"), _("their contact, on the move")
                what = moving[0] if faced.serve else moving[1]
            tags.append(Tag("theirs", what))
    if any(abs(own.time_s - time_s) <= _CONTACT_SHOWN_S for own in player.own_strokes):
        tags.append(Tag("own", _("own contact")))
    return tags


def _describe_one_of_two(player: PlayerResult, position: ReadyPosition | None) -> str:
    """A line of the caption for one of two players; the class is written above the head."""
    who = _call(player)
    if position is None:
        return _("{player}: between ready positions").format(player=who)
    number = 1 + player.ready_positions.index(position)
    return _("{player}: ready position {number}, {measures}").format(
        player=who, number=number, measures=_spell_degrees(stance_words(position))
    )


def _call(player: PlayerResult) -> str:
    """The player's name, or the letter where there is none or OpenCV's letters can't write it."""
    return player.name if player.name and can_write(player.name) else player.player


def _spell_degrees(text: str) -> str:
    """The letters with which OpenCV writes have no degree sign."""
    return text.replace("°", " " + _("degrees"))
