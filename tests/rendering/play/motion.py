"""A person's motion: body numbers and feet at any times, and how it is composed.

Everything is a right-hander's in the near half (see `posture`); `far` turns it into the other half.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from tests.rendering.arrays import BoolArray, FloatArray
from tests.rendering.drill import NUMBER_FIELDS, SWAY_HZ, numbers_of, posture_from
from tests.rendering.posture import Foot, Posture

FOOT_FIELDS = tuple(field.name for field in fields(Foot))
RACKET, OTHER = 0, 1
CLOSEST_KEYS_S = 0.012
LOWERING_HZ = 100.0
HIPS = ("hip_x", "hip_y", "hip_height")
RACKET_ARM = slice(len(NUMBER_FIELDS), len(NUMBER_FIELDS) + 4)
TURNED_FIELDS = ("hip_yaw", "chest_yaw", "head_yaw")


@dataclass(frozen=True)
class Step:
    """One movement of a foot between two times, seconds.

    `apex_m` how high the foot is lifted on top of the straight way; `heel_rad` how far the heel
    comes up on the way. Where `grounded` the ball of the foot stays down: only the heel rises.
    """

    start_s: float
    end_s: float
    origin: Foot
    target: Foot
    apex_m: float
    heel_rad: float = 0.35
    grounded: bool = False


@dataclass(frozen=True)
class FootPath:
    """Where one foot is: `first` place and its `steps` in order of time."""

    first: Foot
    steps: tuple[Step, ...]

    def at(self, times: FloatArray) -> FloatArray:
        """The foot (times, 5) in the order of FOOT_FIELDS."""
        if not self.steps:
            return np.repeat(_row(self.first)[None], len(times), axis=0)
        starts = np.array([step.start_s for step in self.steps])
        ends = np.array([step.end_s for step in self.steps])
        which = np.searchsorted(starts, times, side="right") - 1
        begun = np.maximum(which, 0)
        share = np.clip((times - starts[begun]) / (ends - starts)[begun], 0.0, 1.0)
        share = np.where(which < 0, 0.0, share)
        smooth = share**3 * (10.0 - 15.0 * share + 6.0 * share**2)
        arc = np.sin(np.pi * share)
        origins = np.array([_row(step.origin) for step in self.steps])[begun]
        targets = np.array([_row(step.target) for step in self.steps])[begun]
        feet = origins + smooth[:, None] * (targets - origins)
        heels = np.array([step.heel_rad for step in self.steps])[begun]
        apexes = np.array([step.apex_m for step in self.steps])[begun]
        feet[:, FOOT_FIELDS.index("lift")] += heels * arc * (1.0 - share)
        feet[:, FOOT_FIELDS.index("height")] += apexes * arc
        return feet

    def moving(self) -> FloatArray:
        """From when to when the foot is off its place, (n, 2) seconds."""
        spans = [(step.start_s, step.end_s) for step in self.steps if not step.grounded]
        return np.array(spans, dtype=float).reshape(-1, 2)

    def planted_at(self, times: FloatArray) -> BoolArray:
        """Whether the foot is planted, (times,)."""
        spans = self.moving()
        inside = (times[:, None] >= spans[:, 0]) & (times[:, None] < spans[:, 1])
        return ~inside.any(axis=1)


@dataclass(frozen=True)
class Motion:
    """A motion from 0 to `duration_s`.

    `hips` gives the numbers of HIPS at a time, `upper` those of drill.numbers_of, of which the
    hips' place is not used; `feet` racket foot, then other foot;
    `sway` (3, numbers) amplitudes, rates and phases of a slight sway; `far` where it takes place
    in the far half; `lowering` (times,) metres by which the hips are lower at LOWERING_HZ, so that
    the legs reach (`joints.with_legs_that_reach`).
    """

    duration_s: float
    hips: CubicHermiteSpline
    upper: CubicHermiteSpline
    feet: tuple[FootPath, FootPath]
    sway: FloatArray
    far: bool = False
    lowering: FloatArray | None = None

    def numbers(self, times: FloatArray) -> FloatArray:
        """Body numbers (times, n) in the order of drill.numbers_of."""
        amplitudes, rates, phases = self.sway
        angles = 2 * np.pi * rates * np.asarray(times)[:, None] + phases
        numbers = self.upper(times)
        numbers[:, [NUMBER_FIELDS.index(name) for name in HIPS]] = self.hips(times)
        numbers += amplitudes * np.sin(angles)
        if self.lowering is not None:
            steps = np.arange(len(self.lowering)) / LOWERING_HZ
            numbers[:, NUMBER_FIELDS.index("hip_height")] -= np.interp(times, steps, self.lowering)
        if self.far:
            for name in TURNED_FIELDS:
                numbers[:, NUMBER_FIELDS.index(name)] += np.pi
            for name in ("hip_x", "hip_y"):
                numbers[:, NUMBER_FIELDS.index(name)] *= -1.0
        return numbers

    def feet_at(self, times: FloatArray) -> FloatArray:
        """Feet (times, 2, 5): racket foot and other foot in the order of FOOT_FIELDS."""
        feet = np.stack([path.at(np.asarray(times)) for path in self.feet], axis=1)
        if self.far:
            feet[..., :2] *= -1.0
            feet[..., FOOT_FIELDS.index("yaw")] += np.pi
        return feet

    def posture(self, time_s: float) -> Posture:
        """The posture at a time."""
        times = np.array([time_s])
        racket, other = self.feet_at(times)[0]
        return posture_from(self.numbers(times)[0], (Foot(*racket), Foot(*other)))

    def both_planted(self) -> FloatArray:
        """Spells in which both feet are planted, (n, 2) seconds, in order."""
        moves = np.concatenate([path.moving() for path in self.feet])
        spells, now = [], 0.0
        for start, end in moves[np.argsort(moves[:, 0])]:
            if start > now:
                spells.append((now, start))
            now = max(now, end)
        if self.duration_s > now:
            spells.append((now, self.duration_s))
        return np.array(spells, dtype=float).reshape(-1, 2)


class _Keys:
    """Key values of some of the numbers, from which a spline is made."""

    def __init__(self) -> None:
        self._rows: dict[float, tuple[FloatArray, dict[int, float]]] = {}

    def add(self, time_s: float, numbers: FloatArray, slopes: dict[int, float]) -> None:
        self._rows[time_s] = (numbers, slopes)

    def strike_out(self, after_s: float) -> None:
        kept = [t for t in self._rows if t <= after_s - CLOSEST_KEYS_S or t == 0.0]
        self._rows = {t: self._rows[t] for t in kept}

    def spline(self) -> CubicHermiteSpline:
        """Through all keys, at rest before the first and after the last."""
        times = _apart(sorted(self._rows), [t for t, row in self._rows.items() if row[1]])
        numbers = np.array([self._rows[t][0] for t in times])
        if len(times) == 1:
            times, numbers = [*times, times[0] + 1.0], np.repeat(numbers, 2, axis=0)
        slopes = PchipInterpolator(times, numbers, axis=0).derivative()(times)
        slopes[0], slopes[-1] = 0.0, 0.0
        for row, time_s in enumerate(times):
            for column, slope in self._rows.get(time_s, (None, {}))[1].items():
                slopes[row, column] = slope
        last = np.concatenate([numbers, numbers[-1:]])
        rest = np.concatenate([slopes, 0 * slopes[-1:]])
        return CubicHermiteSpline([*times, times[-1] + 60.0], last, rest, axis=0)


class Composer:
    """Key postures and steps while a motion is being composed; `feet` is where they last went.

    The hips' place and all else have keys of their own, since a swing goes on through steps.
    """

    def __init__(self, first: Posture, stature_m: float) -> None:
        self.posture = first
        self.stature_m = stature_m
        self.swung_s = 0.0
        self.feet = [first.racket_foot, first.other_foot]
        self._first_feet = (first.racket_foot, first.other_foot)
        self._steps: tuple[list[Step], list[Step]] = ([], [])
        self._hips, self._upper = _Keys(), _Keys()
        self.key(0.0, first)

    def key(
        self, time_s: float, posture: Posture, hip_slopes: dict[str, float] | None = None
    ) -> None:
        """Pass through a posture (its feet aside) at a time, the hips at given speeds, m/s.

        While a swing is not through, the hips alone.
        """
        slopes = {HIPS.index(name): slope for name, slope in (hip_slopes or {}).items()}
        self._hips.add(time_s, np.array([getattr(posture, name) for name in HIPS]), slopes)
        if time_s >= self.swung_s:
            self._upper.add(time_s, numbers_of(posture), {})
        self.posture = posture

    def key_swing(
        self, time_s: float, posture: Posture, slopes: dict[int, float] | None = None
    ) -> None:
        """Pass through a posture's trunk and arms at a time, some numbers at given slopes."""
        self._upper.add(time_s, numbers_of(posture), slopes or {})
        self.swung_s = time_s

    def strike_out(self, after_s: float, hips: bool = True) -> None:
        """Forget the key postures after a time, or those of trunk and arms alone; steps stay."""
        self._upper.strike_out(after_s)
        if hips:
            self._hips.strike_out(after_s)

    def step(
        self, which: int, span: tuple[float, float], target: Foot, apex_m: float, heel: float = 0.35
    ) -> float:
        """Move a foot to a place in a time span; returns when it has landed."""
        step = Step(*span, self.feet[which], target, apex_m, heel)
        self._add(which, step)
        return span[1]

    def raise_heel(self, which: int, span: tuple[float, float], heel: float) -> None:
        """Lift and lower a heel, the foot staying where it is."""
        foot = self.feet[which]
        self._add(which, Step(*span, foot, foot, 0.0, heel, grounded=True))

    def landed_s(self, which: int) -> float:
        """When a foot's last step ends."""
        return self._steps[which][-1].end_s if self._steps[which] else 0.0

    def motion(self, rng: np.random.Generator, duration_s: float, far: bool = False) -> Motion:
        """The finished motion."""
        racket, other = (
            FootPath(foot, tuple(steps))
            for foot, steps in zip(self._first_feet, self._steps, strict=True)
        )
        count = len(numbers_of(self.posture))
        hips, upper = self._hips.spline(), self._upper.spline()
        return Motion(duration_s, hips, upper, (racket, other), _draw_sway(rng, count), far)

    def _add(self, which: int, step: Step) -> None:
        if step.start_s < self.landed_s(which) - 1e-9 or step.end_s <= step.start_s:
            raise ValueError(f"foot {which}: a step from {step.start_s} before the last one ended")
        self._steps[which].append(step)
        self.feet[which] = step.target


