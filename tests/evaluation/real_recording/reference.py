"""What the four cameras see together: joints, markers and the directions that follow."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_SHOULDER,
    LEFT_TOE,
    RIGHT_ANKLE,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_SHOULDER,
    RIGHT_TOE,
)
from stance.types import FloatArray
from tests.evaluation.real_recording.recording import CAMERAS
from tests.paths import DATA

REFERENCE = DATA / "real_recording_reference.json"
JOINTS = {
    "left_shoulder": LEFT_SHOULDER,
    "right_shoulder": RIGHT_SHOULDER,
    "left_hip": LEFT_HIP,
    "right_hip": RIGHT_HIP,
    "left_knee": LEFT_KNEE,
    "right_knee": RIGHT_KNEE,
    "left_ankle": LEFT_ANKLE,
    "right_ankle": RIGHT_ANKLE,
    "left_heel": LEFT_HEEL,
    "right_heel": RIGHT_HEEL,
    "left_toe": LEFT_TOE,
    "right_toe": RIGHT_TOE,
}
JOINT_NAMES = tuple(JOINTS)
LANDMARK_OF_JOINT = np.array(list(JOINTS.values()))
# Largest height of both feet's midpoints, and largest difference between them, at which both
# feet stand. He walks along a beam, so the landmarks of a standing foot are 5 to 10 cm up.
STANDING_HEIGHT = 0.12
STANDING_DIFFERENCE = 0.04


@dataclass(frozen=True)
class Directions:
    """Directions of lines from the left to the right side, seen from above.

    Attributes
    ----------
    hips, shoulders, feet : (...) degrees, atan2(y, x) in the recording's own frame
    """

    hips: FloatArray
    shoulders: FloatArray
    feet: FloatArray

    def at(self, rows: Sequence[int]) -> "Directions":
        """Return the directions in some rows."""
        chosen = list(rows)
        return Directions(self.hips[chosen], self.shoulders[chosen], self.feet[chosen])


@dataclass(frozen=True)
class Reference:
    """What the four cameras see together.

    Attributes
    ----------
    frames : (frames,) frame numbers
    positions : (frames, joints, 3) metres, the recording's frame, joints in `JOINT_NAMES`' order
    error : (frames, joints) pixels, root mean square over the cameras, after the shifts
    shifts : (cameras, 2) pixels, pictures against the published calibration
    swapped : how often a camera's left and right had to change places (groups of joints)
    without : for each camera, the directions (frames,) that the other three give
    equal_bones : directions (frames,) where bones keep their length and legs are equally long
    markers : (frames, 2, 3) metres, on the left and the right front of the pelvis
    marker_error : (frames, 2) pixels, the larger of the two views' reprojection errors
    """

    frames: npt.NDArray[np.int64]
    positions: FloatArray
    error: FloatArray
    shifts: FloatArray
    swapped: int
    without: tuple[Directions, ...]
    equal_bones: Directions
    markers: FloatArray
    marker_error: FloatArray

    def joint(self, name: str) -> FloatArray:
        """Return a joint's places (frames, 3), metres."""
        return self.positions[:, JOINT_NAMES.index(name)]

    def row(self, frame: int) -> int:
        """Return where a frame number stands in the arrays."""
        return int(np.flatnonzero(self.frames == frame)[0])

    @property
    def hips_middle(self) -> FloatArray:
        """Middle of the hips (frames, 3), metres."""
        return (self.joint("left_hip") + self.joint("right_hip")) / 2

    @property
    def directions(self) -> Directions:
        """Directions (frames,) of hips, by the markers, shoulders and feet."""
        return replace(self.landmark_directions, hips=direction(*self.markers.swapaxes(0, 1)))

    @property
    def landmark_directions(self) -> Directions:
        """Directions (frames,) of hips, shoulders and feet, all by landmarks."""
        return joint_directions(self.positions)

    @property
    def standing(self) -> npt.NDArray[np.bool_]:
        """Whether both feet stand, (frames,)."""
        height = np.stack(
            [
                (self.joint(f"{side}_heel") + self.joint(f"{side}_toe"))[:, 2] / 2
                for side in ("left", "right")
            ]
        )
        low, high = height.min(axis=0), height.max(axis=0)
        return np.asarray((high < STANDING_HEIGHT) & (high - low < STANDING_DIFFERENCE))


def direction(left: FloatArray, right: FloatArray) -> FloatArray:
    """Return the direction of lines seen from above, degrees, from ends (..., 2 or 3)."""
    across = right - left
    return np.asarray(np.degrees(np.arctan2(across[..., 1], across[..., 0])))


def joint_directions(positions: FloatArray) -> Directions:
    """Return the directions of joints (..., joints, 3) in the recording's frame, metres."""

    def joint(name: str) -> FloatArray:
        return positions[..., JOINT_NAMES.index(name), :]

    return Directions(
        direction(joint("left_hip"), joint("right_hip")),
        direction(joint("left_shoulder"), joint("right_shoulder")),
        direction(joint("left_heel") + joint("left_toe"), joint("right_heel") + joint("right_toe")),
    )


def read_reference() -> Reference:
    """Read the fixture."""
    content = json.loads(REFERENCE.read_text(encoding="utf-8"))
    frames = content["frames"]
    without = np.array([frame["without_camera_deg"] for frame in frames])
    return Reference(
        np.array([frame["frame"] for frame in frames]),
        np.array([frame["positions_m"] for frame in frames]),
        np.array([frame["error_px"] for frame in frames]),
        np.array(content["picture_shift_px"]),
        content["left_right_swapped"],
        tuple(Directions(*without[:, view].T) for view in range(CAMERAS)),
        Directions(*np.array([frame["equal_bones_deg"] for frame in frames]).T),
        np.array([frame["markers_m"] for frame in frames]),
        np.array([frame["markers_error_px"] for frame in frames]),
    )


def write_reference(reference: Reference) -> None:
    """Write the fixture."""
    content: dict[str, Any] = {
        "source": "Pose2Sim 0.10.49, Demo_SinglePerson, BSD-3-Clause, D. Pagnon et al.; "
        "triangulated by python -m tests.evaluation.real_recording build",
        "joints": JOINT_NAMES,
        "picture_shift_px": reference.shifts.round(1).tolist(),
        "left_right_swapped": reference.swapped,
        "frames": [
            {
                "frame": int(frame),
                "positions_m": reference.positions[row].round(3).tolist(),
                "error_px": reference.error[row].round(1).tolist(),
                "markers_m": reference.markers[row].round(4).tolist(),
                "markers_error_px": reference.marker_error[row].round(1).tolist(),
                "without_camera_deg": [
                    [
                        round(float(values[row]), 1)
                        for values in (given.hips, given.shoulders, given.feet)
                    ]
                    for given in reference.without
                ],
                "equal_bones_deg": [
                    round(float(values[row]), 1)
                    for values in (
                        reference.equal_bones.hips,
                        reference.equal_bones.shoulders,
                        reference.equal_bones.feet,
                    )
                ],
            }
            for row, frame in enumerate(reference.frames)
        ],
    }
    lines = ",\n".join(json.dumps(frame) for frame in content.pop("frames"))
    head = json.dumps(content, indent=1).removesuffix("\n}")
    REFERENCE.parent.mkdir(exist_ok=True)
    REFERENCE.write_text(f'{head},\n "frames": [\n{lines}\n ]\n}}\n', encoding="utf-8")
