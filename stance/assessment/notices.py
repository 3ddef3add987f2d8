"""What a coach is told about a result: what is missing, and what to do."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.assessment.players import MeasuredPlayer
from stance.court.calibration import FoundCourt
from stance.measures.handedness import SURE
from stance.measures.ready_positions import SHORTEST
from stance.results.model import ClipSummary, Notice, StrokeFaced
from stance.runtime.language import format_number, ngettext
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import quote_words
from stance.types import (
    ANGLES_UNSURE,
    AT_REST,
    FILMED_FROM,
    FILMED_FROM_WORDS,
    N_,
    NET_UNKNOWN,
    FilmedFrom,
    Hand,
)
from stance.watching.watched_clip import MarkedFit

# Median standard errors above these are worth a word on where to put the phone: about one still
# in twenty lies above.
_SURE_HIPS_DEG, _SURE_FEET_DEG = 8.0, 4.0

_COURTS = {
    "marked": N_("on the marked court"),
    "found": N_("on the found court"),
    None: N_("in the picture"),
}


@dataclass(frozen=True)
class Who:
    """A player whom a notice is about: clip's file, letter in it, and name, empty where none."""

    file: str
    letter: str
    name: str = ""

    @property
    def title(self) -> str:
        """What to call the player."""
        return self.name or _("Player {letter}").format(letter=self.letter)


def player_notices(who: Who, player: MeasuredPlayer) -> list[Notice]:
    """Return what to warn of about one player."""
    notices = []
    if player.racket.confidence < SURE:
        notices.append(_hand_unsure_notice(who, player.racket.hand))
    if not player.positions:
        faced = player.strokes_faced
        return [*notices, _never_set_notice(who, faced) if faced else _nothing_notice(who)]
    for remark, notice in ((AT_REST, _rests_notice), (ANGLES_UNSURE, _unsure_angles_notice)):
        if count := sum(remark in position.remarks for position in player.positions):
            notices.append(
                notice(
                    who,
                    _("{count} of {number}").format(count=count, number=len(player.positions)),
                )
            )
    known = [p for p in player.positions if not math.isnan(p.hip_yaw_se_deg + p.lead_angle_se_deg)]
    if not known:
        return notices
    hips, feet = (
        float(np.median([getattr(position, name) for position in known]))
        for name in ("hip_yaw_se_deg", "lead_angle_se_deg")
    )
    if hips > _SURE_HIPS_DEG or feet > _SURE_FEET_DEG:
        notices.append(_seen_badly_notice(who, hips, feet))
    return notices


def court_search_notice(
    file: str, found: FoundCourt, filmed_from: FilmedFrom | None = None
) -> Notice:
    """Return the notice that the court was found, or why not, and what the angles then rest on.

    Parameters
    ----------
    file
        name of the clip's file
    found
        the court searched
    filmed_from
        where the phone stood as somebody says
    """
    clip = quote_words(file)
    if found.court is not None:
        return Notice(
            "court_found",
            _(
                "The court was found by its lines, to {error} pixels. Look in the report's picture "
                "of the court whether the drawn lines lie on the painted ones. If they do not, all "
                "angles are wrong: mark the court with: stance court {clip}, then run again: "
                "stance analyse {clip}"
            ).format(error=format_number(found.court.error_px or 0.0, 1), clip=clip),
        )
    missing = _(
        "The court was not found. {reason} Or mark it with: stance court {clip}, then run again: "
        "stance analyse {clip}."
    ).format(reason=found.reason, clip=clip)
    if filmed_from is None:
        return Notice(
            "court_assumed",
            _(
                "{missing} Until then it is not known where the net is, and no stance can be "
                "told. To have them judged roughly, say where the phone stood, seen from the "
                "player who faces the net: stance analyse {clip} --filmed-from PLACE, which is "
                "{places} or {last}."
            ).format(
                missing=missing,
                clip=clip,
                places=", ".join(FILMED_FROM[:-1]),
                last=FILMED_FROM[-1],
            ),
        )
    return Notice(
        "court_assumed",
        _(
            "{missing} Until then the angles rest on the word that the phone stood "
            "{place}: they are unsure by 20 degrees or more, all of them the "
            "same way, places on the court are not shown, and the shares stay out of "
            "comparisons and screenings."
        ).format(missing=missing, place=_(FILMED_FROM_WORDS[filmed_from])),
    )


def court_file_notices(file: str, fit: MarkedFit) -> list[Notice]:
    """Return what to say of a court file that does not fit the clip, or can't be checked."""
    if fit == "unseen":
        return [
            Notice(
                "court_file_unchecked",
                _(
                    "Whether the court file fits this clip could not be seen, since too little of "
                    "its lines shows in the picture. If the phone was moved after the court was "
                    "marked, or the file is another clip's, all angles are wrong. Look at the "
                    "report's picture of the court; to mark it anew: stance court {clip}, then run "
                    "again: stance analyse {clip}"
                ).format(clip=quote_words(file)),
            )
        ]
    if fit == "replaced":
        return [
            Notice(
                "court_file_replaced",
                _(
                    "The court file does not fit this clip: the phone was moved after the court "
                    "was marked, or the file is another clip's. The court that was found by its "
                    "lines was taken instead."
                ),
            )
        ]
    return []


