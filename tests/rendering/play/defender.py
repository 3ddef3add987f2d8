"""The defender of a clip of play: from the plan of a rally to a motion."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.play.body_motion import (
    FOOT_SPEED_IN_HOP,
    draw_ready,
    lunge,
    narrowed,
    reached_up,
    standing,
    strike,
)
from tests.rendering.play.footwork import Walk, fill, reachable, split_hop, walk
from tests.rendering.play.motion import Composer, Motion
from tests.rendering.play.rally import FOLLOW_S, HOP, MOVING, Exchange, Rally
from tests.rendering.posture import Foot, Posture
from tests.rendering.skeleton import Skeleton

SINK_M = (0.05, 0.12)
BEFORE_HOP_S = 0.03
WIDEST_LUNGE = 0.62  # of the stature
PLACES_X, PLACES_Y = (-2.2, 2.2), (-5.4, -2.3)
PAIR_HOME_X, PAIR_PLACES_X = (0.9, 1.7), (0.45, 2.5)  # of the one on the right
HOME_X, HOME_Y = (-1.7, 1.7), (-4.7, -2.8)
FARTHEST_FROM_HOME_M = 0.8
RUNNING_SPEED = (1.5, 2.3)  # m/s, of the body of who is met on the move
PLACES_TO_RUN_TO = 12


@dataclass(frozen=True)
class _Setting:
    """What stays the same: source of draws, the person, where they recover to, their own part."""

    rng: np.random.Generator
    skeleton: Skeleton
    home: tuple[float, float]
    across: tuple[float, float]

    def inside(self, place: tuple[float, float]) -> tuple[float, float]:
        """The place, or the nearest one in the part of the court where this defender is."""
        return float(np.clip(place[0], *self.across)), float(np.clip(place[1], *PLACES_Y))


def compose_defender(
    rng: np.random.Generator, skeleton: Skeleton, rally: Rally, side: int = 0
) -> Motion:
    """A defender's motion through a rally.

    Parameters
    ----------
    rng : Generator
        Source of all draws.
    skeleton : Skeleton
        The person.
    rally : Rally
        What happens when.
    side : int
        In a pair -1 for the one on the left, 1 on the right, in a right-hander's frame; else 0.
    """
    across = HOME_X if side == 0 else tuple(sorted(side * x for x in PAIR_HOME_X))
    part = PLACES_X if side == 0 else tuple(sorted(side * x for x in PAIR_PLACES_X))
    home = (float(rng.uniform(*across)), float(rng.uniform(*HOME_Y)))
    setting = _Setting(rng, skeleton, home, (part[0], part[1]))
    composer, free_s = _begin(setting, rally)
    for exchange in rally.exchanges:
        if exchange.mode == MOVING:
            _meet_on_the_move(setting, composer, exchange, free_s)
        else:
            _meet_planted(setting, composer, exchange, free_s)
            if exchange.plays:
                _go(setting, composer, exchange)
            else:
                _cover(setting, composer, exchange)
        free_s = exchange.own_contact_s + FOLLOW_S
        if exchange.plays:
            hit = composer.posture
            strike(rng, composer, exchange.own_contact_s, hit, exchange.own_kind)
    rest = draw_ready(rng, skeleton, _next_place(setting, composer.posture, 0.6), 0.0)
    walk(rng, composer, rest, Walk(free_s, rally.duration_s - 0.1))
    return composer.motion(rng, rally.duration_s)


def _begin(setting: _Setting, rally: Rally) -> tuple[Composer, float]:
    """The first posture, with the serve where it is the defender's; and when they may go on."""
    rng, skeleton = setting.rng, setting.skeleton
    stature = skeleton.body.phenotype.stature_m
    if rally.own_serve_s is not None:
        place = (setting.home[0], setting.home[1] + rng.uniform(-0.2, 0.9))
        server = standing(rng, skeleton, setting.inside(place))
        composer = Composer(server, stature)
        composer.key(max(rally.own_serve_s - 0.35, 0.05), server)
        return composer, strike(rng, composer, rally.own_serve_s, server, "serve")
    first = rally.exchanges[0]
    if first.mode == HOP:
        place = (setting.home[0] + rng.uniform(-0.5, 0.5), setting.home[1] - rng.uniform(0.1, 0.7))
        stance = draw_ready(rng, skeleton, setting.inside(place), 0.05)
        return Composer(narrowed(rng, skeleton, stance), stature), float(rng.uniform(0.05, 0.3))
    return Composer(draw_ready(rng, skeleton, setting.home, 0.05), stature), 0.0


