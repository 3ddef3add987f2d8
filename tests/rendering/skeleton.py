"""From the numbers that describe a posture to bone transforms and joints.

A posture is written for a right-hander; a left-hander is the same posture mirrored in x, body and
all. Court frame, metres, radians; angles about z count from +y (towards the net), positive
anticlockwise seen from above, which for a right-hander is racket side leading.
"""

from dataclasses import dataclass, replace

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.body import FINGERS, NECK, SPINE, Body
from tests.rendering.rotations import (
    between,
    frame,
    rotation_vector,
    turn_about,
    turn_x,
    turn_y,
    turn_z,
    unit,
)

BALL_FRACTION = 0.72  # of the shoe's length from the heel: where the shoe bends
LONGEST_LEG = 0.995  # of the straight leg: a knee never locks
LONGEST_ARM = 0.97
RACKET_ANGLE_IN_HAND = np.radians(48.0)  # between the fingers' direction and the racket's shaft
SOLE_THICKNESS_M = 0.022
SHOE_MARGIN_M = 0.008

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
BONE_OF_JOINT = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}


@dataclass(frozen=True)
class Foot:
    """Where one foot stands: middle of heel and toe on the floor, direction, heel lift, height.

    `x`, `y` and `height` in metres; `yaw` of the toes; `lift` is the angle by which the heel is
    up, the ball of the foot staying down.
    """

    x: float
    y: float
    yaw: float
    lift: float = 0.0
    height: float = 0.0


@dataclass(frozen=True)
class Arm:
    """Where one hand is: in the frame of the chest, as multiples of the arm's length.

    `across` is positive away from the body's middle, `forward` to the front, `up` upwards, all
    from the shoulder; `swivel` turns the elbow outwards.
    """

    across: float
    forward: float
    up: float
    swivel: float


@dataclass(frozen=True)
class Posture:
    """All numbers of a right-hander's posture (see the module's docstring for axes and signs).

    `hip_height` is the height of the hip joints' middle above the floor, metres. `pitch` is
    positive leaning forward, `roll` positive towards the racket side. `racket_yaw` and
    `racket_pitch` give the direction of the racket's shaft against the chest.
    """

    racket_foot: Foot
    other_foot: Foot
    hip_x: float
    hip_y: float
    hip_height: float
    hip_yaw: float
    hip_pitch: float
    hip_roll: float
    chest_yaw: float
    chest_pitch: float
    chest_roll: float
    head_yaw: float
    head_pitch: float
    racket_arm: Arm
    other_arm: Arm
    racket_yaw: float
    racket_pitch: float
    grip: float = 1.0


@dataclass(frozen=True)
class ShoeShape:
    """One shoe at rest: `heel` (3,) on the floor, `yaw` of its axis, `length` and sizes, metres.

    `stations` (n,) along the axis as fractions of the length, with half widths left and right of
    the axis `right` and `left` (n,), and heights of the upper `top` (n,).
    """

    heel: FloatArray
    yaw: float
    length: float
    stations: FloatArray
    right: FloatArray
    left: FloatArray
    top: FloatArray

    @property
    def ball(self) -> FloatArray:
        """Point of the sole (3,) where the shoe bends."""
        return self.heel + BALL_FRACTION * self.length * turn_z(self.yaw)[:, 1]


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
    shoes = (_measure_shoe(body, "L"), _measure_shoe(body, "R"))
    for side, shoe in zip("LR", shoes, strict=True):
        heads[body.model.bone(f"toe3-1.{side}")] = shoe.ball
    frames, normals = zip(*(_hand_frame(body, side) for side in "LR"), strict=True)
    wrist, knuckle = body.head_of("wrist.R"), body.head_of("finger3-1.R")
    palm = wrist + 0.8 * (knuckle - wrist) + 0.03 * normals[1]
    palm = palm + np.array([0.0, 0.0, SOLE_THICKNESS_M])
    return Skeleton(body, heads, shoes, palm, np.array(frames), np.array(normals))


