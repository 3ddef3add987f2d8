"""The coach's report: one HTML file with everything in it, for phone, laptop and paper."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stance.assessment.advice import advise
from stance.assessment.angle_words import side_words
from stance.assessment.picture_key import PictureKey
from stance.assessment.tendencies import tendencies_of_clip
from stance.measures.classes import DEFAULT_LIMITS
from stance.measures.handedness import SURE
from stance.reports.cards import OVERLAY_FILE, list_cards, list_strokes_unset
from stance.reports.court_map import court_map
from stance.reports.examples import list_examples
from stance.reports.packed_pictures import PackedPictures, pack_picture, pack_pictures
from stance.reports.pages import page
from stance.reports.sentences import number_words, percent
from stance.reports.time_line import time_line
from stance.results.files import write_files
from stance.results.model import CourtSummary, PlayerResult, Result, Share
from stance.runtime.language import format_day, format_number, join_words
from stance.runtime.language import gettext as _
from stance.statistics.shares import is_counted
from stance.statistics.statement import NO_STROKE_TOLD, describe_stances, describe_strokes
from stance.types import (
    CLASS_NAMES,
    CLASSES,
    COUNTED_NAMES,
    FILMED_FROM_WORDS,
    LEADING,
    NOT_ASSESSED,
    Counted,
    ImageArray,
)

REPORT_FILE = "report.html"


def write_report(
    result: Result,
    pictures: Mapping[PictureKey, ImageArray],
    folder: str | Path,
    overlay: bool,
    court_picture: ImageArray | None = None,
) -> None:
    """Write `report.html` into a folder, whole or not at all.

    Parameters
    ----------
    result
        what was measured.
    pictures
        (height, width, 3) uint8 RGB by player, number and moment; cards without one say so.
    folder
        made where needed.
    overlay
        whether `overlay.mp4` lies beside the report.
    court_picture
        (height, width, 3) uint8 RGB: the clip's picture with the court drawn on it, see
        `stance.reports.drawn_court`; None where there is none.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    write_files(folder, {REPORT_FILE: report_html(result, pictures, overlay, court_picture)})


def report_html(
    result: Result,
    pictures: Mapping[PictureKey, ImageArray],
    overlay: bool,
    court_picture: ImageArray | None = None,
) -> str:
    """The text of `report.html`; parameters as for `write_report`."""
    packed = pack_pictures(pictures)
    players = [
        _player(player, index, result, packed, overlay)
        for index, player in enumerate(result.players, start=1)
    ]
    limits = {
        name: result.settings.get(name, value) for name, value in vars(DEFAULT_LIMITS).items()
    }
    return page(
        "report.html",
        told=any(player["told"] for player in players),
        title=_("{heading}: stance report").format(heading=_heading(result)),
        heading=_heading(result),
        clip=result.clip,
        court=_court(result.court, court_picture),
        warnings=result.warnings,
        players=players,
        overlay=OVERLAY_FILE if overlay else "",
        square=f"{limits['square_deg']:g}",
        side_on=f"{limits['side_on_deg']:g}",
        confidence=percent(limits["confidence"]),
        classes=CLASS_NAMES,
    )


def _heading(result: Result) -> str:
    """Whom and when the report is about; the clip's name where nobody was found."""
    names = join_words([_(player.title) for player in result.players]) or result.clip.file
    return ", ".join(filter(None, (names, format_day(result.date), result.session)))


def _court(court: CourtSummary, picture: ImageArray | None) -> dict[str, Any]:
    """What the template shows of the court."""
    return {
        "source": court.source,
        "filmed_from": _(FILMED_FROM_WORDS[court.filmed_from]) if court.filmed_from else "",
        "error": number_words(court.error_px, 1, _(" pixels")),
        "picture": None if picture is None else pack_picture(picture),
    }


def _player(
    player: PlayerResult, index: int, result: Result, pictures: PackedPictures, overlay: bool
) -> dict[str, Any]:
    """What the template shows of one player."""
    anchor = f"player-{index}"
    positions = player.ready_positions
    # An assumed camera says how the feet stand to each other, but not where on the court.
    place_known = result.court.source != "assumed"
    has_map = place_known and any(math.isfinite(p.base_m[0] + p.base_m[1]) for p in positions)
    advice = advise(tendencies_of_clip(result, player))
    late = advice is not None and advice.kind == "late"
    return {
        "title": _(player.title),
        "anchor": anchor,
        "statement": _headline(player),
        "stances": describe_stances(player) if player.strokes_faced else "",
        "advice": advice,
        "examples": [] if advice is None else list_examples(player, advice.kind, pictures, anchor),
        "no_stroke": _(NO_STROKE_TOLD) if positions and not player.strokes_faced else "",
        "told": bool(player.strokes_faced),
        "strokes": _strokes(player),
        "stroke_key": _stroke_key(player),
        "hand": player.hand,
        "half": player.half,
        "hand_source": _hand_source(player),
        "assessed": player.assessed,
        "not_assessed": player.not_assessed,
        "serves": player.stroke_counts.serves,
        "shares": _shares(player) if player.assessed else [],
        "times": _times(player) if player.assessed and not player.strokes_faced else [],
        "time_line": time_line(player, result.clip.duration_s, anchor),
        "court_map": court_map(player) if has_map else None,
        "late": late,
        "cards": list_cards(player, pictures, place_known, overlay, late),
        "unset": list_strokes_unset(player, pictures, overlay),
    }


