"""True measures of a posture from its joints, after docs/definitions.md."""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.skeleton import JOINT_NAMES

SQUARE_LIMIT_DEG = 10.0
SIDE_ON_LIMIT_DEG = 40.0


@dataclass(frozen=True)
class Measures:
    """True measures of one posture; names, signs and units are those of docs/definitions.md.

    `knee_flexion_deg` is (racket side, other side); `base_m` is (x, y) in the court frame.
    """

    hip_yaw_deg: float
    shoulder_yaw_deg: float
    lead_angle_deg: float
    foot_stagger_m: float
    stance_width_m: float
    knee_flexion_deg: tuple[float, float]
    base_m: tuple[float, float]

    @property
    def stance_class(self) -> str:
        """Class of the stance at the default limits."""
        return stance_class(self.lead_angle_deg, self.hip_yaw_deg)


def measure(joints: FloatArray, hand: str) -> Measures:
    """Measures of one posture.

    Parameters
    ----------
    joints : (17, 3) array
        Joints in the order of JOINT_NAMES, court frame, metres.
    hand : {"right", "left"}
        The hand that holds the racket.
    """
    racket, other = ("right", "left") if hand == "right" else ("left", "right")
    sign = 1.0 if hand == "right" else -1.0

    def joint(side: str, name: str) -> FloatArray:
        return joints[JOINT_NAMES.index(f"{side}_{name}")]

    def yaw(start: FloatArray, end: FloatArray) -> float:
        x, y = (end - start)[:2]
        return float(np.degrees(np.arctan2(y, sign * x)))

    feet = {side: 0.5 * (joint(side, "heel") + joint(side, "toe"))[:2] for side in (racket, other)}
    between = feet[racket] - feet[other]
    base = 0.5 * (feet[racket] + feet[other])
    return Measures(
        hip_yaw_deg=yaw(joint(other, "hip"), joint(racket, "hip")),
        shoulder_yaw_deg=yaw(joint(other, "shoulder"), joint(racket, "shoulder")),
        lead_angle_deg=yaw(feet[other], feet[racket]),
        foot_stagger_m=float(between[1]),
        stance_width_m=float(np.hypot(*between)),
        knee_flexion_deg=(
            knee_flexion(joint(racket, "hip"), joint(racket, "knee"), joint(racket, "ankle")),
            knee_flexion(joint(other, "hip"), joint(other, "knee"), joint(other, "ankle")),
        ),
        base_m=(float(base[0]), float(base[1])),
    )


def knee_flexion(hip: FloatArray, knee: FloatArray, ankle: FloatArray) -> float:
    """180 degrees minus the angle hip-knee-ankle; points (3,)."""
    thigh, shin = hip - knee, ankle - knee
    cosine = thigh @ shin / (np.linalg.norm(thigh) * np.linalg.norm(shin))
    return float(180.0 - np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def stance_class(lead_deg: float, hip_deg: float) -> str:
    """Class at the default limits; what fits none goes to the nearest class region."""
    lead, hip = abs(lead_deg), abs(hip_deg)
    if hip > SIDE_ON_LIMIT_DEG or lead > SIDE_ON_LIMIT_DEG:
        return "over_side_on"
    if hip <= SQUARE_LIMIT_DEG and lead <= SQUARE_LIMIT_DEG:
        return "square"
    if -SIDE_ON_LIMIT_DEG <= lead_deg <= -SQUARE_LIMIT_DEG and hip < SIDE_ON_LIMIT_DEG:
        return "slightly_racket_leg_back"
    outside_square = np.maximum([lead, hip], SQUARE_LIMIT_DEG) - SQUARE_LIMIT_DEG
    distances = {
        "square": float(np.hypot(*outside_square)),
        "slightly_racket_leg_back": lead_deg + SQUARE_LIMIT_DEG,
        "over_side_on": SIDE_ON_LIMIT_DEG - max(lead, hip),
    }
    return min(distances, key=lambda name: distances[name])
