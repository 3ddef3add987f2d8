"""What is not known is withheld, and the class with it: no angle is said that is only a guess."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from stance.assessment.players import MeasuredPlayer
from stance.court.calibration import CalibratedCourt
from stance.people.landmarks import FEET
from stance.people.track import Track
from stance.results.model import UNKNOWN, FloorContact, ReadyPosition
from stance.types import ANGLES_UNSURE, AT_REST, CLASSES, NET_UNKNOWN, NOT_ASSESSED, FilmedFrom

MOST_UNSURE_DEG = 40.0
"""With a larger standard error an angle means nothing: a normal error that wraps around is then
nearly as likely to point one way as another, and the classes end 40 degrees from the net line."""

_BACK_TO_NET_DEG = 90.0
"""A player whose hips are turned by more has the back to the net."""

LONG_REST_S = 10.0
"""Who stays planted for longer with no stroke told is not waiting for one: strokes of real rallies
follow each other within 6 s (docs/comparing.md), waits of rendered drills last 3 s at most."""

_STAY_S, _STAY = 5.0, 0.2
"""Nor is one who is seen for so many seconds, with no stroke told, and whose feet stay within so
small a part of the body's height, as seen, for nine tenths of it: two who chat. In drills whoever
plays a stroke leaves the place, by 0.28 and more in all rendered ones of the test split."""

_ANGLES = ("hip_yaw", "shoulder_yaw", "lead_angle")

_NO_CLASS: dict[str, Any] = {
    "stance_class": NOT_ASSESSED,
    "probabilities": dict.fromkeys(CLASSES, math.nan),
    "racket_foot_leading": math.nan,
}


def withhold_unknown_angles(
    players: Mapping[str, MeasuredPlayer],
    court: CalibratedCourt | None,
    filmed_from: FilmedFrom | None,
) -> dict[str, MeasuredPlayer]:
    """Players without angles, places and classes that are not known.

    Parameters
    ----------
    players
        by letter
    court
        marked, found or assumed
    filmed_from
        where the phone stood as somebody says; an assumed camera tells the net by nothing else

    Returns
    -------
    dict by letter: of an assumed camera no place on the court is kept, and without the direction of
    the net no angle either. Nor is one that is known to no better than `MOST_UNSURE_DEG`. A ready
    position without its lead angle or hip yaw is not assessed; a remark says why.
    """
    assumed = court is not None and court.source == "assumed"
    kept = {}
    for letter, player in players.items():
        positions = player.positions
        if assumed:
            net_known = filmed_from is not None and _face_net(positions)
            positions = tuple(
                _without_place(p) if net_known else _without_direction(p) for p in positions
            )
        kept[letter] = replace(
            player, positions=tuple(_without_unsure_angles(p) for p in positions)
        )
    return kept


def withhold_rest(players: Mapping[str, MeasuredPlayer]) -> dict[str, MeasuredPlayer]:
    """Players without the classes of those who rest: they sit, watch, or show a stance.

    Parameters
    ----------
    players
        by letter

    Returns
    -------
    dict by letter: where no stroke of either side could be told, a wait above `LONG_REST_S` is not
    assessed, nor is any other of a player of whose waiting such waits are more than half, nor any
    of a player who does not leave the place; a remark says so
    """
    return {letter: _without_rest(player) for letter, player in players.items()}


def _without_rest(player: MeasuredPlayer) -> MeasuredPlayer:
    """A player without the classes of waits that are none."""
    if player.strokes_faced or player.own_strokes:
        return player
    long = [p.duration_s for p in player.positions if p.duration_s > LONG_REST_S]
    rests = 2 * sum(long) > sum(p.duration_s for p in player.positions) or (
        bool(player.positions) and _stays(player.watched.track)
    )
    return replace(
        player,
        positions=tuple(
            replace(p, remarks=(AT_REST,), **_NO_CLASS)
            if rests or p.duration_s > LONG_REST_S
            else p
            for p in player.positions
        ),
    )


def _stays(track: Track) -> bool:
    """Whether somebody who is seen for long does not leave the place."""
    seen = track.seen
    if not seen.any() or np.ptp(track.times[seen]) < _STAY_S:
        return False
    pixels = track.pixels[seen]
    tall = float(np.median(np.ptp(pixels[..., 1], axis=1)))
    feet = np.median(pixels[:, FEET], axis=1)
    return bool(np.linalg.norm(np.ptp(np.percentile(feet, [5, 95], axis=0), axis=0)) < _STAY * tall)


def _face_net(positions: tuple[ReadyPosition, ...]) -> bool:
    """Whether most ready positions face the net, as a defender's do; so where there are none."""
    turned = [abs(p.hip_yaw_deg) for p in positions]
    return not turned or float(np.median(turned)) <= _BACK_TO_NET_DEG


def _without_place(position: ReadyPosition) -> ReadyPosition:
    """A ready position whose place on the court is not known."""
    return replace(position, base_m=UNKNOWN, base_se_m=UNKNOWN)


def _without_direction(position: ReadyPosition) -> ReadyPosition:
    """A ready position of which it is not known how it stands to the net."""
    return replace(
        _without_place(position),
        **_unknown(_ANGLES),
        foot_stagger_m=math.nan,
        foot_stagger_se_m=math.nan,
        feet=(FloorContact(UNKNOWN, UNKNOWN),) * 2,
        hips_m=(UNKNOWN, UNKNOWN),
        remarks=(NET_UNKNOWN,),
        **_NO_CLASS,
    )


def _without_unsure_angles(position: ReadyPosition) -> ReadyPosition:
    """A ready position without angles that mean nothing, and then without a class."""
    unsure = [name for name in _ANGLES if getattr(position, f"{name}_se_deg") > MOST_UNSURE_DEG]
    if not unsure:
        return position
    if unsure == ["shoulder_yaw"]:
        return replace(position, **_unknown(unsure))
    return replace(position, **_unknown(unsure), remarks=(ANGLES_UNSURE,), **_NO_CLASS)


def _unknown(angles: Iterable[str]) -> dict[str, Any]:
    """Fields of angles that are not known."""
    return {f"{name}{end}": math.nan for name in angles for end in ("_deg", "_se_deg")}
