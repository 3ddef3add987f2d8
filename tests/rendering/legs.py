"""Hips, legs and feet of a posture."""

from dataclasses import replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.posture import Foot, Posture
from tests.rendering.rotations import (
    frame,
    turn_x,
    turn_y,
    turn_z,
    unit,
)
from tests.rendering.shoe_shape import BALL_FRACTION, ShoeShape
from tests.rendering.skeleton import Skeleton, leg_lengths
from tests.rendering.two_bones import middle_joint

LONGEST_LEG = 0.995  # of the straight leg: a knee never locks


def pelvis_turn(posture: Posture) -> FloatArray:
    """Orientation (3, 3) of the pelvis; its yaw is exactly the hip line's, whatever the tilt."""
    return turn_z(posture.hip_yaw) @ turn_y(posture.hip_roll) @ turn_x(-posture.hip_pitch)


def hip_joints(skeleton: Skeleton, posture: Posture) -> FloatArray:
    """Hip joints (2, 3) left, right in the court frame, metres."""
    middle = hip_middle_at_rest(skeleton)
    rest = np.array([skeleton.head(f"upperleg01.{side}") - middle for side in "LR"])
    return rest @ pelvis_turn(posture).T + hip_middle(posture)


def ankle_joints(skeleton: Skeleton, posture: Posture) -> FloatArray:
    """Ankle joints (2, 3) left, right in the court frame, metres."""
    points = []
    for side, shoe, foot in _feet(skeleton, posture):
        rotation, shift = _foot_transform(shoe, foot)
        points.append(rotation @ skeleton.head(f"foot.{side}") + shift)
    return np.array(points)


def lower_hips_to_reach(skeleton: Skeleton, posture: Posture) -> Posture:
    """The posture with its hips low enough that both legs reach their feet."""
    hips, ankles = hip_joints(skeleton, posture), ankle_joints(skeleton, posture)
    reach = LONGEST_LEG * leg_lengths(skeleton).sum(axis=1)
    across = np.linalg.norm((hips - ankles)[:, :2], axis=1)
    highest = ankles[:, 2] + np.sqrt(np.maximum(reach**2 - across**2, (0.3 * reach) ** 2))
    excess = float(np.max(hips[:, 2] - highest))
    return replace(posture, hip_height=posture.hip_height - max(excess, 0.0))


def hip_middle(posture: Posture) -> FloatArray:
    return np.array([posture.hip_x, posture.hip_y, posture.hip_height])


def hip_middle_at_rest(skeleton: Skeleton) -> FloatArray:
    return 0.5 * (skeleton.head("upperleg01.L") + skeleton.head("upperleg01.R"))


def turn_legs(
    skeleton: Skeleton, posture: Posture, hip_turn: FloatArray, turns: FloatArray
) -> dict[str, FloatArray]:
    """Set the legs' turns in `turns` (bones, 3, 3); returns the shifts of feet and toes."""
    bones = skeleton.body.model.bone
    hips, ankles = hip_joints(skeleton, posture), ankle_joints(skeleton, posture)
    shifts: dict[str, FloatArray] = {}
    for index, (side, shoe, foot) in enumerate(_feet(skeleton, posture)):
        thigh_length, shin_length = leg_lengths(skeleton)[index]
        toes_forward = turn_z(foot.yaw)[:, 1]
        pole = unit(0.6 * toes_forward + 0.4 * hip_turn[:, 1])
        knee, axis = middle_joint(hips[index], ankles[index], thigh_length, shin_length, pole)
        rest = [skeleton.head(f"{name}.{side}") for name in ("upperleg01", "lowerleg01", "foot")]
        rest_axis = np.cross(rest[2] - rest[0], np.array([0.0, 1.0, 0.0]))
        thigh = frame(knee - hips[index], axis) @ frame(rest[1] - rest[0], rest_axis).T
        shin = frame(ankles[index] - knee, axis) @ frame(rest[2] - rest[1], rest_axis).T
        rotation, shift = _foot_transform(shoe, foot)
        toes = turn_z(foot.yaw - shoe.yaw)
        turns[bones(f"upperleg01.{side}")] = thigh
        turns[bones(f"upperleg02.{side}")] = thigh
        turns[bones(f"lowerleg01.{side}")] = shin
        turns[bones(f"lowerleg02.{side}")] = shin
        turns[bones(f"foot.{side}")] = rotation
        turns[bones(f"toe3-1.{side}")] = toes
        shifts[f"foot.{side}"] = shift
        shifts[f"toe3-1.{side}"] = rotation @ shoe.ball + shift - toes @ shoe.ball
    return shifts


def _feet(skeleton: Skeleton, posture: Posture):
    """Side, shoe and foot of the left and the right leg."""
    yield "L", skeleton.shoes[0], posture.other_foot
    yield "R", skeleton.shoes[1], posture.racket_foot


def _foot_transform(shoe: ShoeShape, foot: Foot) -> tuple[FloatArray, FloatArray]:
    """Rotation (3, 3) and shift (3,) of a foot, so that heel and toe stand where they must."""
    forward = turn_z(foot.yaw)[:, 1]
    rear, fore = BALL_FRACTION * shoe.length, (1.0 - BALL_FRACTION) * shoe.length
    ball = np.array([foot.x, foot.y, foot.height])
    ball = ball - 0.5 * (fore - rear * np.cos(foot.lift)) * forward
    rotation = turn_z(foot.yaw) @ turn_x(-foot.lift) @ turn_z(-shoe.yaw)
    return rotation, ball - rotation @ shoe.ball
