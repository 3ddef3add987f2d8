"""A defence drill: ready positions and the motion between them, as a posture for any time.

All postures are a right-hander's (see `skeleton`).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from tests.rendering.arrays import FloatArray
from tests.rendering.posture import Arm, Foot, Posture
from tests.rendering.skeleton import Skeleton
from tests.rendering.stances import draw_angles, draw_stance

SHORTEST_READY_S, LONGEST_READY_S = 0.4, 2.0
SWAY_HZ = (0.35, 0.9)
STRIDE_M, FARTHEST_STEP_M = 0.75, 1.3
FOOT_FIELDS = ("racket_foot", "other_foot")
ARM_FIELDS = ("racket_arm", "other_arm")
NUMBER_FIELDS = tuple(
    field.name for field in fields(Posture) if field.name not in FOOT_FIELDS + ARM_FIELDS
)


@dataclass(frozen=True)
class Step:
    """One foot on its way from one place to another between two times, seconds."""

    start_s: float
    end_s: float
    origin: Foot
    target: Foot
    apex_m: float

    def at(self, time_s: float) -> Foot:
        """The foot at a time within the step."""
        share = np.clip((time_s - self.start_s) / (self.end_s - self.start_s), 0.0, 1.0)
        smooth = share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
        arc = np.sin(np.pi * share)
        a, b = self.origin, self.target

        def mix(first: float, second: float) -> float:
            return float(first + smooth * (second - first))

        lift = mix(a.lift, b.lift) + 0.35 * arc * (1.0 - share)
        return Foot(mix(a.x, b.x), mix(a.y, b.y), mix(a.yaw, b.yaw), lift, self.apex_m * arc)


@dataclass(frozen=True)
class Spell:
    """A ready position's time span in seconds: feet settled until a foot or the arm starts."""

    start_s: float
    end_s: float


@dataclass(frozen=True)
class Drill:
    """A drill: `posture(time_s)` for 0..`duration_s`, and the true ready positions `spells`."""

    duration_s: float
    spells: tuple[Spell, ...]
    body: PchipInterpolator
    first_feet: tuple[Foot, Foot]
    steps: tuple[tuple[Step, ...], tuple[Step, ...]]
    sway: FloatArray

    def posture(self, time_s: float) -> Posture:
        """The posture at a time, with a slight sway all the time."""
        numbers = self.body(time_s)
        amplitudes, rates, phases = self.sway
        numbers = numbers + amplitudes * np.sin(2 * np.pi * rates * time_s + phases)
        feet = [
            _foot_at(foot, steps, time_s)
            for foot, steps in zip(self.first_feet, self.steps, strict=True)
        ]
        lowest = min(foot.height for foot in feet)
        posture = posture_from(numbers, feet)
        return replace(posture, hip_height=posture.hip_height + 0.8 * lowest)


def _foot_at(foot: Foot, steps: Sequence[Step], time_s: float) -> Foot:
    """Where a foot is that starts at `foot` and takes `steps` in turn."""
    for step in steps:
        if time_s < step.start_s:
            return foot
        if time_s < step.end_s:
            return step.at(time_s)
        foot = step.target
    return foot


def numbers_of(posture: Posture) -> FloatArray:
    """All numbers of a posture but its feet, as one vector."""
    arms = [getattr(posture, name) for name in ARM_FIELDS]
    return np.array(
        [getattr(posture, name) for name in NUMBER_FIELDS]
        + [value for arm in arms for value in (arm.across, arm.forward, arm.up, arm.swivel)]
    )


def posture_from(numbers: FloatArray, feet: Sequence[Foot]) -> Posture:
    """The posture of a vector of numbers (see `numbers_of`) and two feet."""
    count = len(NUMBER_FIELDS)
    return Posture(
        racket_foot=feet[0],
        other_foot=feet[1],
        racket_arm=Arm(*numbers[count : count + 4]),
        other_arm=Arm(*numbers[count + 4 :]),
        **dict(zip(NUMBER_FIELDS, numbers[:count], strict=True)),
    )


