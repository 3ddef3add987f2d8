"""The plan of a rally: which strokes fall when, and how the defender meets each one.

Times only, in seconds from the start of the clip; places and postures come later.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

# How the defender is when the other side strikes.
HOP, WAIT, MOVING = "hop", "wait", "moving"
RALLY, FEED, SHADOW = "rally", "feed", "shadow"

LANDING_S = (-0.10, 0.30)  # both feet down, from the contact
FEET_APART_S = 0.066  # between the landings of the two feet, at most
IN_AIR_S = (0.06, 0.20)
HOP_M = (0.0, 0.10)
PLANTED_S = (0.15, 0.50)
INTERVAL_S = (1.1, 2.5)  # between strokes faced, in play
FEED_INTERVAL_S = (2.2, 4.2)
MOVING_SHARE = 0.24  # of all but the first, so that it is one in five of all
# For what comes: how often, and what the defender plays in return.
ATTACKS = {
    "smash": (0.45, ("block", "drive", "lift")),
    "drive": (0.2, ("drive", "block")),
    "drop": (0.15, ("lift",)),
    "clear": (0.12, ("overhead",)),
    "lift": (0.08, ("overhead",)),
}
REACH_S = {"block": (0.24, 0.36), "drive": (0.24, 0.38), "lift": (0.26, 0.42)}
OVERHEAD_REACH_S = (0.55, 0.75)
RECOVERY_S = 0.55  # from the own stroke until a hop can begin, at least
FOLLOW_S = 0.1
PARTNER_TRIES = 20
COVER_S = 0.1  # who does not play leaves so long before the partner's stroke, at least


@dataclass(frozen=True)
class Hop:
    """A split hop: the first foot lands at `first_s`, the other at `landing_s`.

    `air_s` from leaving the floor to the first landing, `apex_m` how high the feet come; `first`
    which foot lands first (0 racket foot, 1 the other).
    """

    first_s: float
    landing_s: float
    air_s: float
    apex_m: float
    first: int

    @property
    def takeoff_s(self) -> float:
        """When the feet leave the floor."""
        return self.first_s - self.air_s

    def later(self, seconds: float) -> "Hop":
        """The same hop so many seconds later."""
        return replace(self, first_s=self.first_s + seconds, landing_s=self.landing_s + seconds)


@dataclass(frozen=True)
class Exchange:
    """One stroke faced and the defender's return.

    `mode` is HOP, WAIT or MOVING; `leave_s` when the first foot leaves the planted stance, and
    None for MOVING, as `hop` is for the other modes; `wait_s` how long a WAIT lasts at least.
    `plays` is False where the partner plays the return at `own_contact_s`.
    """

    contact_s: float
    kind: str
    serve: bool
    mode: str
    hop: Hop | None
    leave_s: float | None
    own_contact_s: float
    own_kind: str
    wait_s: float = 0.0
    plays: bool = True


@dataclass(frozen=True)
class Rally:
    """All strokes of a clip; `own_serve_s` is None where the other side begins."""

    kind: str
    exchanges: tuple[Exchange, ...]
    own_serve_s: float | None
    duration_s: float


def draw_rally(rng: np.random.Generator, kind: str, strokes: int) -> Rally:
    """A random plan with `strokes` strokes faced, of the kind RALLY, FEED or SHADOW."""
    own_serve = float(rng.uniform(0.6, 1.1)) if kind == RALLY and rng.uniform() < 0.5 else None
    exchanges: list[Exchange] = []
    for number in range(strokes):
        serve = kind == RALLY and number == 0 and own_serve is None
        exchanges.append(_draw_exchange(rng, kind, serve, own_serve, exchanges))
    end = exchanges[-1].own_contact_s + rng.uniform(0.7, 1.1)
    return Rally(kind, tuple(exchanges), own_serve, float(end))


def share_rally(rng: np.random.Generator, rally: Rally) -> tuple[Rally, Rally]:
    """The plan for a pair: the other side's strokes are faced by both, returned by one of them.

    Both hop or wait in their own time; the first of them serves.
    """
    own, partners, free = [], [], rally.own_serve_s or 0.0
    for exchange in rally.exchanges:
        plays = bool(rng.uniform() < 0.5)
        own.append(replace(exchange, plays=plays))
        partners.append(_partner_exchange(rng, exchange, free, not plays))
        free = exchange.own_contact_s
    partner = replace(rally, exchanges=tuple(partners), own_serve_s=None)
    return replace(rally, exchanges=tuple(own)), partner


def _partner_exchange(
    rng: np.random.Generator, exchange: Exchange, free: float, plays: bool
) -> Exchange:
    """How the partner meets the same stroke, free to move since `free`."""
    for _ in range(PARTNER_TRIES if exchange.mode == HOP or not plays else 0):
        if exchange.mode == WAIT:
            break
        hop = _draw_hop(rng).later(exchange.contact_s)
        leave = exchange.leave_s if plays else hop.landing_s + _draw_planted(rng)
        fits = PLANTED_S[0] <= leave - hop.landing_s <= PLANTED_S[1]
        fits &= plays or leave <= exchange.own_contact_s - COVER_S
        if fits and hop.takeoff_s >= free + RECOVERY_S:
            return replace(exchange, mode=HOP, hop=hop, leave_s=leave, plays=plays)
    return replace(exchange, plays=plays)


def _draw_planted(rng: np.random.Generator) -> float:
    """How long both feet stay down after a hop."""
    return float(np.clip(rng.gamma(9.0, 0.028), *PLANTED_S))


def _draw_exchange(
    rng: np.random.Generator,
    kind: str,
    serve: bool,
    own_serve: float | None,
    before: Sequence[Exchange],
) -> Exchange:
    """The next stroke faced and its return."""
    free = before[-1].own_contact_s if before else own_serve
    mode = _draw_mode(rng, kind, serve, first=free is None)
    hop = _draw_hop(rng) if mode == HOP else None  # from the contact, which follows from it
    contact = _contact(rng, kind, before, free, hop)
    attack, own_kind = ("serve", "lift") if serve else _draw_attack(rng, kind)
    reach = rng.uniform(*REACH_S.get(own_kind, OVERHEAD_REACH_S))
    if mode == MOVING:
        own = contact + max(reach + 0.15, rng.uniform(0.48, 0.8))
        return Exchange(contact, attack, serve, mode, None, None, own, own_kind)
    if hop is None:
        leave = contact + float(np.clip(rng.normal(0.24, 0.06), 0.12, 0.4))
        shift = None
    else:
        shift = hop.later(contact)
        leave = shift.landing_s + _draw_planted(rng)
    slow = rng.uniform(0.0, 0.25) if kind == FEED else 0.0
    wait = rng.uniform(0.4, 1.4) if mode == WAIT else 0.0
    return Exchange(
        contact, attack, serve, mode, shift, leave, leave + reach + slow, own_kind, wait
    )


def _draw_mode(rng: np.random.Generator, kind: str, serve: bool, first: bool) -> str:
    """How the defender meets a stroke."""
    if serve:
        return WAIT
    if kind == FEED:
        return WAIT if rng.uniform() < 0.75 else HOP
    return MOVING if not first and rng.uniform() < MOVING_SHARE else HOP


def _draw_hop(rng: np.random.Generator) -> Hop:
    """A hop with its landings counted from the contact."""
    landing = float(np.clip(rng.normal(0.1, 0.09), LANDING_S[0], LANDING_S[1] - 0.01))
    apart = float(rng.uniform(0.0, FEET_APART_S))
    air = float(rng.uniform(*IN_AIR_S))
    # Feet may be drawn up beyond what the flight of the hips gives them.
    highest = min(HOP_M[1], 9.81 * air**2 / 8 + 0.06)
    apex = float(rng.uniform(0.15, 1.0) * highest)
    return Hop(landing - apart, landing, air, apex, int(rng.integers(2)))


def _contact(
    rng: np.random.Generator,
    kind: str,
    before: Sequence[Exchange],
    free: float | None,
    hop: Hop | None,
) -> float:
    """When the other side strikes next."""
    lead = hop.takeoff_s if hop else -0.25
    if free is None:
        return float(rng.uniform(1.0, 1.7))
    if not before:
        return free + float(rng.uniform(0.9, 1.4))
    shortest, longest = FEED_INTERVAL_S if kind == FEED else INTERVAL_S
    # Short intervals are the more frequent ones.
    interval = shortest + (longest - shortest) * float(rng.beta(1.4, 2.0))
    earliest = free + RECOVERY_S - lead + (0.6 if kind == FEED else 0.0)
    return max(before[-1].contact_s + interval, earliest)


def _draw_attack(rng: np.random.Generator, kind: str) -> tuple[str, str]:
    """What comes, and what is played in return."""
    kinds = list(ATTACKS)
    attack = kinds[int(rng.choice(len(kinds), p=[ATTACKS[name][0] for name in kinds]))]
    own = str(rng.choice(ATTACKS[attack][1]))
    return ("feed", own) if kind == FEED else (attack, own)