def _meet_planted(
    setting: _Setting,
    composer: Composer,
    exchange: Exchange,
    free_s: float,
) -> None:
    """Come to a place, hop or wait there, and stay planted until the first foot leaves."""
    rng, skeleton = setting.rng, setting.skeleton
    hop, sink = exchange.hop, float(rng.uniform(*SINK_M))
    leave_s = exchange.leave_s
    if hop is None:
        arrive_s = exchange.contact_s - exchange.wait_s
        if free_s > 0.0:
            place = _next_place(setting, composer.posture, reachable(arrive_s - free_s))
            stance = draw_ready(rng, skeleton, place, 0.0)
            arrive_s = max(arrive_s, free_s + 0.45)
            walk(rng, composer, stance, Walk(free_s, min(arrive_s, exchange.contact_s - 0.16)))
        composer.key(leave_s, composer.posture)
        return
    arrive_s = hop.takeoff_s - BEFORE_HOP_S
    place = _next_place(setting, composer.posture, reachable(arrive_s - free_s))
    stance = draw_ready(rng, skeleton, place, sink)
    before = narrowed(rng, skeleton, stance, hop.air_s)
    arrived = walk(rng, composer, before, Walk(free_s, arrive_s))
    fill(rng, composer, arrived + 0.02, arrive_s - 0.09)
    sunk_s = split_hop(rng, composer, hop, _moved_to(composer.feet, stance, hop.air_s), sink)
    turning = np.radians(rng.normal(0, 3.0, 2))
    landed = composer.posture
    composer.key(
        max(leave_s, sunk_s + 0.02),
        replace(
            landed,
            hip_yaw=landed.hip_yaw + turning[0],
            chest_yaw=landed.chest_yaw + turning[0] + turning[1],
            hip_x=landed.hip_x + rng.normal(0, 0.02),
            hip_height=landed.hip_height - rng.uniform(0.0, 0.01),
        ),
    )


def _go(setting: _Setting, composer: Composer, exchange: Exchange) -> None:
    """Push off from the planted stance and reach the shuttle."""
    rng, skeleton, start = setting.rng, setting.skeleton, composer.posture
    leave_s, contact_s = exchange.leave_s, exchange.own_contact_s
    start = replace(start, racket_foot=composer.feet[0], other_foot=composer.feet[1])
    if exchange.own_kind == "overhead":
        back = rng.uniform(0.25, 0.6)
        base = setting.inside((start.hip_x + rng.uniform(-0.4, 0.4), start.hip_y - back))
        hit = reached_up(rng, skeleton, base)
        way = Walk(leave_s, contact_s - 0.03, running=True)
        walk(rng, composer, hit, way)
        composer.posture = hit
        return
    which = 0 if rng.uniform() < 0.65 else 1
    hit = lunge(rng, skeleton, start, which)
    foot = hit.racket_foot if which == 0 else hit.other_foot
    end_s = contact_s - rng.uniform(-0.02, 0.03)
    composer.step(which, (leave_s, end_s), foot, rng.uniform(0.04, 0.09))
    _drag_foot(composer, 1 - which, (leave_s + 0.4 * (end_s - leave_s), end_s + 0.03))
    composer.posture = hit