def _headline(player: PlayerResult) -> str:
    """What was counted: strokes faced and how they were met, or waits; else why there are none."""
    if player.strokes_faced or not player.assessed:
        return describe_strokes(player) or describe_stances(player)
    return _("{assessed} of {number} waits could be judged.").format(
        assessed=player.assessed, number=len(player.counted_positions)
    )


def _hand_source(player: PlayerResult) -> str:
    """How the racket hand is known."""
    if player.hand_source == "given":
        return _("as given")
    return _("as seen in the clip") if player.hand_confidence >= SURE else _("assumed, not seen")


def _stroke_key(player: PlayerResult) -> list[tuple[str, str]]:
    """The marks of the time line that are used, and what they mean."""
    counts = player.stroke_counts
    used = [
        ("faced", _("their stroke"), counts.in_play),
        ("serve", _("their serve"), counts.serves),
        ("own", _("own stroke"), len(player.own_strokes)),
        ("on_the_move", _("met on the move"), counts.on_the_move),
        ("not_seen", _("not seen well enough"), counts.not_seen),
    ]
    return [(mark, name) for mark, name, count in used if count]


def _strokes(player: PlayerResult) -> list[dict[str, Any]]:
    """How the strokes in play were met, each way with its count; empty where none was told."""
    counts = player.stroke_counts
    ways = [
        ("set", _("met set"), counts.met_set),
        ("on_the_move", _("met on the move"), counts.on_the_move),
        ("not_seen", _("not seen well enough"), counts.not_seen),
    ]
    return [
        {
            "met": met,
            "name": name,
            "amount": _("{count} of {total}").format(count=count, total=counts.in_play),
            "length": 100 * count / counts.in_play,
        }
        for met, name, count in ways
        if counts.in_play and (count or met != "not_seen")
    ]


def _shares(player: PlayerResult) -> list[dict[str, Any]]:
    """How often each stance, and the remark beside them."""
    return [
        _bar(
            what,
            _("{count} of {total}").format(count=share.count, total=player.assessed),
            share.share,
            share.interval,
        )
        | {"sides": _sides(player) if what == "over_side_on" else ""}
        for what, share in _all_shares(player)
    ]


def _times(player: PlayerResult) -> list[dict[str, Any]]:
    """How long each stance, and the remark beside them."""
    assessed = [p for p in player.ready_positions if p.stance_class != NOT_ASSESSED]
    total = sum(p.duration_s for p in assessed)
    amounts = {
        what: sum(p.duration_s for p in assessed if is_counted(p, what))
        for what, _share in _all_shares(player)
    }
    return [
        _bar(
            what,
            _("{seconds} of {total} s").format(
                seconds=format_number(amounts[what], 1), total=format_number(total, 1)
            ),
            share.time_share,
            share.time_interval,
        )
        for what, share in _all_shares(player)
    ]


def _all_shares(player: PlayerResult) -> list[tuple[Counted, Share]]:
    """The share of each class, and that of the remark where it is known."""
    shares: list[tuple[Counted, Share]] = [(name, player.shares[name]) for name in CLASSES]
    if player.racket_foot_leading is not None:
        shares.append((LEADING, player.racket_foot_leading))
    return shares


def _sides(player: PlayerResult) -> str:
    """Which side is in front how often where over-side-on; empty where never."""
    over = [p for p in player.counted_positions if p.stance_class == "over_side_on"]
    front = sum(p.racket_side_leads for p in over)
    return side_words(front, len(over) - front)


def _bar(
    what: Counted, amount: str, share: float | None, interval: tuple[float, float]
) -> dict[str, Any]:
    """A bar with its likely range, lengths in percent."""
    low, high = (100 * end for end in interval)
    return {
        "class": what,
        "name": _(COUNTED_NAMES[what]),
        "amount": amount,
        "percent": percent(math.nan if share is None else share),
        "interval": _("likely range {low} to {high} %").format(
            low=format_number(low), high=format_number(high)
        ),
        "length": 100 * (share or 0.0),
        "low": low,
        "span": high - low,
    }
