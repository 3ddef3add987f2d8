"""Joints of a whole motion at once: what `kinematics.solve` gives, without bones and mesh.

Far faster than posing one frame after the other; a test holds both to each other.
"""

from dataclasses import replace

import numpy as np
from scipy.ndimage import convolve1d, maximum_filter1d
from scipy.spatial.transform import Rotation

from tests.rendering.arms import LONGEST_ARM
from tests.rendering.arrays import FloatArray
from tests.rendering.body import NECK, SPINE
from tests.rendering.drill import NUMBER_FIELDS
from tests.rendering.kinematics import NECK_SHARES, SPINE_SHARES
from tests.rendering.legs import LONGEST_LEG, hip_middle_at_rest
from tests.rendering.play.motion import FOOT_FIELDS, LOWERING_HZ, Motion
from tests.rendering.rotations import turn_z
from tests.rendering.shoe_shape import BALL_FRACTION
from tests.rendering.skeleton import (
    JOINT_NAMES,
    SOLE_THICKNESS_M,
    Skeleton,
    leg_lengths,
    mirror_joints,
)

SMOOTHING_S = 0.07


def motion_joints(
    skeleton: Skeleton, motion: Motion, times: FloatArray, hand: str = "right"
) -> FloatArray:
    """Joints (times, 17, 3) of somebody who moves, court frame, metres.

    Parameters
    ----------
    skeleton : Skeleton
        The person.
    motion : Motion
        A right-hander's motion; a left-hander's is its mirror image in x.
    times : (times,) array
        Seconds.
    hand : {"right", "left"}
        The racket hand.
    """
    numbers = motion.numbers(times)
    values = {name: numbers[:, k] for k, name in enumerate(NUMBER_FIELDS)}
    feet = motion.feet_at(times)
    hip_turn = _turns(values["hip_yaw"], values["hip_roll"], values["hip_pitch"])
    chest_turn = _turns(values["chest_yaw"], values["chest_roll"], values["chest_pitch"])
    head_turn = _turns(values["head_yaw"], 0.0 * values["head_yaw"], values["head_pitch"])
    soles = {side: _sole(skeleton, index, feet[:, 1 - index]) for index, side in enumerate("LR")}
    middle = _hip_middle(skeleton, values, hip_turn, soles)
    found = {
        **_legs(skeleton, middle, hip_turn, feet, soles),
        **_trunk(skeleton, middle, (hip_turn, chest_turn, head_turn), numbers),
    }
    joints = np.stack([found[name] for name in JOINT_NAMES], axis=1)
    return joints if hand == "right" else mirror_joints(joints)


def with_legs_that_reach(skeleton: Skeleton, motion: Motion) -> Motion:
    """The motion with hips that go down, smoothly, where a leg would not reach its foot.

    Posing lowers them too (legs.lower_hips_to_reach), but within a frame.
    """
    times = np.arange(0.0, motion.duration_s + 0.5, 1.0 / LOWERING_HZ)
    numbers = motion.numbers(times)
    values = {name: numbers[:, k] for k, name in enumerate(NUMBER_FIELDS)}
    hip_turn = _turns(values["hip_yaw"], values["hip_roll"], values["hip_pitch"])
    feet = motion.feet_at(times)
    soles = {side: _sole(skeleton, k, feet[:, 1 - k]) for k, side in enumerate("LR")}
    excess = values["hip_height"] - _hip_middle(skeleton, values, hip_turn, soles)[:, 2]
    size = 2 * round(SMOOTHING_S * LOWERING_HZ) + 1
    window = np.hanning(size + 2)[1:-1]
    highest = maximum_filter1d(excess, size, mode="nearest")
    lowering = convolve1d(highest, window / window.sum(), mode="nearest")
    return replace(motion, lowering=lowering)


def _turns(yaw: FloatArray, roll: FloatArray, pitch: FloatArray) -> FloatArray:
    """Orientations (times, 3, 3) as `kinematics.solve` makes them."""
    return Rotation.from_euler("ZYX", np.stack([yaw, roll, -pitch], axis=1)).as_matrix()


