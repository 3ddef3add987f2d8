"""Invented players whose habits are known, for tests and commands.

Each position has true angles, in the class or out of it, and measured angles with the standard
errors of docs/accuracy.md, half of whose variance all positions of a clip share.
"""

import functools
from dataclasses import replace

import numpy as np

from stance.measures.classes import DEFAULT_LIMITS, class_index, class_probabilities, classify
from stance.results.model import Filming, PlayerResult, ReadyPosition, Result
from stance.statistics.shares import class_shares
from stance.statistics.statement import plain_statement
from stance.types import CLASSES
from tests.unit.results.invented import invented_position, invented_result

HIP_SE, LEAD_SE = 7.5, 3.0
SIDE_ON, OTHERWISE = -58.0, -12.0  # mean true hip yaw in and out of the class, degrees
SCATTER = 7.0


def draw_tendencies(
    random: np.random.Generator,
    share: float,
    clips: int,
    correlation: float,
) -> np.ndarray:
    """Each clip's own share, (clips,)."""
    if correlation == 0:
        return np.full(clips, share)
    size = (1 - correlation) / correlation
    return random.beta(share * size, (1 - share) * size, clips)


def drawn_position(
    random: np.random.Generator,
    side_on: bool,
    shared: tuple[float, float],
    certain: bool,
    feet_too: bool = False,
) -> ReadyPosition:
    """One ready position as measured: hips side-on or not, and with `feet_too` the feet as well."""
    lead = float(np.clip(random.normal(-12.0, 8.0), -38, 38))
    if feet_too and side_on:
        lead = float(np.clip(random.normal(-54.0, 5.0), -80, -44))
    hip = float(
        np.clip(
            random.normal(SIDE_ON if side_on else OTHERWISE, SCATTER),
            *((-90, -41) if side_on else (-39, 39)),
        )
    )
    seen_lead = lead + LEAD_SE * (shared[0] + random.normal()) / np.sqrt(2)
    seen_hip = hip + HIP_SE * (shared[1] + random.normal()) / np.sqrt(2)
    if certain:
        name = CLASSES[int(class_index(lead, hip, DEFAULT_LIMITS))]
        probabilities = {c: float(c == name) for c in CLASSES}
    else:
        probabilities = _chances(round(seen_lead), round(seen_hip))
        name, _ = classify(seen_lead, probabilities)
    return invented_position(
        seen_lead,
        seen_hip,
        hip_yaw_se_deg=HIP_SE,
        lead_angle_se_deg=LEAD_SE,
        stance_class=name,
        probabilities=probabilities,
    )


def drawn_result(
    random: np.random.Generator,
    side_on: int,
    positions: int,
    name: str = "",
    shared: tuple[float, float] = (0.0, 0.0),
    certain: bool = False,
    feet_too: bool = False,
    **fields,
) -> Result:
    """A clip with so many ready positions, of which so many are truly over-side-on.

    Parameters as for `drawn_position`; `fields` go into the result.
    """
    truths = random.permutation(np.arange(positions) < side_on)
    drawn = [drawn_position(random, bool(truth), shared, certain, feet_too) for truth in truths]
    spells = tuple(replace(p, start_s=3.0 * i, end_s=3.0 * i + 1.0) for i, p in enumerate(drawn))
    player = PlayerResult("A", "near", "right", "seen", spells, class_shares(spells), 900, name)
    result = invented_result(player)
    number = int(random.integers(1 << 60))
    clip = replace(result.clip, file=f"{name or 'clip'}_{number}.mp4", sha256=f"{number:064x}")
    usual = {
        "clip": clip,
        "warnings": (),
        "statement": plain_statement(player),
        "filming": Filming("corner", 2.0, 7.0),
    }
    return replace(result, **(usual | fields))


@functools.cache
def _chances(lead: int, hip: int) -> dict[str, float]:
    """Class probabilities of angles in whole degrees."""
    return class_probabilities(lead, LEAD_SE, hip, HIP_SE)
