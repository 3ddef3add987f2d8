"""The coach's report: one HTML file with everything in it, for phone, laptop and paper."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stance.assessment.picture_key import PictureKey
from stance.measures.classes import DEFAULT_LIMITS
from stance.reports.cards import PackedPictures, list_cards, list_strokes_unset, pack_pictures
from stance.reports.court_map import court_map
from stance.reports.pages import page
from stance.reports.sentences import number_words, percent
from stance.reports.time_line import time_line
from stance.results.files import write_files
from stance.results.model import PlayerResult, Result, Share
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

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    write_files(folder, {REPORT_FILE: report_html(result, pictures, overlay)})


def report_html(result: Result, pictures: Mapping[PictureKey, ImageArray], overlay: bool) -> str:
    """The text of `report.html`; parameters as for `write_report`."""
    packed = pack_pictures(pictures)
    players = [
        _player(player, index, result, packed)
        for index, player in enumerate(result.players, start=1)
    ]
    limits = {
        name: result.settings.get(name, value) for name, value in vars(DEFAULT_LIMITS).items()
    }
    return page(
        "report.html",
        told=any(player["told"] for player in players),
        title=f"Ready positions in {result.clip.file}",
        clip=result.clip,
        court=result.court,
        filmed_from=FILMED_FROM_WORDS.get(result.court.filmed_from or "behind"),
        warnings=result.warnings,
        players=players,
        overlay=overlay,
        square=f"{limits['square_deg']:g}",
        side_on=f"{limits['side_on_deg']:g}",
        confidence=percent(limits["confidence"]),
        classes=CLASS_NAMES,
        court_error=number_words(result.court.error_px, 1, " pixels"),
    )


def _player(
    player: PlayerResult,
    index: int,
    result: Result,
    pictures: PackedPictures,
) -> dict[str, Any]:
    """What the template shows of one player."""
    anchor = f"player-{index}"
    positions = player.ready_positions
    # An assumed camera says how the feet stand to each other, but not where on the court.
    place_known = result.court.source != "assumed"
    has_map = place_known and any(math.isfinite(p.base_m[0] + p.base_m[1]) for p in positions)
    return {
        "name": player.player,
        "anchor": anchor,
        "statement": describe_strokes(player) or describe_stances(player),
        "stances": describe_stances(player) if player.strokes_faced else "",
        "no_stroke": NO_STROKE_TOLD if positions and not player.strokes_faced else "",
        "told": bool(player.strokes_faced),
        "strokes": _strokes(player),
        "stroke_key": _stroke_key(player),
        "hand": player.hand,
        "hand_source": player.hand_source,
        "half": player.half,
        "assessed": player.assessed,
        "not_assessed": player.not_assessed,
        "shares": _shares(player) if player.assessed else [],
        "time_line": time_line(player, result.clip.duration_s, anchor),
        "court_map": court_map(player) if has_map else None,
        "cards": list_cards(player, pictures, place_known),
        "unset": list_strokes_unset(player, pictures),
    }


def _stroke_key(player: PlayerResult) -> list[tuple[str, str]]:
    """The marks of the time line that are used, and what they mean."""
    counts = player.stroke_counts
    used = [
        ("faced", "their stroke", counts.in_play),
        ("serve", "their serve", counts.serves),
        ("own", "own stroke", len(player.own_strokes)),
        ("on_the_move", "met on the move", counts.on_the_move),
        ("not_seen", "not seen well enough", counts.not_seen),
    ]
    return [(mark, name) for mark, name, count in used if count]


def _strokes(player: PlayerResult) -> list[dict[str, Any]]:
    """How the strokes in play were met, each way with its count; empty where none was told."""
    counts = player.stroke_counts
    ways = [
        ("set", "met set", counts.met_set),
        ("on_the_move", "met on the move", counts.on_the_move),
        ("not_seen", "not seen well enough", counts.not_seen),
    ]
    return [
        {
            "met": met,
            "name": name,
            "amount": f"{count} of {counts.in_play}",
            "length": 100 * count / counts.in_play,
        }
        for met, name, count in ways
        if counts.in_play and (count or met != "not_seen")
    ]


def _shares(player: PlayerResult) -> list[dict[str, Any]]:
    """The bars of each class, and of the remark beside them."""
    shares: list[tuple[Counted, Share]] = [(name, player.shares[name]) for name in CLASSES]
    if player.racket_foot_leading is not None:
        shares.append((LEADING, player.racket_foot_leading))
    return [_share(player, what, share) for what, share in shares]


def _share(player: PlayerResult, what: Counted, share: Share) -> dict[str, Any]:
    """The bar by count in percent and, where the player's waits are counted, by time."""
    over = [p for p in player.counted_positions if p.stance_class == what == "over_side_on"]
    leading = sum(p.racket_side_leads for p in over)
    bars = [_bar("by count", f"{share.count} of {player.assessed}", share.share, share.interval)]
    if not player.strokes_faced:
        assessed = [p for p in player.ready_positions if p.stance_class != NOT_ASSESSED]
        seconds = sum(p.duration_s for p in assessed if is_counted(p, what))
        total = sum(p.duration_s for p in assessed)
        amount = f"{seconds:.1f} of {total:.1f} s"
        bars.append(_bar("by time", amount, share.time_share, share.time_interval))
    return {
        "class": what,
        "name": COUNTED_NAMES[what],
        "sides": f"racket side leading in {leading}, back in {len(over) - leading}" if over else "",
        "bars": bars,
    }


def _bar(
    kind: str, amount: str, share: float | None, interval: tuple[float, float]
) -> dict[str, Any]:
    low, high = (100 * end for end in interval)
    return {
        "kind": kind,
        "amount": amount,
        "percent": percent(math.nan if share is None else share),
        "interval": f"{low:.0f} to {high:.0f} %",
        "length": 100 * (share or 0.0),
        "low": low,
        "span": high - low,
    }