def _sole(skeleton: Skeleton, index: int, foot: FloatArray) -> dict[str, FloatArray]:
    """Heel, toe and ankle (times, 3) of the foot with this number in "LR"."""
    shoe, side = skeleton.shoes[index], "LR"[index]
    x, y, yaw, lift, height = (foot[:, FOOT_FIELDS.index(n)] for n in FOOT_FIELDS)
    zero = np.zeros_like(yaw)
    forward = np.stack([-np.sin(yaw), np.cos(yaw), zero], axis=1)
    rear, fore = BALL_FRACTION * shoe.length, (1.0 - BALL_FRACTION) * shoe.length
    ball = np.stack([x, y, height], axis=1)
    ball = ball - 0.5 * (fore - rear * np.cos(lift))[:, None] * forward
    raised = _turns(yaw, zero, lift) @ turn_z(-shoe.yaw)
    toes = _turns(yaw - shoe.yaw, zero, zero)
    tip = shoe.heel + shoe.length * turn_z(shoe.yaw)[:, 1]
    return {
        "heel": ball + raised @ (shoe.heel - shoe.ball),
        "toe": ball + toes @ (tip - shoe.ball),
        "ankle": ball + raised @ (skeleton.head(f"foot.{side}") - shoe.ball),
    }


def _hip_middle(
    skeleton: Skeleton,
    values: dict[str, FloatArray],
    hip_turn: FloatArray,
    soles: dict[str, dict[str, FloatArray]],
) -> FloatArray:
    """Middle of the hips (times, 3), low enough that both legs reach (legs.lower_hips_to_reach)."""
    middle = np.stack([values["hip_x"], values["hip_y"], values["hip_height"]], axis=1)
    excess = np.zeros(len(middle))
    for side, lengths in zip("LR", leg_lengths(skeleton), strict=True):
        hip = middle + hip_turn @ _hip_at_rest(skeleton, side)
        ankle, reach = soles[side]["ankle"], LONGEST_LEG * lengths.sum()
        across = np.linalg.norm((hip - ankle)[:, :2], axis=1)
        highest = ankle[:, 2] + np.sqrt(np.maximum(reach**2 - across**2, (0.3 * reach) ** 2))
        excess = np.maximum(excess, hip[:, 2] - highest)
    middle[:, 2] -= excess
    return middle


def _hip_at_rest(skeleton: Skeleton, side: str) -> FloatArray:
    """A hip joint (3,) from the middle of both."""
    return skeleton.head(f"upperleg01.{side}") - hip_middle_at_rest(skeleton)


def _legs(
    skeleton: Skeleton,
    middle: FloatArray,
    hip_turn: FloatArray,
    feet: FloatArray,
    soles: dict[str, dict[str, FloatArray]],
) -> dict[str, FloatArray]:
    """Hips, knees, ankles, heels and toes by name, each (times, 3)."""
    found = {}
    for index, (side, word) in enumerate((("L", "left"), ("R", "right"))):
        yaw = feet[:, 1 - index, FOOT_FIELDS.index("yaw")]
        toes = np.stack([-np.sin(yaw), np.cos(yaw), 0 * yaw], axis=1)
        hip = middle + hip_turn @ _hip_at_rest(skeleton, side)
        pole = _unit(0.6 * toes + 0.4 * hip_turn[:, :, 1])
        thigh, shin = leg_lengths(skeleton)[index]
        found[f"{word}_hip"] = hip
        found[f"{word}_knee"] = _bent(hip, soles[side]["ankle"], thigh, shin, pole)
        for name, points in soles[side].items():
            found[f"{word}_{name}"] = points
    return found


