"""From what was seen of a player to measured, classed ready positions."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stance.assessment.notices import hand_unsure_notice, never_waits_notice, seen_badly_notice
from stance.court.calibration import CalibratedCourt
from stance.court.camera import Camera, turned_180
from stance.measures.classes import Limits, class_probabilities, classify
from stance.measures.handedness import SURE, seen_hand
from stance.measures.probability_calibration import calibrated_probabilities
from stance.measures.ready_positions import waits
from stance.measures.stance_measures import Measures, average, measure
from stance.people.floor import base_on_floor
from stance.results.model import FloorContact, Notice, ReadyPosition
from stance.types import FloatArray
from stance.watching.assumed_court import assume_court
from stance.watching.watched_clip import WaitingSpell, WatchedPlayer

LETTERS = "ABCD"

# Median standard errors above these are worth a word on where to put the phone: about one still
# in twenty lies above.
_SURE_HIPS_DEG, _SURE_FEET_DEG = 8.0, 4.0


def racket_hands(
    watched: Sequence[WatchedPlayer],
    court: CalibratedCourt | None,
    size: tuple[int, int],
    hand: str | None,
) -> tuple[tuple[str, float], ...]:
    """The racket hand of each player, given or seen, and the confidence in it."""
    if hand is not None:
        return ((hand, 1.0),) * len(watched)
    if not watched:
        return ()
    near = (court or assume_court(watched[0].track, size)).camera
    return tuple(
        seen_hand(one.track, one.racket_log_odds, _own_camera(one, near)) for one in watched
    )


def _own_camera(watched: WatchedPlayer, near: Camera) -> Camera:
    """The camera in the frame of a player's half, from that in the near half's."""
    return near if watched.half == "near" else turned_180(near)


@dataclass(frozen=True)
class MeasuredPlayer:
    """One player's ready positions, in the frame of the player's half."""

    watched: WatchedPlayer
    camera: Camera
    hand: str
    hand_confidence: float
    positions: tuple[ReadyPosition, ...]

    def notices(self, letter: str) -> list[Notice]:
        """What to warn of."""
        notices = []
        if self.hand_confidence < SURE:
            notices.append(hand_unsure_notice(letter, self.hand))
        if not self.positions:
            notices.append(never_waits_notice(letter))
        else:
            hips, feet = (
                float(np.median([getattr(p, name) for p in self.positions]))
                for name in ("hip_yaw_se_deg", "lead_angle_se_deg")
            )
            if hips > _SURE_HIPS_DEG or feet > _SURE_FEET_DEG:
                notices.append(seen_badly_notice(letter, hips, feet))
        return notices

    @property
    def across(self) -> float:
        """Where the player first waits, or else is on the whole, metres to the right."""
        if self.positions:
            return self.positions[0].base_m[0]
        track = self.watched.track
        return float(np.nanmedian(base_on_floor(self.camera, track.pixels)[:, 0]))


def measured_player(
    watched: WatchedPlayer,
    near: Camera,
    hand: str,
    hand_confidence: float,
    limits: Limits,
    step: float,
) -> MeasuredPlayer:
    """Measure one player.

    Parameters
    ----------
    watched : WatchedPlayer
    near : camera in the frame of the near half
    hand, hand_confidence : racket hand, and the confidence in it
    limits : limits of the classes
    step : time between frames, seconds
    """
    camera = _own_camera(watched, near)
    positions = [
        _ready_position(spell, measures, limits, step)
        for spell in watched.spells[hand]
        if (measures := _averaged(camera, watched, spell, hand)) is not None
        and waits(measures.knee_flexion[:, 0])
    ]
    return MeasuredPlayer(watched, camera, hand, hand_confidence, tuple(positions))


def _averaged(
    camera: Camera,
    watched: WatchedPlayer,
    spell: WaitingSpell,
    hand: str,
) -> Measures | None:
    """Average the close observations of a spell; None where none shows the feet on the floor."""
    observations = [watched.observations[frame] for frame in spell.observed_frames]
    found = [
        measures
        for observation in observations
        if (measures := measure(camera, observation, hand)) is not None
    ]
    return average(found) if found else None


def lettered(players: Sequence[MeasuredPlayer]) -> dict[str, MeasuredPlayer]:
    """Give letters: the near half first, each left to right at the first ready position."""
    ordered = sorted(players, key=lambda one: (one.watched.half != "near", one.across))
    return dict(zip(LETTERS, ordered, strict=False))


def _ready_position(
    spell: WaitingSpell,
    measures: Measures,
    limits: Limits,
    step: float,
) -> ReadyPosition:
    """Put a ready position together from its spell and its averaged measures."""
    probabilities = calibrated_probabilities(
        class_probabilities(
            measures.lead_angle[0],
            measures.lead_angle[1],
            measures.hip_yaw[0],
            measures.hip_yaw[1],
            limits,
        )
    )
    name, remarks = classify(measures.lead_angle[0], probabilities, limits)
    width = measures.stance_width[0]
    feet = measures.feet
    return ReadyPosition(
        start_s=spell.start_s,
        end_s=spell.end_s + step,
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
    )


def _pair(values: FloatArray) -> tuple[float, float]:
    """Return two numbers as a tuple."""
    return float(values[0]), float(values[1])
