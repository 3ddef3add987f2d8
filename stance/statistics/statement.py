"""The coach's sentence: how many ready positions a player had of each class, in plain words."""

from collections.abc import Sequence

import numpy as np

from stance.results.model import PlayerResult, ReadyPosition
from stance.types import CLASS_NAMES, CLASSES


def plain_statement(player: PlayerResult) -> str:
    """The coach's sentence: how many ready positions were over-side-on, which way, and the rest.

    Which way is told by the larger of lead angle and hip yaw: the racket side leads where it is
    positive.
    """
    total, assessed = len(player.ready_positions), player.assessed
    if total == 0:
        return "No ready position was found."
    if assessed == 0:
        if total == 1:
            return "One ready position was found, and it could not be assessed."
        return f"{total} ready positions were found, and none of them could be assessed."
    by_class = {
        name: [p for p in player.ready_positions if p.stance_class == name] for name in CLASSES
    }
    counts = {name: len(members) for name, members in by_class.items() if members}
    which_way = _which_way(by_class["over_side_on"])
    if len(counts) == 1:
        (name,) = counts
        subject = {
            1: "The one assessed ready position was",
            2: "Both assessed ready positions were",
        }.get(assessed, f"All {assessed} assessed ready positions were")
        sentence = f"{subject} {CLASS_NAMES[name]}{which_way}."
    else:
        over = counts.pop("over_side_on", 0)
        subject = f"{over} of" if over else "None of the"
        verb = "were" if over > 1 else "was"
        rest = [f"{count} {CLASS_NAMES[name]}" for name, count in counts.items()]
        rest_verb = "was" if next(iter(counts.values())) == 1 else "were"
        rest[0] = rest[0].replace(" ", f" {rest_verb} ", 1)
        sentence = (
            f"{subject} {assessed} assessed ready positions {verb} "
            f"over-side-on{which_way}; {', '.join(rest)}."
        )
    missing = player.not_assessed
    return f"{sentence} {missing} could not be assessed." if missing else sentence


def clip_statement(players: Sequence[PlayerResult]) -> str:
    """The sentences for all players of a clip, each named where there are several."""
    if not players:
        return "No player was found, so nothing could be assessed."
    if len(players) == 1:
        return plain_statement(players[0])
    return " ".join(f"{p.title}: {plain_statement(p)}" for p in players)


def racket_side_leads(position: ReadyPosition) -> bool:
    """Whether the racket side leads, by the larger of lead angle and hip yaw."""
    angles = np.array([position.lead_angle_deg, position.hip_yaw_deg])
    return bool(angles[np.nanargmax(np.abs(angles))] > 0)


def _which_way(over_side_on: Sequence[ReadyPosition]) -> str:
    """The half sentence on which side leads, empty without positions."""
    total = len(over_side_on)
    if total == 0:
        return ""
    leading = sum(racket_side_leads(p) for p in over_side_on)
    if leading in (0, total):
        quantity = {1: "", 2: "both "}.get(total, "all ")
        side = "leading" if leading else "back"
        return f", {quantity}with the racket side {side}"
    return f", {leading} of them with the racket side leading and {total - leading} with it back"
