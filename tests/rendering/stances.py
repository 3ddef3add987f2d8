"""Random ready stances: lead angle, hip yaw and everything else drawn independently.

Angles as in `posture.Posture`, always for a right-hander.
"""

from dataclasses import replace

import numpy as np

from tests.rendering.legs import ankle_joints, hip_joints, lower_hips_to_reach
from tests.rendering.posture import Arm, Foot, Posture
from tests.rendering.skeleton import Skeleton, leg_lengths

CLASS_LIMITS_DEG = (-40.0, -10.0, 10.0, 40.0)
WIDTHS = (0.22, 0.62)
LARGEST_ANGLE_DEG = 80.0
LARGEST_DISAGREEMENT_DEG = 72.0
TOES_OUT_LIMIT = np.radians(68.0)
TOES_IN_LIMIT = np.radians(25.0)


def draw_angles(rng: np.random.Generator) -> tuple[float, float]:
    """Lead angle and hip yaw in degrees, by racket side.

    A mixture: both anywhere; one near a class limit; feet and hips apart by 20 to 50 degrees; and
    stances as most players take them.
    """
    while True:
        kind = rng.choice(4, p=(0.35, 0.25, 0.22, 0.18))
        lead, hip = rng.uniform(-LARGEST_ANGLE_DEG, LARGEST_ANGLE_DEG, 2)
        if kind == 1:
            near = rng.choice(CLASS_LIMITS_DEG) + rng.normal(0, 5)
            rest = rng.normal(0, 25)
            lead, hip = (near, rest) if rng.uniform() < 0.5 else (rest, near)
        elif kind == 2:
            lead = rng.uniform(-60, 60)
            hip = lead + rng.choice((-1, 1)) * rng.uniform(20, 50)
        elif kind == 3:
            lead = rng.normal(-15, 18)
            hip = 0.5 * lead + rng.normal(0, 12)
        if max(abs(lead), abs(hip)) > LARGEST_ANGLE_DEG:
            continue
        if abs(lead - hip) <= LARGEST_DISAGREEMENT_DEG:
            return float(lead), float(hip)


def draw_stance(
    rng: np.random.Generator,
    skeleton: Skeleton,
    base: tuple[float, float],
    angles_deg: tuple[float, float] | None = None,
    widths: tuple[float, float] = WIDTHS,
) -> Posture:
    """A random ready stance.

    Parameters
    ----------
    rng : Generator
        Source of all draws.
    skeleton : Skeleton
        The person, for the lengths of legs and feet.
    base : (float, float)
        Middle of the feet on the floor, court frame (mirrored for a left-hander), metres.
    angles_deg : (float, float), optional
        Lead angle and hip yaw; drawn where not given.
    widths : (float, float)
        Range of the distance of the feet, as a share of the stature.
    """
    lead, hip_yaw = np.radians(angles_deg if angles_deg is not None else draw_angles(rng))
    stature = skeleton.body.phenotype.stature_m
    width = rng.uniform(*widths) * stature
    half = 0.5 * width * np.array([np.cos(lead), np.sin(lead)])
    racket_yaw, other_yaw = _toe_directions(rng, lead, hip_yaw)
    lifts = np.zeros(2) if rng.uniform() < 0.4 else np.radians(rng.uniform(1, 28))
    lifts = lifts * rng.uniform(0.5, 1.2, 2)
    lean = np.radians(rng.uniform(5, 50))
    shift = rng.normal(0, 0.07, 2) * np.array([width, 0.4 * width])
    forward = np.array([-np.sin(hip_yaw), np.cos(hip_yaw)])
    side = np.array([np.cos(lead), np.sin(lead)])
    behind = 0.11 * stature * np.sin(lean) + shift[1]
    hip = np.array(base) + shift[0] * side - behind * forward
    chest_yaw = hip_yaw + np.radians(np.clip(rng.normal(0, 14), -30, 30))
    head_yaw = np.radians(rng.uniform(-35, 35))
    posture = Posture(
        racket_foot=Foot(base[0] + half[0], base[1] + half[1], racket_yaw, lifts[0]),
        other_foot=Foot(base[0] - half[0], base[1] - half[1], other_yaw, lifts[1]),
        hip_x=hip[0],
        hip_y=hip[1],
        hip_height=0.5 * stature,
        hip_yaw=float(hip_yaw),
        hip_pitch=lean * rng.uniform(0.3, 0.75),
        hip_roll=np.radians(np.clip(rng.normal(0, 4), -9, 9)),
        chest_yaw=chest_yaw,
        chest_pitch=lean,
        chest_roll=np.radians(np.clip(rng.normal(0, 6), -14, 14)),
        head_yaw=float(np.clip(head_yaw, chest_yaw - 1.2, chest_yaw + 1.2)),
        head_pitch=np.radians(rng.normal(0, 9)),
        racket_arm=_draw_racket_arm(rng),
        other_arm=_draw_other_arm(rng),
        racket_yaw=np.radians(np.clip(rng.normal(18, 32), -60, 85)),
        racket_pitch=np.radians(np.clip(rng.normal(25, 30), -40, 80)) + lean,
    )
    return bend_knees(skeleton, posture, np.radians(rng.uniform(14, 75)))