def column(name: str) -> int:
    """The column of a number of a posture (see drill.numbers_of)."""
    return NUMBER_FIELDS.index(name)


def _row(foot: Foot) -> FloatArray:
    return np.array([getattr(foot, name) for name in FOOT_FIELDS])


def _apart(times: Sequence[float], fixed: Sequence[float]) -> list[float]:
    """The times without those that come too soon after another or beside a fixed one."""
    chosen: list[float] = []
    for time_s in times:
        near = chosen and time_s - chosen[-1] < CLOSEST_KEYS_S
        if near and time_s in fixed and chosen[-1] not in fixed:
            chosen[-1] = time_s
        elif not near or time_s in fixed:
            chosen.append(time_s)
    return chosen


def _draw_sway(rng: np.random.Generator, count: int) -> FloatArray:
    """Amplitudes, rates and phases (3, count) of a slight sway of all numbers but the grip."""
    amplitudes = np.full(count, np.radians(0.5))
    for name in ("hip_x", "hip_y", "hip_height"):
        amplitudes[NUMBER_FIELDS.index(name)] = 0.004
    amplitudes[NUMBER_FIELDS.index("grip")] = 0.0
    amplitudes[len(NUMBER_FIELDS) :] = 0.012
    return np.stack(
        [
            amplitudes * rng.uniform(0.3, 1.3, count),
            rng.uniform(*SWAY_HZ, count),
            rng.uniform(0, 2 * np.pi, count),
        ]
    )
