"""Invented players in play whose fault, or that they have none, is known."""

from dataclasses import replace

import numpy as np

from stance.measures.classes import class_probabilities, classify, leading_probability
from stance.results.model import UNKNOWN, PlayerResult, StrokeFaced
from stance.statistics.shares import class_shares, leading_share
from tests.unit.results.invented import PLACES, invented_position

FEET_SE, HIPS_SE = 2.6, 6.0

SQUARE, BACK = (-4.0, 3.0), (-22.0, -15.0)
HIPS_BACK, HIPS_IN_FRONT = (-6.0, -56.0), (4.0, 57.0)
FEET_IN_FRONT, FEET_BACK, ALL_BACK = (55.0, 8.0), (-56.0, -8.0), (-57.0, -60.0)
RACKET_FOOT_IN_FRONT = (19.0, 4.0)
ON_THE_MOVE = None


def stance(lead_deg, hip_deg, **fields):
    """A ready position with the angles asked for, and the class that follows from them."""
    chances = class_probabilities(lead_deg, FEET_SE, hip_deg, HIPS_SE)
    name, remarks = classify(lead_deg, chances)
    return invented_position(
        lead_deg,
        hip_deg,
        lead_angle_se_deg=FEET_SE,
        hip_yaw_se_deg=HIPS_SE,
        stance_class=name,
        probabilities=chances,
        remarks=remarks,
        racket_foot_leading=leading_probability(lead_deg, FEET_SE),
        **fields,
    )


def defender(
    stances, landing_s=0.05, places=PLACES, attackers=(UNKNOWN,), name="A", **fields
) -> PlayerResult:
    """A player who meets a stroke every two seconds in such a stance, in rallies of six.

    Parameters
    ----------
    stances
        lead angle and hip yaw, degrees; None for a stroke met on the move
    landing_s
        from the contact to both feet down, seconds, the same for all or one for each
    places
        (x, y) metres, taken in turn
    attackers
        (x, y) metres in the frame of the player's half, taken in turn
    """
    positions, strokes = [], []
    landings = np.broadcast_to(landing_s, len(stances))
    for number, (angles, landing) in enumerate(zip(stances, landings, strict=True)):
        contact, index = 2.0 * number + 10.0 * (number // 6) + 1.0, None
        if angles is not None:
            index, start = len(positions), contact + float(landing)
            frames = dict(start_frame=round(30 * start), end_frame=round(30 * start) + 9)
            position = stance(
                *angles, place=places[number % len(places)], start_s=start, end_s=start + 0.3
            )
            positions.append(replace(position, key_frame=round(30 * start) + 3, **frames))
        met = "on_the_move" if angles is None else "set"
        attacker = attackers[number % len(attackers)]
        strokes.append(
            StrokeFaced(contact, 0.02, ("seen",), False, met, index, attacker_m=attacker)
        )
    return PlayerResult(
        **{
            "player": name,
            "half": "near",
            "hand": "right",
            "hand_source": "seen",
            "ready_positions": tuple(positions),
            "shares": class_shares(positions, strokes),
            "frames_seen": 900,
            "strokes_faced": tuple(strokes),
            "racket_foot_leading": leading_share(positions, strokes),
            **fields,
        }
    )
