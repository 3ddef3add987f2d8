"""From what was seen of the players to measured, classed ready positions."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from stance.assessment.strokes import (
    BEFORE_S,
    MEASURED_S,
    PlayerStrokes,
    find_clip_strokes,
    meet_stroke,
    spells_without_strokes,
    strokes_explain_waits,
    strokes_of_player,
)
from stance.court.calibration import CalibratedCourt
from stance.court.camera import Camera
from stance.errors import InputError
from stance.measures.classes import Limits, class_probabilities, classify, leading_probability
from stance.measures.probability_calibration import calibrated_probabilities
from stance.measures.ready_positions import has_bent_knees
from stance.measures.stance_measures import (
    Measures,
    average,
    calibration_turn_variance,
    measure,
)
from stance.people.floor import base_on_floor
from stance.results.model import FloorContact, OwnStroke, ReadyPosition, StrokeFaced
from stance.runtime.language import gettext as _
from stance.runtime.language import join_words
from stance.types import FloatArray
from stance.watching.watched_clip import ObservedSpell, RacketHand, WatchedClip, WatchedPlayer

LETTERS = "ABCD"
"""Of the players of a clip, at most two on each half."""


@dataclass(frozen=True)
class MeasuredPlayer:
    """One player's ready positions.

    Attributes
    ----------
    watched
        what was seen of the player
    camera
        in the frame of the player's half
    racket
        the hand that holds the racket
    positions
        in the clip's order
    strokes_faced, own_strokes
        in the clip's order; empty where none could be told
    """

    watched: WatchedPlayer
    camera: Camera
    racket: RacketHand
    positions: tuple[ReadyPosition, ...]
    strokes_faced: tuple[StrokeFaced, ...] = ()
    own_strokes: tuple[OwnStroke, ...] = ()

    @property
    def metres_right(self) -> float:
        """Where the player first waits, or else is on the whole, metres to the right."""
        if self.positions:
            return self.positions[0].base_m[0]
        bases = base_on_floor(self.camera, self.watched.track.pixels)
        return float(np.nanmedian(bases[:, 0]))


def measure_players(
    clip: WatchedClip, court: CalibratedCourt, limits: Limits
) -> dict[str, MeasuredPlayer]:
    """Measure and class the ready positions of all players of a clip.

    Parameters
    ----------
    clip
        what was seen in it
    court
        with the camera in the frame of the near half
    limits
        limits of the classes

    Returns
    -------
    Players by letter: the near half's first, each left to right at the first ready position
    """
    frame_s = float(np.median(np.diff(clip.times)))
    found = find_clip_strokes(clip, court.camera)
    players = [
        _measure_player(
            _Sighting(player, player.own_camera(court.camera), racket, frame_s),
            strokes_of_player(found, number, clip, court),
            limits,
        )
        for number, (player, racket) in enumerate(zip(clip.players, clip.racket_hands, strict=True))
    ]
    players.sort(key=lambda player: (player.watched.half != "near", player.metres_right))
    return dict(zip(LETTERS, players, strict=False))


def select_player(
    players: Mapping[str, MeasuredPlayer], letter: str | None, file: str
) -> dict[str, MeasuredPlayer]:
    """Return the only player wanted, by letter; all where None is given or nobody was found.

    Raises
    ------
    InputError
        If others were found in the file, but not this player.
    """
    if letter is None or not players:
        return dict(players)
    if letter not in players:
        raise InputError(
            _("There is no player {letter} in {file}: found {players}, left to right.").format(
                letter=letter, file=file, players=join_words(list(players))
            )
        )
    return {letter: players[letter]}


@dataclass(frozen=True)
class _Sighting:
    """A player as seen: the camera in the half's frame, the racket hand, seconds a frame lasts."""

    watched: WatchedPlayer
    camera: Camera
    racket: RacketHand
    frame_s: float

    def select_about(self, spell: ObservedSpell, contact_s: float) -> ObservedSpell:
        """The spell with the close observations about a contact alone, if there are any."""
        frames = np.array(spell.observed_frames)
        times = np.interp(frames, self.watched.track.frames, self.watched.track.times)
        since, until = contact_s - BEFORE_S - 1e-6, contact_s + MEASURED_S + 1e-6
        about = tuple(frames[(times > since) & (times < until)].tolist())
        if not about:
            return spell
        return replace(spell, observed_frames=about, key_frame=about[len(about) // 2])

    def average_measures(self, spell: ObservedSpell) -> Measures | None:
        """Average the close observations of a spell; None where none shows feet on the floor."""
        found = [
            measures
            for frame in spell.observed_frames
            if (
                measures := measure(self.camera, self.watched.observations[frame], self.racket.hand)
            )
            is not None
        ]
        return average(found) if found else None


def _measure_player(sighting: _Sighting, strokes: PlayerStrokes, limits: Limits) -> MeasuredPlayer:
    """Measure one player at the strokes they faced; where none can be told, as they wait."""
    own = tuple(OwnStroke(stroke.time_s, stroke.time_se_s) for stroke in strokes.own)
    watched = sighting.watched
    waits = watched.spells[sighting.racket.hand]
    if strokes.faced and strokes_explain_waits(waits, strokes.faced):
        positions, faced = _measure_at_strokes(sighting, strokes, limits)
    else:
        positions, faced = [], []
        for spell in spells_without_strokes(watched, sighting.camera, waits, strokes):
            measures = sighting.average_measures(spell)
            if measures is not None and has_bent_knees(measures.knee_flexion[:, 0]):
                positions.append(_ready_position(spell, measures, limits, sighting))
    return MeasuredPlayer(
        sighting.watched, sighting.camera, sighting.racket, tuple(positions), tuple(faced), own
    )


def _measure_at_strokes(
    sighting: _Sighting, strokes: PlayerStrokes, limits: Limits
) -> tuple[list[ReadyPosition], list[StrokeFaced]]:
    """Measure a player at each stroke faced: ready positions, and how each stroke was met."""
    positions: list[ReadyPosition] = []
    faced: list[StrokeFaced] = []
    for stroke, attacker_m in zip(strokes.faced, strokes.attackers_m, strict=True):
        meeting = meet_stroke(stroke, sighting.watched, strokes.own)
        met, number = meeting.met, None
        if meeting.spell is not None:
            spell = sighting.select_about(meeting.spell, stroke.time_s)
            measures = sighting.average_measures(spell)
            if measures is None:
                met = "not_seen"
            elif not has_bent_knees(measures.knee_flexion[:, 0]):
                met = "on_the_move"
            else:
                number = len(positions)
                positions.append(_ready_position(spell, measures, limits, sighting))
        faced.append(
            StrokeFaced(
                stroke.time_s,
                stroke.time_se_s,
                stroke.known_by,
                stroke.serve,
                met,
                number,
                attacker_m=attacker_m,
            )
        )
    return positions, faced


def _ready_position(
    spell: ObservedSpell,
    measures: Measures,
    limits: Limits,
    sighting: _Sighting,
) -> ReadyPosition:
    """Class a ready position, and put it together from its spell and its averaged measures."""
    probabilities = calibrated_probabilities(
        class_probabilities(
            measures.lead_angle[0],
            measures.lead_angle[1],
            measures.hip_yaw[0],
            measures.hip_yaw[1],
            limits,
            math.sqrt(calibration_turn_variance(sighting.camera)),
        )
    )
    name, remarks = classify(measures.lead_angle[0], probabilities, limits)
    width = measures.stance_width[0]
    feet = measures.feet
    return ReadyPosition(
        start_s=spell.start_s,
        end_s=spell.end_s + sighting.frame_s,
        start_frame=spell.start_frame,
        end_frame=spell.end_frame,
        key_frame=spell.key_frame,
        hip_yaw_deg=float(measures.hip_yaw[0]),
        hip_yaw_se_deg=float(measures.hip_yaw[1]),
        shoulder_yaw_deg=float(measures.shoulder_yaw[0]),
        shoulder_yaw_se_deg=float(measures.shoulder_yaw[1]),
        lead_angle_deg=float(measures.lead_angle[0]),
        lead_angle_se_deg=float(measures.lead_angle[1]),
        foot_stagger_m=float(measures.foot_stagger[0]),
        foot_stagger_se_m=float(measures.foot_stagger[1]),
        stance_width_m=float(width),
        stance_width_se_m=float(measures.stance_width[1]),
        stance_width_hips=float(width / measures.hip_width),
        stance_width_legs=float(width / measures.leg_length),
        knee_flexion_deg=_pair(measures.knee_flexion[:, 0]),
        knee_flexion_se_deg=_pair(measures.knee_flexion[:, 1]),
        base_m=_pair(measures.base[:, 0]),
        base_se_m=_pair(measures.base[:, 1]),
        stance_class=name,
        probabilities=probabilities,
        feet=(
            FloorContact(_pair(feet[0, 0]), _pair(feet[0, 1])),
            FloorContact(_pair(feet[1, 0]), _pair(feet[1, 1])),
        ),
        hips_m=(_pair(measures.hips[0]), _pair(measures.hips[1])),
        remarks=remarks,
        racket_foot_leading=leading_probability(
            measures.lead_angle[0], measures.lead_angle[1], limits
        ),
    )


def _pair(values: FloatArray) -> tuple[float, float]:
    """Return two numbers as a tuple."""
    return float(values[0]), float(values[1])