class _Score:
    """Key postures and steps while a drill is being composed."""

    def __init__(self, first: Posture) -> None:
        self.first_feet = (first.racket_foot, first.other_foot)
        self.feet = [first.racket_foot, first.other_foot]
        self.steps: tuple[list[Step], list[Step]] = ([], [])
        self.times = [0.0]
        self.numbers = [numbers_of(first)]

    def key(self, time_s: float, posture: Posture) -> None:
        """Pass through a posture (its feet aside) at a time."""
        self.times.append(time_s)
        self.numbers.append(numbers_of(posture))

    def step(self, which: int, start_s: float, seconds: float, target: Foot, apex: float) -> float:
        """Move a foot (0 racket, 1 other); returns when it has landed."""
        end_s = start_s + seconds
        self.steps[which].append(Step(start_s, end_s, self.feet[which], target, apex))
        self.feet[which] = target
        return end_s

    def drill(self, rng: np.random.Generator, spells: list[Spell], duration_s: float) -> Drill:
        """The finished drill."""
        body = PchipInterpolator(np.array(self.times), np.array(self.numbers), axis=0)
        count = len(self.numbers[0])
        amplitudes = np.full(count, np.radians(0.5))
        for name in ("hip_x", "hip_y", "hip_height"):
            amplitudes[NUMBER_FIELDS.index(name)] = 0.004
        amplitudes[NUMBER_FIELDS.index("grip")] = 0.0
        amplitudes[len(NUMBER_FIELDS) :] = 0.012
        sway = np.stack(
            [
                amplitudes * rng.uniform(0.3, 1.3, count),
                rng.uniform(*SWAY_HZ, count),
                rng.uniform(0, 2 * np.pi, count),
            ]
        )
        steps = (tuple(self.steps[0]), tuple(self.steps[1]))
        return Drill(duration_s, tuple(spells), body, self.first_feet, steps, sway)


def draw_drill(
    rng: np.random.Generator,
    skeleton: Skeleton,
    home: tuple[float, float] | Sequence[tuple[float, float]],
    angles_deg: Sequence[tuple[float, float]],
    longest_ready_s: float = LONGEST_READY_S,
) -> Drill:
    """A random drill around a place.

    Parameters
    ----------
    rng : Generator
        Source of all draws.
    skeleton : Skeleton
        The person.
    home : (float, float), or one for each ready position
        Where the player recovers to, more or less; court frame of a right-hander, metres.
    angles_deg : sequence of (float, float)
        Lead angle and hip yaw of each ready position in turn.
    longest_ready_s : float
        Upper end of the durations of ready positions.
    """
    homes = np.broadcast_to(np.array(home, dtype=float), (len(angles_deg), 2))
    stances = [
        draw_stance(rng, skeleton, _near(rng, tuple(place)), angles_deg=angles)
        for place, angles in zip(homes, angles_deg, strict=True)
    ]
    score = _Score(stances[0])
    spells = []
    now = 0.0
    for index, stance in enumerate(stances):
        end = now + rng.uniform(SHORTEST_READY_S, longest_ready_s)
        settled = now + (rng.uniform(0.03, 0.09) if index else 0.0)
        if index:
            score.key(settled, stance)
        score.key(max(end, settled + 0.05), stance)
        spells.append(Spell(now, score.times[-1]))
        now = score.times[-1]
        if index + 1 < len(stances):
            now = _play_stroke(rng, score, skeleton, stance, stances[index + 1], now)
    return score.drill(rng, spells, now)


def draw_angle_list(rng: np.random.Generator, count: int) -> list[tuple[float, float]]:
    """Lead angles and hip yaws, degrees, of `count` ready positions."""
    return [draw_angles(rng) for _ in range(count)]


def _near(rng: np.random.Generator, home: tuple[float, float]) -> tuple[float, float]:
    return float(home[0] + rng.uniform(-0.45, 0.45)), float(home[1] + rng.uniform(-0.4, 0.4))


def _play_stroke(
    rng: np.random.Generator,
    score: _Score,
    skeleton: Skeleton,
    start: Posture,
    end: Posture,
    now: float,
) -> float:
    """Split step, lunge or shuffle, stroke and recovery; returns when both feet have settled."""
    stature = skeleton.body.phenotype.stature_m
    hops = rng.uniform() < 0.7
    landed = _split_step(rng, score, start, now) if hops else now
    prepared = landed + rng.uniform(0.05, 0.1)
    score.key(prepared, _with_arm_back(rng, start))
    which = 0 if rng.uniform() < 0.65 else 1
    lunge_foot = _lunge_place(rng, score.feet, which, stature)
    reached = score.step(
        which, landed + 0.02, rng.uniform(0.27, 0.4), lunge_foot, rng.uniform(0.04, 0.1)
    )
    contact = max(reached + rng.uniform(-0.03, 0.06), prepared + 0.12)
    lunge = _lunge_posture(rng, start, score.feet, which)
    score.key(contact, lunge)
    follow = contact + rng.uniform(0.1, 0.18)
    score.key(follow, _with_arm_through(rng, lunge))
    targets = (end.racket_foot, end.other_foot)
    if np.hypot(end.hip_x - lunge.hip_x, end.hip_y - lunge.hip_y) > FARTHEST_STEP_M:
        follow, lunge = _run(rng, score, lunge, end, which, follow)
    back = score.step(
        which, follow, rng.uniform(0.28, 0.42), targets[which], rng.uniform(0.04, 0.09)
    )
    settled = score.step(
        1 - which, back - rng.uniform(0.0, 0.08), rng.uniform(0.2, 0.3), targets[1 - which], 0.04
    )
    score.key(0.5 * (follow + settled), _blend(lunge, end, 0.6))
    return max(back, settled)


