"""Arms, hands and the racket of a posture."""

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import FINGERS
from tests.rendering.posture import Posture
from tests.rendering.rotations import (
    frame,
    rotation_vector,
    turn_about,
    unit,
)
from tests.rendering.skeleton import Skeleton
from tests.rendering.two_bones import middle_joint

LONGEST_ARM = 0.97
RACKET_ANGLE_IN_HAND = np.radians(48.0)  # between the fingers' direction and the racket's shaft


def turn_arms(
    skeleton: Skeleton,
    posture: Posture,
    chest_turn: FloatArray,
    shoulders: FloatArray,
    turns: FloatArray,
) -> FloatArray:
    """Set the arms' and hands' turns in `turns`; returns the racket's frame (3, 3)."""
    bones = skeleton.body.model.bone
    yaw, pitch = posture.racket_yaw, posture.racket_pitch
    shaft = chest_turn @ np.array(
        [-np.sin(yaw) * np.cos(pitch), np.cos(yaw) * np.cos(pitch), np.sin(pitch)]
    )
    arms = (("L", posture.other_arm, -1.0), ("R", posture.racket_arm, 1.0))
    for index, (side, arm, outward) in enumerate(arms):
        rest = [skeleton.head(f"{n}.{side}") for n in ("upperarm01", "lowerarm01", "wrist")]
        upper, fore = np.linalg.norm(rest[1] - rest[0]), np.linalg.norm(rest[2] - rest[1])
        reach = np.array([outward * arm.across, arm.forward, arm.up]) * (upper + fore)
        reach *= min(1.0, LONGEST_ARM * (upper + fore) / np.linalg.norm(reach))
        pole = chest_turn @ np.array(
            [outward * np.sin(arm.swivel), -0.5 * np.cos(arm.swivel), -np.cos(arm.swivel)]
        )
        wrist = shoulders[index] + chest_turn @ reach
        elbow, axis = middle_joint(shoulders[index], wrist, upper, fore, pole)
        rest_axis = np.cross(rest[2] - rest[0], rest[1] - rest[0])
        upper_turn = frame(elbow - shoulders[index], axis) @ frame(rest[1] - rest[0], rest_axis).T
        fore_turn = frame(wrist - elbow, axis) @ frame(rest[2] - rest[1], rest_axis).T
        along = unit(wrist - elbow)
        thumb = shaft if side == "R" else np.cross(along, axis)
        hand_turn = _hand_turn(skeleton, index, along, thumb, side == "R")
        turns[bones(f"clavicle.{side}")] = chest_turn
        turns[bones(f"upperarm01.{side}")] = upper_turn
        turns[bones(f"upperarm02.{side}")] = upper_turn
        turns[bones(f"lowerarm01.{side}")] = fore_turn
        turns[bones(f"lowerarm02.{side}")] = _half_twist(fore_turn, hand_turn, along)
        turns[bones(f"wrist.{side}")] = hand_turn
        curl = posture.grip if side == "R" else 0.3
        _turn_fingers(skeleton, index, hand_turn, curl, turns)
    palm = turns[bones("wrist.R")] @ skeleton.palm_normals[1]
    normal = unit(palm - (palm @ shaft) * shaft)
    return np.stack([shaft, np.cross(normal, shaft), normal], axis=1)


def _hand_turn(
    skeleton: Skeleton, index: int, along: FloatArray, thumb: FloatArray, racket: bool
) -> FloatArray:
    """Turn (3, 3) of a hand from rest; a racket hand points its shaft along `thumb`."""
    rest = skeleton.hand_frames[index]
    if not racket:
        return frame(along, thumb) @ rest.T
    plane = unit(np.cross(thumb, along))
    fingers = turn_about(plane, RACKET_ANGLE_IN_HAND) @ thumb
    return frame(fingers, thumb) @ rest.T


def _half_twist(fore_turn: FloatArray, hand_turn: FloatArray, along: FloatArray) -> FloatArray:
    """The forearm's turn with half of the hand's twist about the forearm."""
    twist = float(rotation_vector(hand_turn @ fore_turn.T) @ along)
    return turn_about(along, 0.5 * twist) @ fore_turn


def _turn_fingers(
    skeleton: Skeleton, index: int, hand_turn: FloatArray, curl: float, turns: FloatArray
) -> None:
    """Bend the fingers by the fraction `curl` of a full grip."""
    bones, side = skeleton.body.model.bone, "LR"[index]
    axis = np.cross(skeleton.hand_frames[index][:, 0], skeleton.palm_normals[index])
    for name in FINGERS:
        finger, part = int(name[6]), int(name[8])
        bend = np.radians((20.0, 15.0, 15.0) if finger == 1 else (60.0, 75.0, 35.0))
        turns[bones(f"{name}.{side}")] = hand_turn @ turn_about(axis, curl * bend[:part].sum())
