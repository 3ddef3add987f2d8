"""Joints and bones of one body at rest, and what a posture makes of them."""

from dataclasses import dataclass

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import Body
from tests.rendering.rotations import (
    frame,
    unit,
)
from tests.rendering.shoe_shape import ShoeShape, measure_shoe

SOLE_THICKNESS_M = 0.022
JOINT_NAMES = (
    "nose",
    "left_shoulder",
    "right_shoulder",
    "left_elbow",
    "right_elbow",
    "left_wrist",
    "right_wrist",
    "left_hip",
    "right_hip",
    "left_knee",
    "right_knee",
    "left_ankle",
    "right_ankle",
    "left_heel",
    "right_heel",
    "left_toe",
    "right_toe",
)


@dataclass(frozen=True)
class Skeleton:
    """What posing one body needs, measured once at rest.

    `heads` (bones, 3): joints at rest, raised by the sole; `shoes` left then right; `grip` (3,) is
    the middle of the racket hand's palm at rest; `hand_frames` (2, 3, 3), left then right: finger
    direction, thumb direction and their cross product in the columns.
    """

    body: Body
    heads: FloatArray
    shoes: tuple[ShoeShape, ShoeShape]
    grip: FloatArray
    hand_frames: FloatArray
    palm_normals: FloatArray

    def head(self, name: str) -> FloatArray:
        """Rest position (3,) of the joint at the head of a bone."""
        return self.heads[self.body.model.bone(name)]


@dataclass(frozen=True)
class PosedSkeleton:
    """Bone transforms (bones, 3, 4) from rest to posture, joints, and the racket's grip.

    `joints` (17, 3) in the order of JOINT_NAMES, metres; `grip` (3,) and `racket` (3, 3), whose
    columns are the shaft's direction, the across direction of the head and its normal. All still
    for a right-hander: `mirror` of the figure makes the left-hander.
    """

    transforms: FloatArray
    joints: FloatArray
    grip: FloatArray
    racket: FloatArray


def make_skeleton(body: Body) -> Skeleton:
    """Measure what posing needs from a body at rest."""
    heads = body.bone_heads + np.array([0.0, 0.0, SOLE_THICKNESS_M])
    shoes = (measure_shoe(body, "L"), measure_shoe(body, "R"))
    for side, shoe in zip("LR", shoes, strict=True):
        heads[body.model.bone(f"toe3-1.{side}")] = shoe.ball
    frames, normals = zip(*(_hand_frame(body, side) for side in "LR"), strict=True)
    wrist, knuckle = body.head_of("wrist.R"), body.head_of("finger3-1.R")
    palm = wrist + 0.8 * (knuckle - wrist) + 0.03 * normals[1]
    palm = palm + np.array([0.0, 0.0, SOLE_THICKNESS_M])
    return Skeleton(body, heads, shoes, palm, np.array(frames), np.array(normals))


def leg_lengths(skeleton: Skeleton) -> FloatArray:
    """Thigh and shin length of each leg, (2, 2), left then right, metres."""
    return np.array(
        [
            [
                np.linalg.norm(skeleton.head(f"{a}.{side}") - skeleton.head(f"{b}.{side}"))
                for a, b in (("upperleg01", "lowerleg01"), ("lowerleg01", "foot"))
            ]
            for side in "LR"
        ]
    )


def mirror_joints(joints: FloatArray) -> FloatArray:
    """Joints (..., 17, 3) of the mirror image in x: left and right change names and places."""
    order = [JOINT_NAMES.index(_other_side(name)) for name in JOINT_NAMES]
    return joints[..., order, :] * np.array([-1.0, 1.0, 1.0])


def _hand_frame(body: Body, side: str) -> tuple[FloatArray, FloatArray]:
    """Frame of one hand at rest (fingers, thumb side, their cross product) and palm normal."""
    fingers = body.head_of(f"finger3-1.{side}") - body.head_of(f"wrist.{side}")
    thumb = body.head_of(f"finger2-1.{side}") - body.head_of(f"finger5-1.{side}")
    hand = frame(fingers, thumb)
    first = body.head_of(f"finger3-2.{side}") - body.head_of(f"finger3-1.{side}")
    second = body.head_of(f"finger3-3.{side}") - body.head_of(f"finger3-2.{side}")
    curl = unit(second) - unit(first)
    sign = 1.0 if curl @ hand[:, 2] > 0 else -1.0
    return hand, sign * hand[:, 2]


def _other_side(name: str) -> str:
    if name.startswith("left_"):
        return "right_" + name[5:]
    if name.startswith("right_"):
        return "left_" + name[6:]
    return name
