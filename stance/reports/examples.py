"""The clearest right picture of a player and the clearest one to mend, side by side."""

from typing import Any

from stance.assessment.advice import AdviceKind
from stance.assessment.examples import clearest_right, clearest_wrong
from stance.assessment.picture_key import PictureKey
from stance.reports.packed_pictures import PackedPictures
from stance.reports.sentences import stance_words
from stance.results.model import PlayerResult
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _


def list_examples(
    player: PlayerResult, kind: AdviceKind, pictures: PackedPictures, anchor: str
) -> list[dict[str, Any]]:
    """What the template shows beside the advice: none, one or two pictures.

    Parameters
    ----------
    player
        the player
    kind
        of the advice
    pictures
        of the clip
    anchor
        start of the cards' names
    """
    # Where nothing sure is to be worked on, the picture is only the clearest of its kind.
    unsure = kind in ("right", "watch", "too_few")
    wrong = _("Clearest over-side-on") if unsure else _("To work on")
    chosen = (
        ("right", _("Clearest right"), clearest_right(player, kind, pictures.keys)),
        ("wrong", wrong, clearest_wrong(player, kind, pictures.keys)),
    )
    return [
        {"side": side, "title": title, "picture": pictures.find(key.player, key.number, key.moment)}
        | _describe(player, key, anchor)
        for side, title, key in chosen
        if key is not None
    ]


def _describe(player: PlayerResult, key: PictureKey, anchor: str) -> dict[str, Any]:
    """What an example shows, in words, and the card that it is from."""
    if key.moment == "stroke":
        stroke = player.strokes_faced[key.number - 1]
        words = _("on the move at the contact, {time} s").format(
            time=format_number(stroke.time_s, 1)
        )
        return {"words": words, "number": None, "link": ""}
    position = player.ready_positions[key.number - 1]
    words = stance_words(position)
    if key.moment == "contact":
        landing_s = position.start_s - player.stroke_of[key.number - 1].time_s
        words = _("at the contact; both feet already down")
        if landing_s > 0:
            words = _("at the contact; both feet down {time} s later").format(
                time=format_number(landing_s, 2)
            )
    return {"words": words, "number": key.number, "link": f"#{anchor}-{key.number}"}
