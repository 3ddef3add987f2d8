"""From a posture to bone transforms and joints."""

import numpy as np

from tests.rendering.arms import turn_arms
from tests.rendering.arrays import FloatArray
from tests.rendering.body import NECK, SPINE
from tests.rendering.legs import (
    hip_middle,
    hip_middle_at_rest,
    lower_hips_to_reach,
    pelvis_turn,
    turn_legs,
)
from tests.rendering.posture import Posture
from tests.rendering.rotations import (
    between,
    turn_x,
    turn_y,
    turn_z,
)
from tests.rendering.skeleton import JOINT_NAMES, SOLE_THICKNESS_M, PosedSkeleton, Skeleton

# How far each bone of spine and neck is turned from hips to chest, from chest to head.
SPINE_SHARES = (0.15, 0.4, 0.65, 0.85, 1.0)
NECK_SHARES = (0.15, 0.45, 0.75)
BONE_OF_JOINT = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}


def solve(skeleton: Skeleton, posture: Posture) -> PosedSkeleton:
    """Forward kinematics of a posture, with two-bone inverse kinematics for legs and arms.

    The hips are lowered where a leg would not reach its foot; heels and toes are always exactly
    where the posture puts them.
    """
    posture = lower_hips_to_reach(skeleton, posture)
    hip_turn = pelvis_turn(posture)
    chest_turn = (
        turn_z(posture.chest_yaw) @ turn_y(posture.chest_roll) @ turn_x(-posture.chest_pitch)
    )
    head_turn = turn_z(posture.head_yaw) @ turn_x(-posture.head_pitch)
    bones = skeleton.body.model.bone
    turns = np.repeat(np.eye(3)[None], len(skeleton.heads), axis=0)
    turns[bones("root")] = hip_turn
    for name, fraction in zip(SPINE, SPINE_SHARES, strict=True):
        turns[bones(name)] = between(hip_turn, chest_turn, fraction)
    for name, fraction in zip(NECK, NECK_SHARES, strict=True):
        turns[bones(name)] = between(chest_turn, head_turn, fraction)
    turns[bones("head")] = head_turn
    root = hip_middle(posture) - hip_turn @ hip_middle_at_rest(skeleton)
    ankles = turn_legs(skeleton, posture, hip_turn, turns)
    shoulders = _shoulders(skeleton, turns, chest_turn, root)
    racket = turn_arms(skeleton, posture, chest_turn, shoulders, turns)
    transforms = _chain(skeleton, turns, root)
    for foot_name, shift in ankles.items():  # the feet are placed, not carried by the legs
        transforms[bones(foot_name), :, 3] = shift
    grip_bone = transforms[bones("wrist.R")]
    grip = grip_bone[:, :3] @ skeleton.grip + grip_bone[:, 3]
    return PosedSkeleton(transforms, _joints(skeleton, transforms), grip, racket)


def _shoulders(
    skeleton: Skeleton, turns: FloatArray, chest_turn: FloatArray, root: FloatArray
) -> FloatArray:
    """Shoulder joints (2, 3) left, right: the spine's chain up to the clavicles."""
    bones = skeleton.body.model.bone
    position = turns[bones("root")] @ skeleton.head("spine05") + root
    for lower, upper in zip(SPINE[:-1], SPINE[1:], strict=True):
        step = skeleton.head(upper) - skeleton.head(lower)
        position = position + turns[bones(lower)] @ step
    offsets = [skeleton.head(f"upperarm01.{s}") - skeleton.head("spine01") for s in "LR"]
    return position + np.array(offsets) @ chest_turn.T


def _chain(skeleton: Skeleton, turns: FloatArray, root: FloatArray) -> FloatArray:
    """Transforms (bones, 3, 4): each joint is carried along by its parent bone."""
    transforms = np.empty((len(turns), 3, 4))
    for bone, parent in enumerate(skeleton.body.model.parents):
        transforms[bone, :, :3] = turns[bone]
        if parent < 0:
            transforms[bone, :, 3] = root
            continue
        head = skeleton.heads[bone]
        place = turns[parent] @ head + transforms[parent, :, 3]
        transforms[bone, :, 3] = place - turns[bone] @ head
    return transforms


def _joints(skeleton: Skeleton, transforms: FloatArray) -> FloatArray:
    """Joints (17, 3) in the order of JOINT_NAMES."""
    model = skeleton.body.model
    head = transforms[model.bone("head")]
    rest_nose = skeleton.body.vertices[model.nose] + np.array([0.0, 0.0, SOLE_THICKNESS_M])
    joints = [head[:, :3] @ rest_nose + head[:, 3]]
    for name in JOINT_NAMES[1:]:
        word, joint = name.split("_")
        side = word[0].upper()
        if joint in BONE_OF_JOINT:
            bone = f"{BONE_OF_JOINT[joint]}.{side}"
            point = skeleton.head(bone)
        else:
            shoe = skeleton.shoes["LR".index(side)]
            bone = f"foot.{side}" if joint == "heel" else f"toe3-1.{side}"
            along = 0.0 if joint == "heel" else shoe.length
            point = shoe.heel + along * turn_z(shoe.yaw)[:, 1]
        transform = transforms[model.bone(bone)]
        joints.append(transform[:, :3] @ point + transform[:, 3])
    return np.array(joints)
