"""The coach's sentences: strokes faced, and how many ready positions of each class."""

from collections.abc import Sequence

from stance.results.model import PlayerResult, ReadyPosition
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.types import ANGLES_UNSURE, AT_REST, CLASS_NAMES, CLASSES, NET_UNKNOWN, StanceClass

NO_STROKE_TOLD = _(
    "No stroke of the other side could be told, so each wait counts as one ready position."
)

# Which side leads in one, two or more positions that agree.
_WHICH_WAY = {
    True: (
        _(", with the racket side in front"),
        _(", both with the racket side in front"),
        _(", all with the racket side in front"),
    ),
    False: (
        _(", with the racket side back"),
        _(", both with the racket side back"),
        _(", all with the racket side back"),
    ),
}


def plain_statement(player: PlayerResult) -> str:
    """The coach's sentences: strokes faced and how they were met, then the stances.

    Of the stances: how many were over-side-on, which side leads in them, and the rest; in how many
    the racket foot leads; what was left out.
    """
    return " ".join(filter(None, (describe_strokes(player), describe_stances(player))))


def clip_statement(players: Sequence[PlayerResult]) -> str:
    """The sentences for all players of a clip, each named where there are several."""
    if not players:
        return _("No player was found, so nothing could be assessed.")
    if len(players) == 1:
        return plain_statement(players[0])
    return " ".join(f"{p.title}: {plain_statement(p)}" for p in players)


def describe_strokes(player: PlayerResult) -> str:
    """How many strokes were faced, and how they were met; empty where none could be told."""
    counts = player.stroke_counts
    if not player.strokes_faced:
        return ""
    if counts.in_play == 0:
        return _("No stroke was faced but serves.")
    met = [
        _("{number} met set").format(number=counts.met_set)
        if counts.met_set
        else _("none met set"),
        _("{number} on the move").format(number=counts.on_the_move)
        if counts.on_the_move
        else _("none on the move"),
    ]
    if counts.not_seen:
        met.append(_("{number} not seen well enough").format(number=counts.not_seen))
    return ngettext(
        "{number} stroke faced: {how}.", "{number} strokes faced: {how}.", counts.in_play
    ).format(number=counts.in_play, how=", ".join(met))


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
        return [] if player.strokes_faced else [_("No ready position was found.")]
    if assessed == 0:
        return [
            ngettext(
                "One ready position was found, and it could not be assessed{why}.",
                "{number} ready positions were found, and none of them could be assessed{why}.",
                len(positions),
            ).format(number=len(positions), why=_why_none(positions))
        ]
    by_class = {name: [p for p in positions if p.stance_class == name] for name in CLASSES}
    counts = {name: len(members) for name, members in by_class.items() if members}
    which_way = _which_way(by_class["over_side_on"])
    if len(counts) > 1:
        return [_describe_mixture(counts, assessed, which_way)]
    (name,) = counts
    sentence = ngettext(
        "The one assessed ready position was {stance}{which_way}.",
        "All {number} assessed ready positions were {stance}{which_way}.",
        assessed,
    )
    if assessed == 2:
        sentence = _("Both assessed ready positions were {stance}{which_way}.")
    stance = _(CLASS_NAMES[name])
    return [sentence.format(number=assessed, stance=stance, which_way=which_way)]


def _why_none(positions: Sequence[ReadyPosition]) -> str:
    """Why none of some ready positions is assessed, a half sentence; empty for no one reason."""
    if all(NET_UNKNOWN in position.remarks for position in positions):
        return _(": it is not known where the net is")
    if all(AT_REST in position.remarks for position in positions):
        return _(": the player rests and does not play")
    if all(ANGLES_UNSURE in position.remarks for position in positions):
        return _(": their angles are too unsure to mean anything")
    return ""


def _describe_mixture(counts: dict[StanceClass, int], assessed: int, which_way: str) -> str:
    """The sentence on ready positions of several classes."""
    over = counts.get("over_side_on", 0)
    others = {name: count for name, count in counts.items() if name != "over_side_on"}
    rest = [
        _("{number} {stance}").format(number=count, stance=_(CLASS_NAMES[name]))
        for name, count in others.items()
    ]
    (name, count), *_more = others.items()
    rest[0] = ngettext("{number} was {stance}", "{number} were {stance}", count).format(
        number=count, stance=_(CLASS_NAMES[name])
    )
    if not over:
        return _(
            "None of the {assessed} assessed ready positions was over-side-on; {rest}."
        ).format(assessed=assessed, rest=", ".join(rest))
    return ngettext(
        "{number} of {assessed} assessed ready positions was over-side-on{which_way}; {rest}.",
        "{number} of {assessed} assessed ready positions were over-side-on{which_way}; {rest}.",
        over,
    ).format(number=over, assessed=assessed, which_way=which_way, rest=", ".join(rest))


def _describe_leading_foot(player: PlayerResult) -> list[str]:
    """In how many assessed ready positions the racket foot leads; nothing where in none."""
    share = player.racket_foot_leading
    if share is None or share.count == 0 or player.assessed == 1:
        return []
    return [
        _("In {count} of the {assessed} the racket foot was in front.").format(
            count=share.count, assessed=player.assessed
        )
    ]


def _describe_left_out(player: PlayerResult) -> list[str]:
    """What the shares leave out: what could not be assessed, and serves."""
    sentences = []
    if player.not_assessed and player.assessed:
        sentences.append(
            _("{not_assessed} could not be assessed.").format(not_assessed=player.not_assessed)
        )
    counts = player.stroke_counts
    if counts.serves and counts.in_play:
        sentences.append(
            ngettext(
                "{number} serve faced, not counted.",
                "{number} serves faced, not counted.",
                counts.serves,
            ).format(number=counts.serves)
        )
    return sentences


def _which_way(over_side_on: Sequence[ReadyPosition]) -> str:
    """The half sentence on which side leads, empty without positions."""
    total = len(over_side_on)
    if total == 0:
        return ""
    leading = sum(p.racket_side_leads for p in over_side_on)
    if leading in (0, total):
        one, both, several = _WHICH_WAY[leading > 0]
        return {1: one, 2: both}.get(total, several)
    return _(", {front} of them with the racket side in front and {back} with it back").format(
        front=leading, back=total - leading
    )