def _trunk(
    skeleton: Skeleton,
    middle: FloatArray,
    turns: tuple[FloatArray, FloatArray, FloatArray],
    numbers: FloatArray,
) -> dict[str, FloatArray]:
    """Nose, shoulders, elbows and wrists by name, each (times, 3)."""
    hip_turn, chest_turn, head_turn = turns
    place = middle + hip_turn @ (skeleton.head(SPINE[0]) - hip_middle_at_rest(skeleton))
    for k in range(len(SPINE) - 1):
        bone = skeleton.head(SPINE[k + 1]) - skeleton.head(SPINE[k])
        place = place + _between(hip_turn, chest_turn, SPINE_SHARES[k]) @ bone
    found = {}
    for index, (side, word) in enumerate((("L", "left"), ("R", "right"))):
        shoulder = place + chest_turn @ (
            skeleton.head(f"upperarm01.{side}") - skeleton.head(SPINE[-1])
        )
        first = len(NUMBER_FIELDS) + 4 * (1 - index)
        arm = numbers[:, first : first + 4]
        wrist, elbow = _arm(skeleton, index, arm, chest_turn, shoulder)
        found[f"{word}_shoulder"] = shoulder
        found[f"{word}_elbow"], found[f"{word}_wrist"] = elbow, wrist
    place = place + chest_turn @ (skeleton.head(NECK[0]) - skeleton.head(SPINE[-1]))
    for k, upper in enumerate((*NECK[1:], "head")):
        bone = skeleton.head(upper) - skeleton.head(NECK[k])
        place = place + _between(chest_turn, head_turn, NECK_SHARES[k]) @ bone
    model = skeleton.body.model
    nose = skeleton.body.vertices[model.nose] + np.array([0.0, 0.0, SOLE_THICKNESS_M])
    found["nose"] = place + head_turn @ (nose - skeleton.head("head"))
    return found


def _arm(
    skeleton: Skeleton, index: int, arm: FloatArray, chest_turn: FloatArray, shoulder: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Wrist and elbow (times, 3) of an arm (times, 4): across, forward, up, swivel."""
    side, outward = "LR"[index], (-1.0, 1.0)[index]
    rest = [skeleton.head(f"{n}.{side}") for n in ("upperarm01", "lowerarm01", "wrist")]
    upper, fore = np.linalg.norm(rest[1] - rest[0]), np.linalg.norm(rest[2] - rest[1])
    reach = arm[:, :3] * np.array([outward, 1.0, 1.0]) * (upper + fore)
    longest = LONGEST_ARM * (upper + fore) / np.linalg.norm(reach, axis=1, keepdims=True)
    reach = reach * np.minimum(1.0, longest)
    swivel = arm[:, 3]
    pole = np.stack([outward * np.sin(swivel), -0.5 * np.cos(swivel), -np.cos(swivel)], axis=1)
    wrist = shoulder + _turned(chest_turn, reach)
    return wrist, _bent(shoulder, wrist, upper, fore, _turned(chest_turn, pole))


def _turned(turns: FloatArray, vectors: FloatArray) -> FloatArray:
    """Vectors (times, 3) turned by (times, 3, 3)."""
    return np.einsum("tij,tj->ti", turns, vectors)


def _between(first: FloatArray, second: FloatArray, share: float) -> FloatArray:
    """Orientations a share of the way between two (times, 3, 3)."""
    start = Rotation.from_matrix(first)
    way = (Rotation.from_matrix(second) * start.inv()).as_rotvec()
    return (Rotation.from_rotvec(share * way) * start).as_matrix()


def _bent(
    start: FloatArray, end: FloatArray, first: float, second: float, pole: FloatArray
) -> FloatArray:
    """Knees or elbows (times, 3) of chains of two bones (two_bones.middle_joint)."""
    line = end - start
    distance = np.linalg.norm(line, axis=1)
    along = line / distance[:, None]
    distance = np.clip(distance, abs(first - second) + 1e-6, first + second)
    bend = _unit(pole - np.sum(pole * along, axis=1, keepdims=True) * along)
    foot = (first**2 - second**2 + distance**2) / (2.0 * distance)
    height = np.sqrt(np.maximum(first**2 - foot**2, 0.0))
    return start + foot[:, None] * along + height[:, None] * bend


def _unit(vectors: FloatArray) -> FloatArray:
    """Vectors (times, 3) scaled to length 1."""
    return vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
