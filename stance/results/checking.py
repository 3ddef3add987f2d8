"""Whether a result that was read holds together: what its schema's types alone can't say."""

import datetime
import math
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

from stance.results.model import CourtCamera, PlayerResult, ReadyPosition, Result, Share
from stance.runtime.language import gettext as _
from stance.types import CLASSES

# Beyond all that is measured; a flipped bit can make any number of a sound one.
_LARGEST = 1e9


def find_fault(result: Result) -> str | None:
    """What is wrong with a result's content: 'its field "..." must ...'; None where nothing is."""
    return next(_list_faults(result), None)


def _list_faults(result: Result) -> Iterator[str]:
    yield from _list_wild_numbers(result, "")
    clip = result.clip
    if not (clip.frames > 0 and clip.frame_rate > 0 and clip.duration_s >= 0):
        yield _('its field "clip" must tell of one picture or more and their rate')
    if min(clip.size) < 1:
        yield _('its field "clip.size" must be the width and height of a picture')
    if result.court.camera is not None:
        yield from _list_camera_faults(result.court.camera)
    if result.date and not _is_date(result.date):
        yield _('its field "date" must be a day such as 2026-03-14, not {date!r}').format(
            date=result.date
        )
    letters = [player.player for player in result.players]
    if len({*letters}) < len(letters):
        yield _('its field "players" must hold each letter once')
    for number, player in enumerate(result.players):
        yield from _list_player_faults(player, f"players[{number}]")


def _list_wild_numbers(value: Any, field: str) -> Iterator[str]:
    """Numbers that are infinite or too large to be measured, by their fields."""
    if is_dataclass(value):
        for part in fields(value):
            name = f"{field}.{part.name}" if field else part.name
            yield from _list_wild_numbers(getattr(value, part.name), name)
    elif isinstance(value, dict):
        for key, part in value.items():
            yield from _list_wild_numbers(part, f"{field}.{key}")
    elif isinstance(value, tuple):
        for index, part in enumerate(value):
            yield from _list_wild_numbers(part, f"{field}[{index}]")
    elif isinstance(value, (int, float)) and abs(value) > _LARGEST:
        yield _('its field "{field}" must be a number that can be measured').format(field=field)


def _list_camera_faults(camera: CourtCamera) -> Iterator[str]:
    shapes = (
        (camera.K, "K", 3),
        (camera.R, "R", 3),
        ((camera.t,), "t", 1),
    )
    for rows, name, height in shapes:
        numbers = [number for row in rows for number in row]
        sound = len(rows) == height and all(len(row) == 3 for row in rows)
        if not sound or not all(math.isfinite(number) for number in numbers):
            yield _('its field "court.camera.{name}" must be {height} by 3 numbers').format(
                name=name, height=height
            )


def _list_player_faults(player: PlayerResult, field: str) -> Iterator[str]:
    for name in CLASSES:
        if name not in player.shares:
            yield _('its field "{field}.shares" must hold the class "{name}"').format(
                field=field, name=name
            )
    shares = [*player.shares.values(), player.racket_foot_leading]
    if not all(share is None or _is_share(share) for share in shares):
        yield _('its field "{field}.shares" must hold counts and parts between 0 and 1').format(
            field=field
        )
    if player.frames_seen < 0 or not 0 <= player.hand_confidence <= 1:
        yield _('its field "{field}.hand_confidence" must be between 0 and 1').format(field=field)
    for number, position in enumerate(player.ready_positions):
        yield from _list_position_faults(position, f"{field}.ready_positions[{number}]")
    for number, stroke in enumerate(player.strokes_faced):
        index = stroke.ready_position
        if index is not None and not 0 <= index < len(player.ready_positions):
            yield (
                _(
                    'its field "{field}.strokes_faced[{number}].ready_position" must be the number '
                    "of a ready position"
                ).format(field=field, number=number)
            )
    for kind, strokes in (
        ("strokes_faced", player.strokes_faced),
        ("own_strokes", player.own_strokes),
    ):
        if not all(math.isfinite(stroke.time_s) for stroke in strokes):
            yield _('its field "{field}.{kind}" must tell the time of each contact').format(
                field=field, kind=kind
            )


def _list_position_faults(position: ReadyPosition, field: str) -> Iterator[str]:
    if not position.start_s <= position.end_s:
        yield _('its field "{field}.end_s" must not come before its start').format(field=field)
    if not 0 <= position.start_frame <= position.end_frame:
        yield _('its field "{field}.end_frame" must not come before its start').format(field=field)
    chances = position.probabilities
    if {*chances} != {*CLASSES} or not all(0 <= chance <= 1 for chance in chances.values()):
        yield _('its field "{field}.probabilities" must hold a chance of each class').format(
            field=field
        )


def _is_share(share: Share) -> bool:
    """Whether counts and parts are such, and intervals begin before they end."""
    parts = [part for part in (share.share, share.time_share) if part is not None]
    intervals = (share.interval, share.time_interval)
    return (
        share.count >= 0
        and all(0 <= part <= 1 for part in parts)
        and all(-1e-9 <= low <= high <= 1 + 1e-9 for low, high in intervals)
    )


def _is_date(text: str) -> bool:
    try:
        return datetime.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
