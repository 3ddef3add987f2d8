"""The other side: an attacker who moves and strikes, or a feeder who stands."""

from dataclasses import replace

import numpy as np

from tests.rendering.play.body_motion import (
    draw_ready,
    lunge,
    narrowed,
    reached_up,
    standing,
    strike,
)
from tests.rendering.play.footwork import (
    SOFT_LANDING_S,
    Walk,
    jump,
    reachable,
    swing_leg_through,
    walk,
)
from tests.rendering.play.motion import OTHER, RACKET, Composer, Motion
from tests.rendering.play.rally import Exchange, Rally
from tests.rendering.posture import Posture
from tests.rendering.skeleton import Skeleton

PLAYER, FEEDER, OUT, NOBODY = "player", "feeder", "out", "nobody"
OVERHEAD = ("smash", "clear", "drop")
# Where a stroke is played from, depth in the attacker's own half.
DEPTHS = {"lift": (-3.2, -1.6), "drive": (-4.4, -2.4)}
OVERHEAD_DEPTH = (-6.2, -3.6)
WIDTH = (-2.3, 2.3)
CENTRE_DEPTH = (-4.2, -3.2)
SWING_THROUGH_SHARE = 0.7
JUMP_SHARE = 0.35  # of smashes
JUMP_S = 0.3  # from the last step to the contact in a jump, at most
RECOVER_S = 0.1  # after the defender's stroke an attacker goes to the next place


def compose_attacker(rng: np.random.Generator, skeleton: Skeleton, rally: Rally) -> Motion:
    """An attacker's motion through a rally, in the far half."""
    stature = skeleton.body.phenotype.stature_m
    first = rally.exchanges[0]
    if first.serve:
        server = standing(rng, skeleton, (float(rng.uniform(-0.9, 0.9)), -2.4))
        composer = Composer(server, stature)
    else:
        composer = Composer(_waiting(rng, skeleton, (-0.6, 0.6)), stature)
    free_s = rally.own_serve_s or 0.05
    for exchange in rally.exchanges:
        contact_s = exchange.contact_s
        if not exchange.serve:
            jumps = exchange.kind == "smash" and rng.uniform() < JUMP_SHARE
            arrive_s = contact_s - (JUMP_S if jumps else rng.uniform(0.03, 0.08))
            running = arrive_s - free_s < 0.9
            start_s = free_s if running else arrive_s - rng.uniform(0.6, 0.9)
            hit = _hit(rng, skeleton, composer.posture, exchange, arrive_s - start_s)
            walk(rng, composer, hit, Walk(start_s, arrive_s, running=running))
            composer.posture = hit
            if jumps:
                jump(rng, composer, contact_s, hit)
        free_s = _strike(rng, composer, exchange)
        free_s = _recover(rng, skeleton, composer, free_s, exchange.own_contact_s + RECOVER_S)
    return composer.motion(rng, rally.duration_s, far=True)


def compose_feeder(rng: np.random.Generator, skeleton: Skeleton, rally: Rally) -> Motion:
    """A feeder who stands in the far half and sends one shuttle after the other."""
    place = (float(rng.uniform(-1.2, 1.2)), float(rng.uniform(-3.5, -1.6)))
    posture = standing(rng, skeleton, place)
    composer = Composer(posture, skeleton.body.phenotype.stature_m)
    for exchange in rally.exchanges:
        composer.key(exchange.contact_s - 0.4, posture)
        through_s = strike(rng, composer, exchange.contact_s, posture, "feed")
        composer.key(through_s + 0.45, posture)
    return composer.motion(rng, rally.duration_s, far=True)


def _strike(rng: np.random.Generator, composer: Composer, exchange: Exchange) -> float:
    """The stroke, at times in a jump, with the leg swung through; returns when it is over."""
    contact_s, hit = exchange.contact_s, composer.posture
    airborne = composer.landed_s(RACKET) > contact_s + 0.02
    through_s = strike(rng, composer, contact_s, hit, exchange.kind, airborne)
    if exchange.kind in OVERHEAD and not airborne and rng.uniform() < SWING_THROUGH_SHARE:
        swing_leg_through(rng, composer, contact_s, composer.posture)
    down_s = max(composer.landed_s(RACKET), composer.landed_s(OTHER))
    return max(through_s, down_s + (SOFT_LANDING_S if airborne else 0.0))


def _hit(
    rng: np.random.Generator,
    skeleton: Skeleton,
    here: Posture,
    exchange: Exchange,
    seconds: float,
) -> Posture:
    """The body at the contact, at a place that can be reached in time."""
    place = np.array([rng.uniform(*WIDTH), rng.uniform(*DEPTHS.get(exchange.kind, OVERHEAD_DEPTH))])
    start = np.array([here.hip_x, here.hip_y])
    way = place - start
    farthest = 1.3 * reachable(seconds)
    place = start + way * min(1.0, farthest / max(float(np.linalg.norm(way)), 1e-6))
    base = (float(place[0]), float(place[1]))
    if exchange.kind in OVERHEAD:
        return reached_up(rng, skeleton, base)
    stance = draw_ready(rng, skeleton, base, 0.0, (float(rng.normal(10, 15)), 0.0))
    return lunge(rng, skeleton, narrowed(rng, skeleton, stance), 0)


def _recover(
    rng: np.random.Generator,
    skeleton: Skeleton,
    composer: Composer,
    free_s: float,
    until_s: float,
) -> float:
    """Step back towards the middle until the defender has played; returns when that is over."""
    seconds = until_s - free_s
    if seconds < 0.4:
        return max(free_s, until_s)
    here = composer.posture
    stance = _waiting(rng, skeleton, WIDTH)
    way = np.array([stance.hip_x - here.hip_x, stance.hip_y - here.hip_y])
    share = min(1.0, 1.1 * reachable(seconds) / max(float(np.linalg.norm(way)), 1e-6)) - 1.0
    walk(rng, composer, _shifted(stance, share * way), Walk(free_s, until_s))
    return until_s


def _waiting(rng: np.random.Generator, skeleton: Skeleton, across: tuple[float, float]) -> Posture:
    """An attacker who waits in the middle."""
    base = (0.4 * float(rng.uniform(*across)), float(rng.uniform(*CENTRE_DEPTH)))
    return draw_ready(rng, skeleton, base, 0.0, (float(rng.normal(-5, 15)), 0.0))


def _shifted(posture: Posture, by: np.ndarray) -> Posture:
    """The posture at another place."""
    feet = [
        replace(f, x=f.x + by[0], y=f.y + by[1]) for f in (posture.racket_foot, posture.other_foot)
    ]
    return replace(
        posture,
        racket_foot=feet[0],
        other_foot=feet[1],
        hip_x=posture.hip_x + by[0],
        hip_y=posture.hip_y + by[1],
    )
