"""Steps, hops and what feet do while waiting, written into a motion that is being composed."""

from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.play.body_motion import blend
from tests.rendering.play.motion import OTHER, RACKET, Composer
from tests.rendering.play.rally import Hop
from tests.rendering.posture import Foot, Posture

GRAVITY = 9.81
STEP_S = (0.17, 0.24)
LONGEST_STEP_M = 0.5  # of one foot in one step, where there is time
WIDTH_ON_THE_WAY = 0.6
SOFT_LANDING_S = 0.1
WALKING_SPEED = 1.1  # m/s, of the body from place to place


@dataclass(frozen=True)
class Walk:
    """How to walk: in which time, and whether some foot is in the air all the time."""

    start_s: float
    end_s: float
    running: bool = False


def reachable(seconds: float) -> float:
    """How far a walk of so many seconds may lead, metres."""
    return WALKING_SPEED * max(seconds - 0.1, 0.0)


def walk(rng: np.random.Generator, composer: Composer, end: Posture, way: Walk) -> float:
    """Walk until both feet are where a posture has them; returns when the last foot is down.

    Steps by turns. A walk that is `running` fills its time, and each foot leaves before the other
    is down; any other takes as long as it needs, ends at `end_s` or before.
    """
    start = composer.posture
    start_s = max(way.start_s, composer.landed_s(RACKET), composer.landed_s(OTHER))
    seconds = way.end_s - start_s
    ways = [np.hypot(f.x - t.x, f.y - t.y) for f, t in zip(composer.feet, _feet(end), strict=True)]
    pace = rng.uniform(*STEP_S)
    if way.running:
        count = max(2, round(seconds / pace))
        slot = seconds / (count + 0.3)
        lasting = 1.3 * slot
    else:
        count = max(2, int(np.ceil(2 * max(ways) / LONGEST_STEP_M)))
        count = min(count, max(2, int(seconds / 0.15)))
        slot = min(pace, seconds / count)
        lasting = slot * rng.uniform(0.92, 1.0)
    which = _first_foot(composer, _on_the_way(start, end, 1.5 / count))
    for number in range(count):
        begin = start_s + number * slot
        feet_share = 1.0 if number + 2 >= count else (number + 1.5) / count
        target = _on_the_way(start, end, feet_share)
        foot = target.racket_foot if which == RACKET else target.other_foot
        apex = rng.uniform(0.025, 0.07)
        composer.step(which, (begin, begin + lasting), foot, apex)
        composer.key(begin + lasting, _over_feet(composer, start, end, (number + 1) / count))
        which = 1 - which
    return start_s + (count - 1) * slot + lasting


def split_hop(
    rng: np.random.Generator, composer: Composer, hop: Hop, stance: Posture, sink_m: float
) -> float:
    """Hop into a stance; the hips fly on a parabola and sink after it; returns when they have.

    `stance` is the posture once the hips have sunk by `sink_m` since the first landing.
    """
    before = composer.posture
    landing_height = stance.hip_height + sink_m
    takeoff_height = min(before.hip_height, landing_height + 0.03)
    rise = (landing_height - takeoff_height) / hop.air_s
    kick = 0.5 * GRAVITY * hop.air_s
    dip_s = hop.takeoff_s - rng.uniform(0.07, 0.11)
    composer.strike_out(dip_s)
    composer.key(dip_s, replace(before, hip_height=takeoff_height - rng.uniform(0.01, 0.03)))
    drift = {
        name: 0.6 * (getattr(stance, name) - getattr(before, name)) / hop.air_s
        for name in ("hip_x", "hip_y")
    }
    composer.key(
        hop.takeoff_s,
        replace(before, hip_height=takeoff_height),
        {"hip_height": rise + kick, **drift},
    )
    landed = replace(blend(before, stance, 0.9), hip_height=landing_height)
    composer.key(hop.first_s, landed, {"hip_height": rise - kick})
    for which in (RACKET, OTHER):
        end_s = hop.first_s if which == hop.first else hop.landing_s
        foot = stance.racket_foot if which == RACKET else stance.other_foot
        composer.step(which, (hop.takeoff_s, end_s), foot, hop.apex_m, heel=0.2)
    sunk_s = max(hop.landing_s + 0.03, hop.first_s + rng.uniform(0.09, 0.14))
    composer.key(sunk_s, stance)
    return sunk_s


def jump(rng: np.random.Generator, composer: Composer, contact_s: float, hit: Posture) -> None:
    """Be off the floor at the contact: both feet up before it and down after it."""
    air_s = rng.uniform(0.2, 0.38)
    up_s = contact_s - rng.uniform(0.45, 0.6) * air_s
    kick, rise = 0.5 * GRAVITY * air_s, GRAVITY * air_s**2 / 8
    low = replace(hit, hip_height=0.94 * hit.hip_height)
    composer.strike_out(up_s - 0.06)
    composer.key(up_s - 0.05, replace(low, hip_height=low.hip_height - 0.05))
    composer.key(up_s, low, {"hip_height": kick})
    forward = rng.uniform(0.0, 0.25) * air_s / 0.3
    down = replace(low, hip_y=low.hip_y + forward)
    composer.key(up_s + air_s, down, {"hip_height": -kick})
    composer.key(up_s + air_s + SOFT_LANDING_S, replace(down, hip_height=down.hip_height - 0.06))
    for which in (RACKET, OTHER):
        foot = composer.feet[which]
        span = (up_s, up_s + air_s + rng.uniform(0.0, 0.04))
        composer.step(which, span, replace(foot, y=foot.y + forward), 0.9 * rise + 0.03)


