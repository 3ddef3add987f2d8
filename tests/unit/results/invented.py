"""Invented results for tests and commands: known angles, places and classes."""

import math

import numpy as np

from stance.results.json_format import SCHEMA
from stance.results.model import (
    ClipSummary,
    CourtCamera,
    CourtSummary,
    FloorContact,
    Notice,
    OwnStroke,
    PlayerResult,
    ReadyPosition,
    Result,
    StrokeFaced,
)
from stance.results.schema import read_content
from stance.statistics.shares import class_shares, leading_share
from stance.statistics.statement import clip_statement
from stance.types import CLASSES

# Start and end in seconds, lead angle, hip yaw, probabilities in the order of CLASSES.
SPELLS = (
    (0.8, 1.9, -4.0, -6.0, (0.96, 0.04, 0.0)),
    (3.1, 4.0, -22.0, -15.0, (0.03, 0.97, 0.0)),
    (5.6, 6.9, -52.0, -47.0, (0.0, 0.04, 0.96)),
    (8.0, 8.7, 48.0, 55.0, (0.0, 0.0, 1.0)),
    (10.4, 11.6, -9.5, -11.0, (0.52, 0.48, 0.0)),
    (13.2, 14.0, -30.0, -62.0, (0.0, 0.11, 0.89)),
    (16.1, 17.3, 18.0, 9.0, (0.82, 0.10, 0.08)),
    (19.0, 20.6, -18.0, -8.0, (0.21, 0.79, 0.0)),
)
# Strokes faced in two rallies of play: contact, both feet down after it (None: on the move, "?":
# not seen), set for how long, lead angle, hip yaw, probabilities.
RALLIES = (
    (2.0, -0.82, 1.1, -8.0, -4.0, (0.97, 0.03, 0.0)),
    (4.1, 0.12, 0.24, 22.0, 12.0, (0.93, 0.02, 0.05)),
    (5.9, 0.18, 0.22, 17.0, 8.0, (0.95, 0.03, 0.02)),
    (7.6, None),
    (9.4, 0.06, 0.31, 31.0, 52.0, (0.06, 0.0, 0.94)),
    (11.3, -0.05, 0.28, -14.0, -20.0, (0.08, 0.92, 0.0)),
    (13.0, "?"),
    (22.0, -0.9, 1.2, -4.0, -7.0, (0.98, 0.02, 0.0)),
    (24.2, 0.2, 0.19, 24.0, 15.0, (0.96, 0.02, 0.02)),
    (25.9, 0.15, 0.26, -52.0, -47.0, (0.0, 0.04, 0.96)),
    (27.8, None),
    (29.6, 0.1, 0.3, 10.5, 2.0, (0.55, 0.44, 0.01)),
)
SERVES = (2.0, 22.0)
KNOWN_BY = (("seen", "heard"), ("seen",), ("moved",))
PLACES = (
    (1.5, -4.2),
    (1.6, -4.1),
    (1.1, -4.6),
    (-0.9, -3.7),
    (1.5, -4.3),
    (2.1, -5.0),
    (-1.4, -4.0),
    (1.45, -4.15),
)


def invented_position(
    lead_deg=-16.0, hip_deg=-7.0, place=(1.5, -4.2), hand="right", **fields
) -> ReadyPosition:
    """A right- or left-hander 0.7 m wide at a place, with the angles asked for."""
    side = 1.0 if hand == "right" else -1.0
    base = np.array(place)

    def pair(angle_deg, half_length):
        angle = math.radians(angle_deg)
        half = half_length * np.array([side * math.cos(angle), math.sin(angle)])
        return base + half, base - half

    feet = []
    for middle, outwards in zip(pair(lead_deg, 0.35), (side, -side), strict=True):
        half = 0.12 * np.array([0.35 * outwards, 0.94])
        feet.append(FloorContact(tuple((middle - half).tolist()), tuple((middle + half).tolist())))
    known = dict(
        start_s=0.4,
        end_s=1.3,
        start_frame=12,
        end_frame=39,
        key_frame=25,
        hip_yaw_deg=hip_deg,
        hip_yaw_se_deg=6.0,
        shoulder_yaw_deg=hip_deg - 3,
        shoulder_yaw_se_deg=7.0,
        lead_angle_deg=lead_deg,
        lead_angle_se_deg=2.6,
        foot_stagger_m=0.7 * math.sin(math.radians(lead_deg)),
        foot_stagger_se_m=0.03,
        stance_width_m=0.7,
        stance_width_se_m=0.02,
        stance_width_hips=2.8,
        stance_width_legs=0.85,
        knee_flexion_deg=(41.0, 44.0),
        knee_flexion_se_deg=(6.0, 6.0),
        base_m=place,
        base_se_m=(0.03, 0.05),
        stance_class="slightly_racket_leg_back",
        probabilities=dict(zip(CLASSES, (0.08, 0.91, 0.01), strict=True)),
        feet=tuple(feet),
        hips_m=tuple(tuple(hip.tolist()) for hip in pair(hip_deg, 0.13)),
    )
    return ReadyPosition(**{**known, **fields})


