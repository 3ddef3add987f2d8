"""The clearest right and the clearest wrong moment of a player, to be shown side by side."""

from collections.abc import Callable, Collection

from stance.assessment.advice import AdviceKind
from stance.assessment.picture_key import PictureKey
from stance.assessment.tendencies import LATE_S
from stance.results.model import PlayerResult, ReadyPosition
from stance.types import NOT_ASSESSED


def clearest_right(
    player: PlayerResult, kind: AdviceKind, shown: Collection[PictureKey]
) -> PictureKey | None:
    """The surest square or slightly racket-leg-back ready position, without a foot in front.

    Parameters
    ----------
    player
        in one clip
    kind
        of the advice
    shown
        pictures there are

    Returns
    -------
    None where there is none with a picture. Of equally sure ones it is the least turned. Where
    landings are late, it is the contact of the earliest landing instead.
    """
    if kind == "late":
        landings = _list_landings(player, shown)
        in_time = {key for key, after_s in landings.items() if after_s <= LATE_S}
        return min(in_time, key=landings.__getitem__, default=None)
    return _clearest(player, shown, is_right, clearness)


def clearest_wrong(
    player: PlayerResult, kind: AdviceKind, shown: Collection[PictureKey]
) -> PictureKey | None:
    """The moment that shows best what is to be worked on.

    Parameters
    ----------
    player
        in one clip
    kind
        of the advice
    shown
        pictures there are

    Returns
    -------
    None where there is none with a picture. Of equally sure over-side-on ready positions it is the
    most turned; of late landings the latest at the contact; of strokes met on the move the first.
    """
    if kind == "racket_foot_in_front":
        return _clearest(
            player,
            shown,
            lambda p: p.has_leading_foot,
            lambda p: (round(p.racket_foot_leading, 2), p.lead_angle_deg),
        )
    if kind == "late":
        landings = _list_landings(player, shown)
        return max(landings, key=landings.__getitem__, default=None)
    if kind == "on_the_move":
        keys = (
            PictureKey(player.player, number, "stroke")
            for number, stroke in enumerate(player.strokes_faced, 1)
            if stroke.met == "on_the_move" and not stroke.serve
        )
        return next((key for key in keys if key in shown), None)
    return _clearest(player, shown, lambda p: p.stance_class == "over_side_on", clearness)


def is_right(position: ReadyPosition) -> bool:
    """Whether a stance is square or slightly racket-leg-back, without the racket foot in front."""
    right = position.stance_class not in ("over_side_on", NOT_ASSESSED)
    return right and not position.has_leading_foot


def clearness(position: ReadyPosition) -> tuple[float, float]:
    """How clearly a ready position shows its class; the greater, the clearer.

    How sure the class is, to one percent; of equally sure over-side-on ones the most turned is the
    clearest, of others the least turned.
    """
    sure = round(position.probabilities[position.stance_class], 2)
    is_over = position.stance_class == "over_side_on"
    return sure, position.turned_deg if is_over else -position.turned_deg


def _list_landings(player: PlayerResult, shown: Collection[PictureKey]) -> dict[PictureKey, float]:
    """Pictures of contacts in play, with the time from there to both feet down, seconds."""
    strokes = player.stroke_of
    landings = {
        PictureKey(player.player, index + 1, "contact"): player.ready_positions[index].start_s
        - strokes[index].time_s
        for index in player.counted_indices
        if index in strokes
    }
    return {key: after_s for key, after_s in landings.items() if key in shown}


def _clearest(
    player: PlayerResult,
    shown: Collection[PictureKey],
    belongs: Callable[[ReadyPosition], bool],
    clear: Callable[[ReadyPosition], tuple[float, float]],
) -> PictureKey | None:
    """The clearest of the counted ready positions that belong and have a picture."""
    found = {
        PictureKey(player.player, index + 1): clear(player.ready_positions[index])
        for index in player.counted_indices
        if belongs(player.ready_positions[index])
    }
    return max((key for key in found if key in shown), key=found.__getitem__, default=None)