def _run(
    rng: np.random.Generator,
    score: _Score,
    start: Posture,
    end: Posture,
    which: int,
    now: float,
) -> tuple[float, Posture]:
    """Run most of the way to a stance that is too far for one step; returns when, and how."""
    way = np.array([end.hip_x - start.hip_x, end.hip_y - start.hip_y])
    strides = 2 * int(np.ceil(np.linalg.norm(way) / STRIDE_M / 2))
    posture = start
    for stride in range(1, strides + 1):
        share = stride / (strides + 1)
        target = (end.racket_foot, end.other_foot)[which]
        left = (1.0 - share) * way
        foot = replace(target, x=target.x - left[0], y=target.y - left[1])
        now = score.step(which, now, rng.uniform(0.17, 0.23), foot, 0.08)
        posture = replace(
            _blend(start, end, share), hip_x=end.hip_x - left[0], hip_y=end.hip_y - left[1]
        )
        score.key(now, posture)
        which = 1 - which
    return now, posture


def _split_step(rng: np.random.Generator, score: _Score, start: Posture, now: float) -> float:
    """A small hop on both feet; returns when they land."""
    seconds, apex = rng.uniform(0.16, 0.24), rng.uniform(0.02, 0.05)
    score.key(now + seconds / 2, replace(start, hip_height=start.hip_height + 0.3 * apex))
    middle = (
        0.5 * (score.feet[0].x + score.feet[1].x),
        0.5 * (score.feet[0].y + score.feet[1].y),
    )
    for which in (0, 1):
        foot = score.feet[which]
        wider = 1.0 + rng.uniform(0.0, 0.12)
        target = replace(
            foot,
            x=middle[0] + wider * (foot.x - middle[0]),
            y=middle[1] + wider * (foot.y - middle[1]),
        )
        score.step(which, now, seconds, target, apex)
    return now + seconds


def _lunge_place(
    rng: np.random.Generator, feet: Sequence[Foot], which: int, stature: float
) -> Foot:
    """Where the lunging foot goes: outwards and forwards or backwards, by one long step."""
    outward = 1.0 if which == 0 else -1.0
    angle, reach = rng.uniform(-0.7, 0.9), rng.uniform(0.15, 0.32) * stature
    foot = feet[which]
    return replace(
        foot,
        x=foot.x + outward * reach * np.cos(angle),
        y=foot.y + reach * np.sin(angle),
        yaw=foot.yaw - outward * rng.uniform(0.0, 0.4),
        lift=0.0,
    )


def _lunge_posture(
    rng: np.random.Generator, start: Posture, feet: Sequence[Foot], which: int
) -> Posture:
    """Body over the lunge, racket arm at the shuttle."""
    weight = 0.6 if which == 0 else 0.4
    outward = 1.0 if which == 0 else -1.0
    turn = -outward * rng.uniform(0.0, 0.45)
    arm = Arm(
        outward * rng.uniform(0.3, 0.75), rng.uniform(0.4, 0.75), rng.uniform(-0.6, 0.35), 0.5
    )
    return replace(
        start,
        hip_x=weight * feet[0].x + (1 - weight) * feet[1].x,
        hip_y=weight * feet[0].y + (1 - weight) * feet[1].y - 0.05,
        hip_height=start.hip_height * rng.uniform(0.85, 0.97),
        hip_yaw=0.6 * start.hip_yaw + turn,
        chest_yaw=0.5 * start.chest_yaw + 1.3 * turn,
        chest_pitch=start.chest_pitch + rng.uniform(-0.1, 0.2),
        chest_roll=outward * rng.uniform(0.0, 0.25),
        racket_arm=arm,
        racket_yaw=start.racket_yaw - outward * 0.5,
        racket_pitch=rng.uniform(-0.5, 0.9),
    )


def _with_arm_back(rng: np.random.Generator, posture: Posture) -> Posture:
    """The racket arm drawn back a little."""
    arm = posture.racket_arm
    back = replace(
        arm,
        across=arm.across + rng.uniform(0.0, 0.2),
        forward=max(arm.forward - rng.uniform(0.1, 0.25), 0.15),
    )
    return replace(posture, racket_arm=back, racket_yaw=posture.racket_yaw - 0.4)


def _with_arm_through(rng: np.random.Generator, posture: Posture) -> Posture:
    """The racket arm after the stroke."""
    arm = posture.racket_arm
    through = replace(
        arm,
        across=arm.across - rng.uniform(0.1, 0.4),
        up=min(arm.up + rng.uniform(0.0, 0.4), 0.6),
    )
    return replace(
        posture,
        racket_arm=through,
        racket_yaw=posture.racket_yaw + rng.uniform(0.4, 1.0),
        racket_pitch=posture.racket_pitch + rng.uniform(0.0, 0.6),
    )


def _blend(first: Posture, second: Posture, share: float) -> Posture:
    """A posture between two (its feet are the second's)."""
    numbers = (1 - share) * numbers_of(first) + share * numbers_of(second)
    return posture_from(numbers, (second.racket_foot, second.other_foot))