def invented_player(name="A", hand="right") -> PlayerResult:
    """Eight ready positions of all classes, one of them not assessed."""
    positions = []
    for (start, end, lead, hip, chances), place in zip(SPELLS, PLACES, strict=True):
        likeliest = CLASSES[int(np.argmax(chances))]
        positions.append(
            invented_position(
                lead,
                hip,
                place,
                hand,
                start_s=start,
                end_s=end,
                start_frame=round(30 * start),
                end_frame=round(30 * end),
                key_frame=round(15 * (start + end)),
                stance_class=likeliest if max(chances) >= 0.6 else "not_assessed",
                probabilities=dict(zip(CLASSES, chances, strict=True)),
                remarks=("racket foot leading",) if 10 < lead <= 40 else (),
            )
        )
    return PlayerResult(
        name,
        "near",
        hand,
        "seen",
        tuple(positions),
        class_shares(positions),
        600,
        racket_foot_leading=leading_share(positions),
    )


def invented_defender(name="A", hand="right") -> PlayerResult:
    """Two rallies of play: strokes faced, two of them serves, met set, on the move or not seen."""
    positions, strokes = [], []
    for number, (contact, down, *rest) in enumerate(RALLIES):
        met, index = {None: "on_the_move", "?": "not_seen"}.get(down, "set"), None
        if met == "set":
            length, lead, hip, chances = rest
            index, start = len(positions), contact + down
            likeliest = CLASSES[int(np.argmax(chances))]
            leading = 10 < lead <= 40
            positions.append(
                invented_position(
                    lead,
                    hip,
                    PLACES[index % len(PLACES)],
                    hand,
                    start_s=start,
                    end_s=start + length,
                    start_frame=round(30 * start),
                    end_frame=round(30 * (start + length)),
                    key_frame=round(30 * (max(start, contact) + 0.08)),
                    stance_class=likeliest if max(chances) >= 0.6 else "not_assessed",
                    probabilities=dict(zip(CLASSES, chances, strict=True)),
                    remarks=("racket foot leading",) if leading else (),
                    racket_foot_leading=0.97 if leading else 0.02,
                )
            )
        known_by = KNOWN_BY[number % len(KNOWN_BY)]
        serve = contact in SERVES
        strokes.append(
            StrokeFaced(contact, 0.02 + 0.01 * (number % 3), known_by, serve, met, index)
        )
    return PlayerResult(
        name,
        "near",
        hand,
        "seen",
        tuple(positions),
        class_shares(positions, strokes),
        900,
        strokes_faced=tuple(strokes),
        own_strokes=tuple(
            OwnStroke(contact + 0.95, 0.04) for contact, *_ in RALLIES if contact != RALLIES[6][0]
        ),
        racket_foot_leading=leading_share(positions, strokes),
    )


def invented_result(*players: PlayerResult, source="marked") -> Result:
    """A clip of 22 seconds with the players given, or one invented player."""
    players = players or (invented_player(),)
    return Result(
        clip=ClipSummary("drill.mp4", "ab" * 32, 22.0, 660, 30.0, (1280, 720)),
        court=CourtSummary(
            source,
            1.2 if source == "marked" else None,
            CourtCamera(
                ((950.0, 0.0, 640.0), (0.0, 950.0, 360.0), (0.0, 0.0, 1.0)),
                ((1.0, 0.0, 0.0), (0.0, -0.2, -0.98), (0.0, 0.98, -0.2)),
                (0.0, 1.0, 9.0),
            ),
        ),
        players=players,
        warnings=(Notice("hand_unsure", "Which hand holds the racket could not be seen."),),
        statement=clip_statement(players),
        settings={"square_deg": 10.0, "side_on_deg": 40.0, "confidence": 0.6},
    )


UNKNOWN = invented_position(
    float("nan"),
    float("nan"),
    (float("nan"), float("nan")),
    knee_flexion_deg=(float("nan"), 44.0),
    stance_class="not_assessed",
)


def parse_result(data):
    """The result of a parsed `result.json`."""
    return read_content(data, Result, "stance result", SCHEMA)