def _toe_directions(rng: np.random.Generator, lead: float, hip_yaw: float) -> tuple[float, float]:
    """Toe directions of racket and other foot: between hips and net, turned out by chance."""
    facing = 0.6 * hip_yaw + 0.2 * lead + np.radians(rng.normal(0, 8))
    out = np.radians(rng.uniform(-3, 35, 2))
    racket = np.clip(facing - out[0], hip_yaw - TOES_OUT_LIMIT, hip_yaw + TOES_IN_LIMIT)
    other = np.clip(facing + out[1], hip_yaw - TOES_IN_LIMIT, hip_yaw + TOES_OUT_LIMIT)
    return float(racket), float(other)


def _draw_racket_arm(rng: np.random.Generator) -> Arm:
    """The racket hand in front, at the side, low or high."""
    ranges = (
        ((-0.15, 0.25), (0.35, 0.75), (-0.60, -0.10)),
        ((0.35, 0.75), (0.10, 0.45), (-0.60, -0.15)),
        ((0.00, 0.35), (0.20, 0.50), (-0.80, -0.55)),
        ((0.00, 0.40), (0.30, 0.65), (-0.05, 0.40)),
    )
    return _draw_arm(rng, ranges[rng.choice(4, p=(0.5, 0.2, 0.18, 0.12))])


def _draw_other_arm(rng: np.random.Generator) -> Arm:
    """The other hand in front, out for balance, hanging, or near the knee."""
    ranges = (
        ((-0.10, 0.30), (0.30, 0.70), (-0.65, -0.10)),
        ((0.40, 0.85), (-0.05, 0.40), (-0.50, 0.10)),
        ((0.05, 0.35), (0.05, 0.40), (-0.90, -0.65)),
        ((0.00, 0.30), (0.45, 0.65), (-0.75, -0.55)),
    )
    return _draw_arm(rng, ranges[rng.choice(4, p=(0.4, 0.3, 0.2, 0.1))])


def _draw_arm(rng: np.random.Generator, ranges) -> Arm:
    across, forward, up = (float(rng.uniform(*limits)) for limits in ranges)
    return Arm(across, forward, up, float(np.radians(rng.uniform(0, 65))))


def bend_knees(skeleton: Skeleton, posture: Posture, mean_flexion: float) -> Posture:
    """The posture with its hips at the height that bends the knees so far on average, radians.

    Where the stance is too wide for so straight legs, the legs are as straight as they can be.
    """
    lengths = leg_lengths(skeleton)
    ankles = ankle_joints(skeleton, posture)
    highest = lower_hips_to_reach(skeleton, replace(posture, hip_height=10.0)).hip_height
    low, high = 0.35 * highest, highest
    for _ in range(24):
        middle = 0.5 * (low + high)
        hips = hip_joints(skeleton, replace(posture, hip_height=middle))
        distance = np.linalg.norm(hips - ankles, axis=1)
        cosine = (lengths**2).sum(axis=1) - distance**2
        cosine = np.clip(cosine / (2 * lengths[:, 0] * lengths[:, 1]), -1, 1)
        if np.mean(np.pi - np.arccos(cosine)) > mean_flexion:
            low = middle
        else:
            high = middle
    return replace(posture, hip_height=0.5 * (low + high))
