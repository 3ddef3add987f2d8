"""Postures of play and swings of the racket arm, for a right-hander in the near half."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.drill import numbers_of, posture_from
from tests.rendering.legs import lower_hips_to_reach
from tests.rendering.play.motion import RACKET_ARM, Composer, column
from tests.rendering.posture import Arm, Foot, Posture
from tests.rendering.skeleton import Skeleton
from tests.rendering.stances import bend_knees, draw_angles, draw_stance

STANCE_WIDTHS = (0.4, 0.6)
TURNING = ("hip_yaw", "chest_yaw", "racket_yaw", "racket_pitch")


@dataclass(frozen=True)
class ArmState:
    """Racket arm, racket direction against the chest, and the chest's turn, at one moment.

    Angles in degrees; `chest` and `lean` come on top of the posture's own yaw and pitch.
    """

    arm: tuple[float, float, float]
    racket_yaw: float
    racket_pitch: float
    chest: float
    lean: float = 0.0


# Each swing drawn back, at the contact, and through.
SWINGS = {
    "overhead": (
        ArmState((0.40, -0.22, 0.30), 10, 205, -50, -12),
        ArmState((0.14, 0.28, 0.82), 0, 95, -2, 4),
        ArmState((-0.35, 0.62, -0.22), 40, -25, 24, 18),
    ),
    "side": (
        ArmState((0.68, -0.10, -0.02), -110, 45, -30),
        ArmState((0.55, 0.62, -0.08), -25, 15, 0, 4),
        ArmState((-0.30, 0.62, 0.18), 85, 30, 22),
    ),
    "backhand": (
        ArmState((-0.30, 0.38, -0.12), 115, 15, 38),
        ArmState((0.10, 0.74, -0.14), 30, 5, 14, 4),
        ArmState((0.58, 0.46, 0.12), -60, 25, -12),
    ),
    "under": (
        ArmState((0.52, -0.12, -0.62), -60, -60, -18),
        ArmState((0.34, 0.62, -0.42), -15, -15, 2, 6),
        ArmState((-0.12, 0.66, 0.38), 25, 70, 16, -4),
    ),
    "serve": (
        ArmState((0.05, 0.42, -0.45), 40, -70, 8),
        ArmState((0.12, 0.62, -0.32), 15, -35, 4),
        ArmState((0.25, 0.72, -0.05), -10, 10, -4),
    ),
}
# Which swing a stroke is played with, and the wrist's speed at the contact, m/s.
STROKES = {
    "smash": (("overhead",), (7.5, 10.0)),
    "clear": (("overhead",), (6.0, 9.0)),
    "drop": (("overhead",), (5.0, 7.0)),
    "drive": (("side", "backhand"), (5.0, 8.0)),
    "lift": (("under",), (5.0, 7.5)),
    "block": (("backhand", "side", "under"), (2.0, 4.0)),
    "overhead": (("overhead",), (5.0, 9.0)),
    "serve": (("serve", "under"), (2.0, 4.0)),
    "feed": (("under", "overhead"), (3.5, 6.0)),
}
FOOT_SPEED_IN_HOP = 2.0  # m/s, on average
OWN_SHARE_OF_SPEED = 0.78  # of the wrist's speed; the rest comes from trunk and legs


def draw_ready(
    rng: np.random.Generator,
    skeleton: Skeleton,
    base: tuple[float, float],
    sink_m: float,
    angles_deg: tuple[float, float] | None = None,
) -> Posture:
    """A planted defender, so low that the hips can have sunk by `sink_m` since the landing."""
    stance = draw_stance(rng, skeleton, base, angles_deg or draw_angles(rng), widths=STANCE_WIDTHS)
    highest = lower_hips_to_reach(skeleton, replace(stance, hip_height=10.0)).hip_height
    height = min(stance.hip_height, highest - sink_m - 0.005)
    return replace(stance, hip_height=max(height, 0.55 * highest))


def narrowed(
    rng: np.random.Generator, skeleton: Skeleton, stance: Posture, air_s: float = 0.15
) -> Posture:
    """How a defender stands before a hop of `air_s`: feet nearer together, a little higher."""
    width = np.hypot(*(_at(stance.racket_foot) - _at(stance.other_foot)))
    farthest = FOOT_SPEED_IN_HOP * air_s
    share = rng.uniform(max(0.5, 1.0 - 2.0 * farthest / width), 0.92)
    turn = np.radians(rng.normal(0, 7))
    back = rng.uniform(0.0, 0.5 * farthest)
    middle = _middle((stance.racket_foot, stance.other_foot))
    feet = []
    for foot in (stance.racket_foot, stance.other_foot):
        x, y = middle + share * (np.array([foot.x, foot.y]) - middle)
        feet.append(replace(foot, x=x, y=y - back, lift=np.radians(rng.uniform(3, 20)), height=0.0))
    posture = replace(
        stance,
        racket_foot=feet[0],
        other_foot=feet[1],
        hip_x=middle[0] + share * (stance.hip_x - middle[0]),
        hip_y=middle[1] - back + share * (stance.hip_y - middle[1]),
        hip_yaw=stance.hip_yaw + turn,
        chest_yaw=stance.chest_yaw + turn,
        hip_height=stance.hip_height + rng.uniform(0.03, 0.08),
        chest_pitch=0.8 * stance.chest_pitch,
    )
    return lower_hips_to_reach(skeleton, posture)


def standing(rng: np.random.Generator, skeleton: Skeleton, base: tuple[float, float]) -> Posture:
    """Somebody who serves or feeds: nearly upright, feet close."""
    stance = draw_stance(
        rng,
        skeleton,
        base,
        (float(rng.normal(-25, 12)), float(rng.normal(-12, 8))),
        widths=(0.2, 0.3),
    )
    upright = replace(stance, chest_pitch=np.radians(rng.uniform(2, 14)), hip_pitch=0.05)
    return bend_knees(skeleton, upright, np.radians(rng.uniform(10, 22)))


def lunge(rng: np.random.Generator, skeleton: Skeleton, start: Posture, which: int) -> Posture:
    """One foot far out, the body over it; the arm is left to the swing."""
    stature = skeleton.body.phenotype.stature_m
    outward = 1.0 if which == 0 else -1.0
    feet = [start.racket_foot, start.other_foot]
    angle, reach = rng.uniform(-0.5, 1.0), rng.uniform(0.12, 0.28) * stature
    foot = feet[which]
    feet[which] = replace(
        foot,
        x=foot.x + outward * reach * np.cos(angle),
        y=foot.y + reach * np.sin(angle),
        yaw=foot.yaw - outward * rng.uniform(0.0, 0.4),
        lift=0.0,
    )
    weight = 0.6 if which == 0 else 0.4
    hip = weight * _at(feet[0]) + (1 - weight) * _at(feet[1])
    turn = -outward * rng.uniform(0.0, 0.4)
    posture = replace(
        start,
        racket_foot=feet[0],
        other_foot=feet[1],
        hip_x=hip[0],
        hip_y=hip[1] - 0.05,
        hip_yaw=0.6 * start.hip_yaw + turn,
        chest_yaw=0.5 * start.chest_yaw + 1.2 * turn,
        chest_pitch=float(np.clip(start.chest_pitch + rng.uniform(-0.1, 0.2), 0.1, 0.9)),
        chest_roll=outward * rng.uniform(0.0, 0.2),
    )
    posture = bend_knees(skeleton, posture, np.radians(rng.uniform(42, 78)))
    return lower_hips_to_reach(skeleton, posture)


def reached_up(rng: np.random.Generator, skeleton: Skeleton, base: tuple[float, float]) -> Posture:
    """Under a high shuttle: racket foot back, nearly upright."""
    lead = float(rng.normal(-38, 14))
    stance = draw_stance(
        rng, skeleton, base, (lead, float(rng.normal(-14, 9))), widths=(0.26, 0.38)
    )
    upright = replace(
        stance,
        hip_pitch=np.radians(rng.uniform(-2, 6)),
        chest_pitch=np.radians(rng.uniform(-8, 8)),
        chest_roll=np.radians(rng.uniform(-14, 0)),
        head_pitch=np.radians(-18.0),
        other_arm=Arm(0.5, 0.35, -0.1, 0.6),
    )
    return bend_knees(skeleton, upright, np.radians(rng.uniform(12, 30)))


def strike(
    rng: np.random.Generator,
    composer: Composer,
    contact_s: float,
    hit: Posture,
    stroke: str,
    airborne: bool = False,
) -> float:
    """Swing the racket through `hit` (the body at the contact); returns when it is through.

    What was composed after the racket is drawn back is struck out, but for hips and feet. Between
    rest and the contact the wrist speeds up evenly, so the way back sets how long the swing takes.
    The hips are where `hit` has them at the contact, unless the player is `airborne`.
    """
    styles, speeds = STROKES[stroke]
    style = str(rng.choice(styles))
    speed = OWN_SHARE_OF_SPEED * rng.uniform(*speeds)
    jitter = rng.normal(0, 0.04, 3)
    back, contact, through = (_with_arm(hit, state, jitter) for state in SWINGS[style])
    arms = np.array([numbers_of(p)[RACKET_ARM][:3] for p in (back, contact, through)])
    arm_m = 0.31 * composer.stature_m
    ways = np.diff(arms, axis=0)
    lengths = arm_m * np.linalg.norm(ways, axis=1)
    before = float(np.clip(2 * lengths[0] / speed, 0.07, 0.19))
    after = float(np.clip(2 * lengths[1] / speed, 0.08, 0.22))
    composer.strike_out(contact_s - before, hips=False)
    composer.key_swing(contact_s - before, back)
    direction = (ways / np.linalg.norm(ways, axis=1, keepdims=True)).sum(axis=0)
    direction = direction / np.linalg.norm(direction)
    slopes = {RACKET_ARM.start + k: speed / arm_m * direction[k] for k in range(3)}
    first, last = numbers_of(back), numbers_of(through)
    for name in TURNING:
        slopes[column(name)] = (last - first)[column(name)] / (before + after)
    if not airborne:
        composer.key(contact_s, hit)
    composer.key_swing(contact_s, contact, slopes)
    composer.key_swing(contact_s + after, through)
    place = composer.posture if airborne else hit
    composer.posture = replace(through, hip_x=place.hip_x, hip_y=place.hip_y)
    return contact_s + after


def blend(first: Posture, second: Posture, share: float) -> Posture:
    """A posture between two (its feet are the second's)."""
    numbers = (1 - share) * numbers_of(first) + share * numbers_of(second)
    return posture_from(numbers, (second.racket_foot, second.other_foot))


def _with_arm(hit: Posture, state: ArmState, jitter: FloatArray) -> Posture:
    """The posture with the racket arm, racket and trunk of one moment of a swing."""
    turn = np.radians(state.chest)
    return replace(
        hit,
        racket_arm=Arm(*(np.array(state.arm) + jitter), 0.5),
        racket_yaw=np.radians(state.racket_yaw),
        racket_pitch=np.radians(state.racket_pitch),
        hip_yaw=hit.hip_yaw + 0.5 * turn,
        chest_yaw=hit.chest_yaw + turn,
        chest_pitch=hit.chest_pitch + np.radians(state.lean),
    )


def _middle(feet: Sequence[Foot]) -> FloatArray:
    return 0.5 * (_at(feet[0]) + _at(feet[1]))


def _at(foot: Foot) -> FloatArray:
    return np.array([foot.x, foot.y])
