"""The coach's report: one HTML file with everything in it, for phone, laptop and paper."""

import base64
import math
import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from stance.measures.classes import DEFAULT_LIMITS
from stance.reports.court_map import court_map
from stance.reports.pages import page
from stance.reports.pictures import jpeg
from stance.reports.sentences import how_sure, measure_rows, number_words, percent, stance_words
from stance.reports.stance_chart import view_from_above
from stance.reports.time_line import time_line
from stance.results.files import write_files
from stance.results.model import PlayerResult, ReadyPosition, Result
from stance.statistics.statement import plain_statement
from stance.types import CLASS_NAMES, CLASSES, NOT_ASSESSED, ImageArray, StanceClass

REPORT_FILE = "report.html"

# All pictures together stay under this, so that a report of 20 cards is below 3 MB (base64
# takes a third more), and a single picture never needs more than the largest.
_PICTURES_BYTES = 1_900_000

_PICTURE_BYTES = (20_000, 95_000)


def write_report(
    result: Result,
    pictures: Mapping[tuple[str, int], ImageArray],
    folder: str | Path,
    overlay: bool,
) -> None:
    """Write `report.html` into a folder, whole or not at all.

    Parameters
    ----------
    result
        what was measured.
    pictures
        (player, number of the ready position from 1) to key picture, (height, width, 3) uint8 RGB;
        cards without one say so.
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


def report_html(
    result: Result, pictures: Mapping[tuple[str, int], ImageArray], overlay: bool
) -> str:
    """The text of `report.html`; parameters as for `write_report`."""
    most_bytes = min(
        max(_PICTURES_BYTES // max(len(pictures), 1), _PICTURE_BYTES[0]), _PICTURE_BYTES[1]
    )
    players = [
        _player(player, index, result, pictures, most_bytes)
        for index, player in enumerate(result.players, start=1)
    ]
    limits = {
        name: result.settings.get(name, value) for name, value in vars(DEFAULT_LIMITS).items()
    }
    return page(
        "report.html",
        title=f"Ready positions in {result.clip.file}",
        clip=result.clip,
        court=result.court,
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
    pictures: Mapping[tuple[str, int], ImageArray],
    most_bytes: int,
) -> dict[str, Any]:
    """What the template shows of one player."""
    anchor = f"player-{index}"
    positions = player.ready_positions
    # An assumed camera says how the feet stand to each other, but not where on the court.
    place_known = result.court.source != "assumed"
    has_map = place_known and any(math.isfinite(p.base_m[0] + p.base_m[1]) for p in positions)

    def pack(number: int) -> dict[str, Any] | None:
        picture = pictures.get((player.player, number))
        return None if picture is None else _image(picture, most_bytes)

    # OpenCV draws and packs pictures beside each other.
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        images = list(pool.map(pack, range(1, len(positions) + 1)))
    cards = [
        _card(position, number, player, image, place_known)
        for number, (position, image) in enumerate(zip(positions, images, strict=True), start=1)
    ]
    return {
        "name": player.player,
        "anchor": anchor,
        "statement": plain_statement(player),
        "hand": player.hand,
        "hand_source": player.hand_source,
        "half": player.half,
        "assessed": player.assessed,
        "not_assessed": player.not_assessed,
        "shares": [_share(player, name) for name in CLASSES] if player.assessed else [],
        "time_line": time_line(player, result.clip.duration_s, anchor),
        "court_map": court_map(player) if has_map else None,
        "cards": cards,
    }


def _share(player: PlayerResult, name: StanceClass) -> dict[str, Any]:
    """One class's bars: by count and by time, in percent."""
    share = player.shares[name]
    seconds = sum(p.duration_s for p in player.ready_positions if p.stance_class == name)
    total = sum(p.duration_s for p in player.ready_positions if p.stance_class != NOT_ASSESSED)
    return {
        "class": name,
        "name": CLASS_NAMES[name],
        "bars": [
            _bar("by count", f"{share.count} of {player.assessed}", share.share, share.interval),
            _bar(
                "by time", f"{seconds:.1f} of {total:.1f} s", share.time_share, share.time_interval
            ),
        ],
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


def _image(picture: ImageArray, most_bytes: int) -> dict[str, Any]:
    """A picture as it stands in the page itself."""
    data = base64.b64encode(jpeg(picture, most_bytes)).decode("ascii")
    height, width = picture.shape[:2]
    return {"source": f"data:image/jpeg;base64,{data}", "width": width, "height": height}


def _card(
    position: ReadyPosition,
    number: int,
    player: PlayerResult,
    image: dict[str, Any] | None,
    place_known: bool,
) -> dict[str, Any]:
    """What the template shows of one ready position."""
    return {
        "number": number,
        "class": position.stance_class,
        "class_name": CLASS_NAMES[position.stance_class],
        "time": f"{position.start_s:.1f} to {position.end_s:.1f} s",
        "duration": f"{position.duration_s:.1f} s",
        "sure": how_sure(position),
        "picture": image,
        "alternative": f"Ready position {number}: {stance_words(position)}",
        "view": view_from_above(position, player.hand, place_known),
        "measures": measure_rows(position, place_known),
        "remarks": position.remarks,
    }
