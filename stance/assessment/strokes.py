"""How each player met the strokes that were faced, and in which spell."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.court.calibration import CalibratedCourt
from stance.court.camera import Camera
from stance.people.floor import base_on_floor
from stance.people.track import Track
from stance.results.model import UNKNOWN, Met, Pair
from stance.strokes.find import FoundStrokes, Mover, Stroke, find_strokes
from stance.watching.watched_clip import ObservedSpell, Opponent, WatchedClip, WatchedPlayer

BEFORE_S, AFTER_S = 0.15, 0.30
"""A player who has both feet planted within this of the contact, before and after, is set
(docs/definitions.md)."""

MEASURED_S = 0.5
"""The stance at a stroke is that of so long after the contact at most, seconds: who is set lands by
0.3 s and leaves soon (docs/definitions.md)."""

_LEAST_SEEN = 0.5
"""Share of the moments about a contact in which the player must be seen for a word on how it was
met."""

_STRIKER_S = 0.15
"""A striker stands where the feet are on average so long before and after the contact, seconds."""

_SAME_WAIT_S, _SAME_PLACE_M = 0.3, 0.3
"""Where no stroke is told, spells that follow each other within so much, seconds, in one place,
metres, are one wait: a hop of ten centimetres lasts 0.29 s, 2 sqrt(2 h / g). From 0.25 s and 0.25 m
on, to twice as much, motion of 24 rendered shadow drills reports about as many positions as there
were waits; without, twice as many."""


@dataclass(frozen=True)
class PlayerStrokes:
    """The strokes of a clip as they are for one player.

    Attributes
    ----------
    faced
        by the other side
    own
        the player's own
    imagined_s
        as in `FoundStrokes`
    attackers_m
        where the striker of each stroke faced stands at the contact, metres, court frame of the
        player's half; NaN where that is not seen
    """

    faced: tuple[Stroke, ...]
    own: tuple[Stroke, ...]
    imagined_s: tuple[float, ...]
    attackers_m: tuple[Pair, ...]


@dataclass(frozen=True)
class Meeting:
    """How a stroke was met: `spell` is the planted spell where the player was set for it."""

    met: Met
    spell: ObservedSpell | None


def find_clip_strokes(clip: WatchedClip, near: Camera) -> FoundStrokes:
    """Find the strokes of all who were followed in a clip.

    Parameters
    ----------
    clip
        what was seen in it; movers are its players and, after them, their opponents
    near
        camera in the frame of the near half

    Returns
    -------
    FoundStrokes
    """
    movers = [Mover(one.half, one.track, one.own_camera(near)) for one in _list_everybody(clip)]
    return find_strokes(movers, clip.times, clip.onsets_s)


def strokes_of_player(
    found: FoundStrokes, number: int, clip: WatchedClip, court: CalibratedCourt
) -> PlayerStrokes:
    """Tell which of a clip's strokes a player faced, and which they played.

    Parameters
    ----------
    found
        strokes of the clip
    number
        of the player among those of the clip
    clip
        what was seen in it
    court
        with the camera in the frame of the near half
    """
    half = clip.players[number].half
    faced = tuple(stroke for stroke in found.strokes if stroke.half != half)
    return PlayerStrokes(
        faced,
        tuple(stroke for stroke in found.strokes if stroke.striker == number),
        found.imagined_s,
        tuple(_place_striker(stroke, clip, court) for stroke in faced),
    )


def strokes_explain_waits(waits: Sequence[ObservedSpell], faced: Sequence[Stroke]) -> bool:
    """Whether the strokes faced are what a player waits for, most of all.

    Somebody beyond the net who only moves about seems to strike now and then, while the player
    waits for something else again and again.

    Parameters
    ----------
    waits
        spells of stillness
    faced
        strokes found
    """
    for_nothing = [
        wait
        for wait in waits
        if not any(
            wait.start_s - AFTER_S <= stroke.time_s <= wait.end_s + AFTER_S for stroke in faced
        )
    ]
    return len(faced) >= len(for_nothing)


def meet_stroke(stroke: Stroke, player: WatchedPlayer, own: Sequence[Stroke]) -> Meeting:
    """Tell whether a player was set for a stroke, and in which spell.

    Of several spells within the window it is the last: they land from the hop into it.

    Parameters
    ----------
    stroke
        faced
    player
        what was seen of them
    own
        the player's own strokes: with the next one the answer has begun
    """
    until = min((o.time_s for o in own if o.time_s > stroke.time_s), default=np.inf)
    within = [
        spell
        for spell in player.planted
        if _is_about(spell, stroke.time_s) and spell.start_s <= until
    ]
    if within:
        return Meeting("set", within[-1])
    seen = _share_seen(player.track, stroke.time_s - BEFORE_S, stroke.time_s + AFTER_S)
    return Meeting("on_the_move" if seen >= _LEAST_SEEN else "not_seen", None)


def spells_without_strokes(
    player: WatchedPlayer,
    camera: Camera,
    waits: Sequence[ObservedSpell],
    strokes: PlayerStrokes,
) -> tuple[ObservedSpell, ...]:
    """Spells that count where no stroke can be told: waits, and landings as if a stroke came.

    Of those that belong to one wait, such as before and after a hop in place, the last counts, as
    where strokes are known.

    Parameters
    ----------
    player
        what was seen of them
    camera
        in the frame of the player's half
    waits
        spells of stillness
    strokes
        `imagined_s`, when the player moved as if a stroke came, and their `own` ones

    Returns
    -------
    In the clip's order
    """
    landings = [
        spell
        for spell in player.planted
        if any(_is_about(spell, time_s) for time_s in strokes.imagined_s)
        and not any(spell.end_s > wait.start_s and spell.start_s < wait.end_s for wait in waits)
    ]
    counted: list[ObservedSpell] = []
    for spell in sorted((*waits, *landings), key=lambda spell: spell.start_s):
        if counted and _is_one_wait(counted[-1], spell, player.track, camera, strokes.own):
            counted.pop()
        counted.append(spell)
    return tuple(counted)


def _list_everybody(clip: WatchedClip) -> tuple[WatchedPlayer | Opponent, ...]:
    """The players of a clip and, after them, their opponents: the numbers of strikers."""
    return (*clip.players, *clip.opponents)


def _place_striker(stroke: Stroke, clip: WatchedClip, court: CalibratedCourt) -> Pair:
    """Where a striker stands about the contact, in the frame of the other half, metres."""
    # An assumed camera does not know where on the court somebody is.
    if stroke.striker is None or court.source == "assumed":
        return UNKNOWN
    striker = _list_everybody(clip)[stroke.striker]
    track = striker.track
    about = track.seen & (np.abs(track.times - stroke.time_s) <= _STRIKER_S)
    places = base_on_floor(striker.own_camera(court.camera), track.pixels[about])
    places = places[np.isfinite(places).all(axis=1)]
    if not len(places):
        return UNKNOWN
    x, y = np.median(places, axis=0)
    return -float(x), -float(y)


def _is_one_wait(
    spell: ObservedSpell,
    following: ObservedSpell,
    track: Track,
    camera: Camera,
    own: Sequence[Stroke],
) -> bool:
    """Whether two spells are in one place, with next to no time and no own stroke between."""
    if following.start_s - spell.end_s > _SAME_WAIT_S or any(
        spell.end_s < stroke.time_s < following.start_s for stroke in own
    ):
        return False
    places = []
    for one in (spell, following):
        lasts = (track.times >= one.start_s - 1e-6) & (track.times <= one.end_s + 1e-6)
        bases = base_on_floor(camera, track.pixels[lasts & track.seen])
        if not len(bases):
            return False
        places.append(np.median(bases, axis=0))
    return bool(np.linalg.norm(places[1] - places[0]) < _SAME_PLACE_M)


def _is_about(spell: ObservedSpell, contact_s: float) -> bool:
    """Whether a spell touches the window about a contact in which a player may be set."""
    return spell.end_s >= contact_s - BEFORE_S and spell.start_s <= contact_s + AFTER_S


def _share_seen(track: Track, start_s: float, end_s: float) -> float:
    """Share of the observations within a time that show the player; 0 where there are none."""
    within = (track.times >= start_s) & (track.times <= end_s)
    return float(track.seen[within].mean()) if within.any() else 0.0
