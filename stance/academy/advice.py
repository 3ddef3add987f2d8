"""What to do about a player after a screening; the rules stand in docs/comparing.md."""

from stance.academy.model import ScreenedPlayer
from stance.assessment.advice import Advice, advise
from stance.assessment.tendencies import CountedShare, gather_tendencies
from stance.runtime.language import gettext as _
from stance.types import LEADING, Counted

_OTHER_PATTERNS = ("racket_foot_in_front", "late", "on_the_move")


def advise_player(player: ScreenedPlayer) -> list[str]:
    """What to do, in sentences.

    Of a flagged player, what a report of all clips together would say; of the others, what the
    flag asks for, and what else such a report would work on.
    """
    advice = _find_advice(player)
    if player.flag == "too_few" or advice is None:
        return [
            _(
                "Film more, best on another day and from the same place: a minute of rallies or of "
                "a drill gives some twenty ready positions."
            )
        ]
    if player.flag == "no_sign":
        rest = list(advice.sentences) if advice.kind in _OTHER_PATTERNS else []
        return [_("Nothing to mend in how side-on the player stands."), *rest]
    if advice.kind in _OTHER_PATTERNS:
        return [*advice.sentences, _look_again(player)]
    # The headline of the page says how often over-side-on.
    sentences = [*filter(None, (advice.source, advice.work_on))]
    return [*sentences, _look_again(player)] if advice.kind == "over_side_on" else sentences


def _find_advice(player: ScreenedPlayer) -> Advice | None:
    """What a report of all the player's clips would advise."""
    shares: dict[Counted, CountedShare] = {name: share for name, share in player.shares.items()}
    shares[LEADING] = player.racket_foot_leading
    clips = [(clip.result, clip.player) for clip in player.clips]
    return advise(gather_tendencies(clips, shares, player.shares["over_side_on"].effective))


def _look_again(player: ScreenedPlayer) -> str:
    """When to film again."""
    if player.flag == "habit":
        return _("Film again in a month, from the same place, to see whether it goes.")
    return _("Film another day from the same place before changing anything.")
