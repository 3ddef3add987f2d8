"""The coach's sentences: strokes faced, and how many ready positions of each class."""

from collections.abc import Sequence

from stance.results.model import PlayerResult, ReadyPosition
from stance.types import ANGLES_UNSURE, AT_REST, CLASS_NAMES, CLASSES, NET_UNKNOWN, StanceClass

NO_STROKE_TOLD = (
    "No stroke of the other side could be told, so each wait counts as one ready position."
)


def plain_statement(player: PlayerResult) -> str:
    """The coach's sentences: strokes faced and how they were met, then the stances.

    Of the stances: how many were over-side-on, which side leads in them, and the rest; in how many
    the racket foot leads; what was left out.
    """
    return " ".join(filter(None, (describe_strokes(player), describe_stances(player))))


def clip_statement(players: Sequence[PlayerResult]) -> str:
    """The sentences for all players of a clip, each named where there are several."""
    if not players:
        return "No player was found, so nothing could be assessed."
    if len(players) == 1:
        return plain_statement(players[0])
    return " ".join(f"{p.title}: {plain_statement(p)}" for p in players)


def describe_strokes(player: PlayerResult) -> str:
    """How many strokes were faced, and how they were met; empty where none could be told."""
    counts = player.stroke_counts
    if not player.strokes_faced:
        return ""
    if counts.in_play == 0:
        return "No stroke was faced but serves."
    met = [f"{counts.met_set or 'none'} met set", f"{counts.on_the_move or 'none'} on the move"]
    if counts.not_seen:
        met.append(f"{counts.not_seen} not seen well enough")
    strokes = "1 stroke" if counts.in_play == 1 else f"{counts.in_play} strokes"
    return f"{strokes} faced: {', '.join(met)}."


def describe_stances(player: PlayerResult) -> str:
    """How many ready positions are of each class, and what was left out.

    Empty where strokes were faced, but none met set.
    """
    return " ".join(
        [
            *_count_classes(player),
            *_describe_leading_foot(player),
            *_describe_left_out(player),
        ]
    )


def _count_classes(player: PlayerResult) -> list[str]:
    """How many ready positions are of each class."""
    positions, assessed = player.counted_positions, player.assessed
    if not positions:
        return [] if player.strokes_faced else ["No ready position was found."]
    if assessed == 0:
        why = _why_none(positions)
        if len(positions) == 1:
            return [f"One ready position was found, and it could not be assessed{why}."]
        return [
            f"{len(positions)} ready positions were found, and none of them could be assessed{why}."
        ]
    by_class = {name: [p for p in positions if p.stance_class == name] for name in CLASSES}
    counts = {name: len(members) for name, members in by_class.items() if members}
    which_way = _which_way(by_class["over_side_on"])
    if len(counts) > 1:
        return [_describe_mixture(counts, assessed, which_way)]
    (name,) = counts
    subject = {
        1: "The one assessed ready position was",
        2: "Both assessed ready positions were",
    }.get(assessed, f"All {assessed} assessed ready positions were")
    return [f"{subject} {CLASS_NAMES[name]}{which_way}."]


def _why_none(positions: Sequence[ReadyPosition]) -> str:
    """Why none of some ready positions is assessed, a half sentence; empty for no one reason."""
    if all(NET_UNKNOWN in position.remarks for position in positions):
        return ": it is not known where the net is"
    if all(AT_REST in position.remarks for position in positions):
        return ": the player rests and does not play"
    if all(ANGLES_UNSURE in position.remarks for position in positions):
        return ": their angles are too unsure to mean anything"
    return ""


def _describe_mixture(counts: dict[StanceClass, int], assessed: int, which_way: str) -> str:
    """The sentence on ready positions of several classes."""
    over = counts.get("over_side_on", 0)
    others = {name: count for name, count in counts.items() if name != "over_side_on"}
    subject = f"{over} of" if over else "None of the"
    verb = "were" if over > 1 else "was"
    rest = [f"{count} {CLASS_NAMES[name]}" for name, count in others.items()]
    rest_verb = "was" if next(iter(others.values())) == 1 else "were"
    rest[0] = rest[0].replace(" ", f" {rest_verb} ", 1)
    return (
        f"{subject} {assessed} assessed ready positions {verb} "
        f"over-side-on{which_way}; {', '.join(rest)}."
    )


def _describe_leading_foot(player: PlayerResult) -> list[str]:
    """In how many assessed ready positions the racket foot leads; nothing where in none."""
    share = player.racket_foot_leading
    if share is None or share.count == 0 or player.assessed == 1:
        return []
    return [f"In {share.count} of the {player.assessed} the racket foot was leading."]


def _describe_left_out(player: PlayerResult) -> list[str]:
    """What the shares leave out: what could not be assessed, and serves."""
    sentences = []
    if player.not_assessed and player.assessed:
        sentences.append(f"{player.not_assessed} could not be assessed.")
    counts = player.stroke_counts
    if counts.serves and counts.in_play:
        serves = "1 serve" if counts.serves == 1 else f"{counts.serves} serves"
        sentences.append(f"{serves} faced, not counted.")
    return sentences


def _which_way(over_side_on: Sequence[ReadyPosition]) -> str:
    """The half sentence on which side leads, empty without positions."""
    total = len(over_side_on)
    if total == 0:
        return ""
    leading = sum(p.racket_side_leads for p in over_side_on)
    if leading in (0, total):
        quantity = {1: "", 2: "both "}.get(total, "all ")
        side = "leading" if leading else "back"
        return f", {quantity}with the racket side {side}"
    return f", {leading} of them with the racket side leading and {total - leading} with it back"