def swing_leg_through(
    rng: np.random.Generator, composer: Composer, contact_s: float, after: Posture
) -> None:
    """Bring the racket foot forward past the other one after an overhead stroke."""
    foot, other = composer.feet[RACKET], composer.feet[OTHER]
    ahead = rng.uniform(0.1, 0.3)
    target = replace(foot, x=0.5 * (foot.x + other.x) + 0.12, y=other.y + ahead, yaw=other.yaw)
    end_s = contact_s + rng.uniform(0.26, 0.36)
    composer.step(RACKET, (contact_s + 0.03, end_s), target, rng.uniform(0.03, 0.08))
    forward = 0.4 * (target.y - foot.y)
    composer.key(end_s, replace(after, hip_y=after.hip_y + forward))


def fill(rng: np.random.Generator, composer: Composer, start_s: float, end_s: float) -> None:
    """What a defender does before the hop while there is time: bounce, creep, feint, or nothing."""
    seconds = end_s - start_s
    kind = str(rng.choice(("bounce", "creep", "feint", "still"), p=(0.55, 0.2, 0.15, 0.1)))
    if seconds < 0.18 or kind == "still":
        return
    if kind == "bounce":
        _bounce(rng, composer, start_s, end_s)
    elif kind == "creep":
        _creep(rng, composer, start_s, end_s)
    else:
        _feint(rng, composer, start_s, end_s)


def _bounce(rng: np.random.Generator, composer: Composer, start_s: float, end_s: float) -> None:
    """Bounce on the toes, feet in place."""
    count = max(1, int((end_s - start_s) * rng.uniform(2.0, 3.2)))
    slot = (end_s - start_s) / count
    posture, heel = composer.posture, rng.uniform(0.12, 0.4)
    for number in range(count):
        span = (start_s + number * slot, start_s + (number + 0.9) * slot)
        for which in (RACKET, OTHER):
            composer.raise_heel(which, span, heel * rng.uniform(0.7, 1.0))
        top = posture.hip_height + 0.06 * heel
        composer.key(span[0] + 0.45 * slot, replace(posture, hip_height=top))
        composer.key(span[1], posture)


def _creep(rng: np.random.Generator, composer: Composer, start_s: float, end_s: float) -> None:
    """Creep forward by small steps."""
    count = max(2, int((end_s - start_s) / 0.22))
    slot = (end_s - start_s) / count
    forward = rng.uniform(0.03, 0.09)
    which = int(rng.integers(2))
    for number in range(count):
        begin = start_s + number * slot
        foot = composer.feet[which]
        composer.step(
            which,
            (begin, begin + 0.85 * slot),
            replace(foot, y=foot.y + 2 * forward),
            rng.uniform(0.01, 0.025),
            heel=0.2,
        )
        posture = composer.posture
        composer.key(begin + 0.9 * slot, replace(posture, hip_y=posture.hip_y + forward))
        which = 1 - which


def _feint(rng: np.random.Generator, composer: Composer, start_s: float, end_s: float) -> None:
    """Shift the weight to one side and back, the racket with it."""
    posture, side = composer.posture, rng.choice((-1, 1)) * rng.uniform(0.05, 0.12)
    middle = start_s + rng.uniform(0.35, 0.6) * (end_s - start_s)
    composer.key(
        middle,
        replace(
            posture,
            hip_x=posture.hip_x + side,
            chest_yaw=posture.chest_yaw - 1.5 * side,
            racket_yaw=posture.racket_yaw - 3.0 * side,
        ),
    )
    composer.key(end_s - 0.02, posture)


def _first_foot(composer: Composer, soon: Posture) -> int:
    """The foot that the body will soon have left farther behind."""
    ways = [np.hypot(foot.x - soon.hip_x, foot.y - soon.hip_y) for foot in composer.feet]
    return int(np.argmax(ways))


def _over_feet(composer: Composer, start: Posture, end: Posture, share: float) -> Posture:
    """A body between two postures, over the feet as it is over them in these."""
    middle = np.mean([(foot.x, foot.y) for foot in composer.feet], axis=0)
    aside = [
        np.array([p.hip_x, p.hip_y]) - np.mean([(f.x, f.y) for f in _feet(p)], axis=0)
        for p in (start, end)
    ]
    place = middle + (1.0 - share) ** 2 * aside[0] + share * aside[1]
    body = blend(start, end, share)
    bob = -0.015 if share < 1.0 else 0.0
    return replace(body, hip_x=place[0], hip_y=place[1], hip_height=body.hip_height + bob)


def _feet(posture: Posture) -> tuple[Foot, Foot]:
    return posture.racket_foot, posture.other_foot


def _on_the_way(start: Posture, end: Posture, share: float) -> Posture:
    """The end's feet and a body between two postures, moved back to a share of the way."""
    x = (1.0 - share) * (start.hip_x - end.hip_x)
    y = (1.0 - share) * (start.hip_y - end.hip_y)
    body = blend(start, end, share)

    # Steps on the way come down nearer to the body.
    width = WIDTH_ON_THE_WAY + (1.0 - WIDTH_ON_THE_WAY) * share**4

    def shifted(foot: Foot) -> Foot:
        return replace(
            foot,
            x=end.hip_x + x + width * (foot.x - end.hip_x),
            y=end.hip_y + y + width * (foot.y - end.hip_y),
        )

    return replace(
        body,
        racket_foot=shifted(end.racket_foot),
        other_foot=shifted(end.other_foot),
        hip_x=end.hip_x + x,
        hip_y=end.hip_y + y,
    )