def _cover(setting: _Setting, composer: Composer, exchange: Exchange) -> None:
    """Step a little aside while the partner plays."""
    seconds = exchange.own_contact_s - exchange.leave_s
    place = _next_place(setting, composer.posture, reachable(seconds))
    stance = draw_ready(setting.rng, setting.skeleton, place, 0.0)
    walk(setting.rng, composer, stance, Walk(exchange.leave_s, exchange.own_contact_s + 0.05))


def _drag_foot(composer: Composer, which: int, span: tuple[float, float]) -> None:
    """Let the rear foot of a lunge that is too wide follow the other a little."""
    foot, far = composer.feet[which], composer.feet[1 - which]
    width = float(np.hypot(foot.x - far.x, foot.y - far.y))
    excess = width - WIDEST_LUNGE * composer.stature_m
    if excess > 0.05:
        share = excess / width
        target = replace(
            foot, x=foot.x + share * (far.x - foot.x), y=foot.y + share * (far.y - foot.y)
        )
        composer.step(which, span, target, 0.015, heel=0.5)


def _meet_on_the_move(
    setting: _Setting, composer: Composer, exchange: Exchange, free_s: float
) -> None:
    """Run through the stroke faced right up to the shuttle."""
    rng, skeleton = setting.rng, setting.skeleton
    end_s = exchange.own_contact_s - 0.03
    place = _place_to_run_to(setting, composer.posture, end_s - free_s)
    if not exchange.plays:
        hit = draw_ready(rng, skeleton, place, 0.0)
    elif exchange.own_kind == "overhead":
        hit = reached_up(rng, skeleton, place)
    else:
        stance = draw_ready(rng, skeleton, place, 0.0)
        hit = lunge(rng, skeleton, stance, 0 if rng.uniform() < 0.65 else 1)
    walk(rng, composer, hit, Walk(free_s, end_s, running=True))
    composer.posture = hit


def _place_to_run_to(setting: _Setting, start: Posture, seconds: float) -> tuple[float, float]:
    """The place of some in this part of the court whose distance suits a run of so long best."""
    wanted = float(setting.rng.uniform(*RUNNING_SPEED)) * seconds
    places = [
        setting.inside((start.hip_x + way[0], start.hip_y + way[1]))
        for way in (wanted * _direction(setting.rng) for _ in range(PLACES_TO_RUN_TO))
    ]

    def misses(place: tuple[float, float]) -> float:
        return abs(float(np.hypot(place[0] - start.hip_x, place[1] - start.hip_y)) - wanted)

    return min(places, key=misses)


def _next_place(setting: _Setting, start: Posture, farthest: float) -> tuple[float, float]:
    """A place near home, not too far from where the player is."""
    rng = setting.rng
    offset = rng.uniform(0.1, FARTHEST_FROM_HOME_M) * _direction(rng)
    here = np.array([start.hip_x, start.hip_y])
    way = np.array(setting.home) + offset - here
    distance = float(np.linalg.norm(way))
    place = here + way * min(1.0, 0.9 * farthest / max(distance, 1e-6))
    return setting.inside((float(place[0]), float(place[1])))


def _moved_to(here: Sequence[Foot], stance: Posture, air_s: float) -> Posture:
    """The stance moved to where the feet have come by now, a little further forward."""
    feet = (stance.racket_foot, stance.other_foot)
    x = 0.5 * (here[0].x + here[1].x - feet[0].x - feet[1].x)
    y = 0.5 * (here[0].y + here[1].y - feet[0].y - feet[1].y)
    y += 0.2 * FOOT_SPEED_IN_HOP * air_s
    return replace(
        stance,
        racket_foot=replace(feet[0], x=feet[0].x + x, y=feet[0].y + y),
        other_foot=replace(feet[1], x=feet[1].x + x, y=feet[1].y + y),
        hip_x=stance.hip_x + x,
        hip_y=stance.hip_y + y,
    )


def _direction(rng: np.random.Generator) -> np.ndarray:
    angle = rng.uniform(0, 2 * np.pi)
    return np.array([np.cos(angle), np.sin(angle)])