def _measure_shoe(body: Body, side: str) -> ShoeShape:
    """The shoe around the bare foot at rest: its axis, length, widths and heights."""
    model = body.model
    foot_bones = [model.bone(f"foot.{side}"), model.bone(f"toe3-1.{side}")]
    strongest = model.weight_bones[:, 0]
    points = body.vertices[np.isin(strongest, foot_bones)]
    ankle, toe = body.head_of(f"foot.{side}"), body.head_of(f"toe3-1.{side}")
    yaw = float(np.arctan2(-(toe - ankle)[0], (toe - ankle)[1]))
    local = (points - ankle) @ turn_z(yaw)
    local[:, 2] += ankle[2]
    low = local[local[:, 2] < 0.6 * ankle[2]]
    back, front = low[:, 1].min() - SHOE_MARGIN_M, low[:, 1].max() + 1.5 * SHOE_MARGIN_M
    length = float(front - back)
    middle = 0.5 * (low[:, 0].min() + low[:, 0].max())
    stations = np.array([0.0, 0.04, 0.12, 0.25, 0.4, 0.55, 0.65, 0.72, 0.8, 0.88, 0.95, 1.0])
    right, left, top = (np.empty(len(stations)) for _ in range(3))
    for index, station in enumerate(stations):
        place = back + np.clip(station, 0.08, 0.93) * length
        near = np.abs(local[:, 1] - place) < 0.06 * length
        side_points = near & (local[:, 2] < 0.5 * ankle[2])
        right[index] = local[side_points, 0].max() - middle + SHOE_MARGIN_M
        left[index] = middle - local[side_points, 0].min() + SHOE_MARGIN_M
        bare = min(local[near, 2].max(), ankle[2]) + SHOE_MARGIN_M
        collar = np.interp(station, (0.0, 0.12, 0.32, 0.5), (1.0, 1.2, 1.15, 0.0))
        top[index] = max(bare, collar * ankle[2])
    rounding = np.sqrt(np.clip(1.0 - np.clip((0.1 - stations) / 0.1, 0, 1) ** 2, 0.12, 1.0))
    rounding *= np.sqrt(np.clip(1.0 - np.clip((stations - 0.8) / 0.2, 0, 1) ** 2, 0.08, 1.0))
    heel = ankle + turn_z(yaw) @ np.array([middle, back, 0.0])
    heel[2] = 0.0
    return ShoeShape(heel, yaw, length, stations, right * rounding, left * rounding, top)


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
    for name, fraction in zip(SPINE, (0.15, 0.4, 0.65, 0.85, 1.0), strict=True):
        turns[bones(name)] = between(hip_turn, chest_turn, fraction)
    for name, fraction in zip(NECK, (0.15, 0.45, 0.75), strict=True):
        turns[bones(name)] = between(chest_turn, head_turn, fraction)
    turns[bones("head")] = head_turn
    root = _hip_middle(posture) - hip_turn @ _hip_middle_at_rest(skeleton)
    ankles = _turn_legs(skeleton, posture, hip_turn, turns)
    shoulders = _shoulders(skeleton, turns, chest_turn, root)
    racket = _turn_arms(skeleton, posture, chest_turn, shoulders, turns)
    transforms = _chain(skeleton, turns, root)
    for foot_name, shift in ankles.items():  # the feet are placed, not carried by the legs
        transforms[bones(foot_name), :, 3] = shift
    grip_bone = transforms[bones("wrist.R")]
    grip = grip_bone[:, :3] @ skeleton.grip + grip_bone[:, 3]
    return PosedSkeleton(transforms, _joints(skeleton, transforms), grip, racket)


def pelvis_turn(posture: Posture) -> FloatArray:
    """Orientation (3, 3) of the pelvis; its yaw is exactly the hip line's, whatever the tilt."""
    return turn_z(posture.hip_yaw) @ turn_y(posture.hip_roll) @ turn_x(-posture.hip_pitch)


def hip_joints(skeleton: Skeleton, posture: Posture) -> FloatArray:
    """Hip joints (2, 3) left, right in the court frame, metres."""
    middle = _hip_middle_at_rest(skeleton)
    rest = np.array([skeleton.head(f"upperleg01.{side}") - middle for side in "LR"])
    return rest @ pelvis_turn(posture).T + _hip_middle(posture)


def ankle_joints(skeleton: Skeleton, posture: Posture) -> FloatArray:
    """Ankle joints (2, 3) left, right in the court frame, metres."""
    points = []
    for side, shoe, foot in _feet(skeleton, posture):
        rotation, shift = _foot_transform(shoe, foot)
        points.append(rotation @ skeleton.head(f"foot.{side}") + shift)
    return np.array(points)


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


def lower_hips_to_reach(skeleton: Skeleton, posture: Posture) -> Posture:
    """The posture with its hips low enough that both legs reach their feet."""
    hips, ankles = hip_joints(skeleton, posture), ankle_joints(skeleton, posture)
    reach = LONGEST_LEG * leg_lengths(skeleton).sum(axis=1)
    across = np.linalg.norm((hips - ankles)[:, :2], axis=1)
    highest = ankles[:, 2] + np.sqrt(np.maximum(reach**2 - across**2, (0.3 * reach) ** 2))
    excess = float(np.max(hips[:, 2] - highest))
    return replace(posture, hip_height=posture.hip_height - max(excess, 0.0))


def _hip_middle(posture: Posture) -> FloatArray:
    return np.array([posture.hip_x, posture.hip_y, posture.hip_height])


def _hip_middle_at_rest(skeleton: Skeleton) -> FloatArray:
    return 0.5 * (skeleton.head("upperleg01.L") + skeleton.head("upperleg01.R"))


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


def _turn_legs(
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
        knee, axis = _middle_joint(hips[index], ankles[index], thigh_length, shin_length, pole)
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


def _middle_joint(
    start: FloatArray, end: FloatArray, first: float, second: float, pole: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Knee or elbow (3,) of a two-bone chain bent towards `pole`, and its hinge axis (3,)."""
    line = end - start
    distance = float(np.clip(np.linalg.norm(line), abs(first - second) + 1e-6, first + second))
    along = unit(line)
    bend = unit(pole - (pole @ along) * along)
    foot = (first**2 - second**2 + distance**2) / (2.0 * distance)
    height = np.sqrt(max(first**2 - foot**2, 0.0))
    return start + foot * along + height * bend, np.cross(along, bend)


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


def _turn_arms(
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
        elbow, axis = _middle_joint(shoulders[index], wrist, upper, fore, pole)
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


def mirror_joints(joints: FloatArray) -> FloatArray:
    """Joints (..., 17, 3) of the mirror image in x: left and right change names and places."""
    order = [JOINT_NAMES.index(_other_side(name)) for name in JOINT_NAMES]
    return joints[..., order, :] * np.array([-1.0, 1.0, 1.0])


def _other_side(name: str) -> str:
    if name.startswith("left_"):
        return "right_" + name[5:]
    if name.startswith("right_"):
        return "left_" + name[6:]
    return name