def said_place_notices(who: Who, player: MeasuredPlayer, filmed_from: FilmedFrom) -> list[Notice]:
    """Return the notice that the phone can't have stood where somebody says, if it is so."""
    if not any(NET_UNKNOWN in position.remarks for position in player.positions):
        return []
    return [
        Notice(
            "filmed_from_wrong",
            _(
                "If the phone had stood {place}, {player} would turn the back to the net at most "
                "moments, so that can't be right, and no stance can be told. Say where it stood, "
                "seen from the player who faces the net, or mark the court with: "
                "stance court {clip}"
            ).format(
                place=_(FILMED_FROM_WORDS[filmed_from]),
                player=who.title,
                clip=quote_words(who.file),
            ),
        )
    ]


def nobody_notice(summary: ClipSummary, court: str | None) -> Notice:
    """Return the notice that nobody was found on a "marked" or "found" court, or at all."""
    where = _(_COURTS[court])
    whole = _(
        "No player was found {where} in {file}. Film so that the player's whole body is in view, "
        "upright, at least 70 pixels tall."
    ).format(where=where, file=summary.file)
    check = _("Check that the court file belongs to this clip.")
    return Notice("no_player", f"{whole} {check}" if court == "marked" else whole)


def _never_set_notice(who: Who, faced: Sequence[StrokeFaced]) -> Notice:
    """Return the notice that a player was set for none of the strokes faced."""
    moving = sum(stroke.met == "on_the_move" for stroke in faced)
    if hidden := len(faced) - moving:
        how = _("{moving} met on the move, {hidden} not seen well enough to tell").format(
            moving=moving, hidden=hidden
        )
    else:
        how = _("all met on the move")
    sentence = ngettext(
        "{player} faced {number} stroke, {how}: there is no stance to measure.",
        "{player} faced {number} strokes, {how}: there is no stance to measure.",
        len(faced),
    ).format(player=who.title, number=len(faced), how=how)
    advice = _("Film so that the whole player is in the picture, down to the shoes, all the time.")
    return Notice("never_set", f"{sentence} {advice}" if hidden else sentence)


def _nothing_notice(who: Who) -> Notice:
    """Return the notice that no stroke could be told and a player never waits."""
    return Notice(
        "no_ready_position",
        _(
            "{player} was found, but no stroke of the other side could be told, and "
            "{player} never waits: no moment of {shortest} seconds or more with both feet "
            "down and still, knees bent. Film rallies or a drill in which the player gets "
            "set for each stroke, with whoever plays the shuttle in the picture."
        ).format(player=who.title, shortest=SHORTEST),
    )


def _seen_badly_notice(who: Who, hips: float, feet: float) -> Notice:
    """Return the notice that from where the phone stood the angles are not sure."""
    return Notice(
        "phone_place",
        _(
            "From where the phone stood, {player}'s hips are known to {hips} "
            "degrees and the feet to {feet} (typical error). Both are seen best from "
            "a rear corner, with the phone 2 metres up or higher and 4 to 7 metres away, "
            "the whole body in the picture (docs/filming.md)."
        ).format(player=who.title, hips=format_number(hips), feet=format_number(feet)),
    )


def _rests_notice(who: Who, count: str) -> Notice:
    """Return the notice that a player rests, sits or shows something rather than plays."""
    return Notice(
        "no_play",
        _(
            "{player} stays planted in one place for long and no stroke is told, as "
            "somebody does who rests, sits or shows a stance: {count} ready positions are "
            "not assessed. Film a rally or a drill with strokes."
        ).format(player=who.title, count=count),
    )


def _unsure_angles_notice(who: Who, count: str) -> Notice:
    """Return the notice that angles of a player are so unsure that they mean nothing."""
    return Notice(
        "angles_unsure",
        _(
            "In {count} ready positions of {player} an angle is unsure by more than "
            "40 degrees (typical error). It means nothing then, so it is not shown "
            "and the position is not assessed. Film from higher up or nearer, with the "
            "whole court half in view."
        ).format(count=count, player=who.title),
    )


def _hand_unsure_notice(who: Who, hand: Hand) -> Notice:
    """Return the notice that the racket hand is a guess."""
    hands = {
        "right": _(
            "Which hand of {player} holds the racket could not be seen for sure; the right one was "
            "taken. If that is wrong, all angles are to the wrong side: run again: stance analyse "
            "{clip} --player {letter} --hand left"
        ),
        "left": _(
            "Which hand of {player} holds the racket could not be seen for sure; the left one was "
            "taken. If that is wrong, all angles are to the wrong side: run again: stance analyse "
            "{clip} --player {letter} --hand right"
        ),
    }
    return Notice(
        "hand_unsure",
        hands[hand].format(player=who.title, clip=quote_words(who.file), letter=who.letter),
    )
