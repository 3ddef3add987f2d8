"""What is true of a clip: joints, ready positions, camera."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.clips import Bystander, Clip
from tests.rendering.measures import Measures, measure
from tests.rendering.players import pose_player
from tests.rendering.skeleton import JOINT_NAMES

TRUTH_SCHEMA = "stance-truth/1"
SHORTEST_TRUTH_S = 0.2


def joints_by_frame(clip: Clip, member: Bystander) -> FloatArray:
    """Joints (frames, 17, 3) of somebody in a clip, court frame, metres."""
    return np.array(
        [pose_player(member.player, member.drill.posture(t)).joints for t in clip.frame_times]
    )


def clip_truth(clip: Clip) -> dict[str, Any]:
    """The truth of a clip, schema "stance-truth/1"; measures are medians over a spell's frames.

    The first defender's truth lies at the top level; a pair has the partner's under "partner".
    """
    camera = clip.camera
    truths = [_defender_truth(clip, member) for member in clip.defenders]
    return {
        "schema": TRUTH_SCHEMA,
        "image_size": list(camera.size),
        "frame_rate": clip.frame_rate,
        "camera": {
            "K": camera.matrix.tolist(),
            "R": camera.rotation.tolist(),
            "t": camera.translation.tolist(),
        },
        "view": clip.view,
        **truths[0],
        **({"partner": truths[1]} if len(truths) > 1 else {}),
    }


def _defender_truth(clip: Clip, member: Bystander) -> dict[str, Any]:
    """What is true of one defender."""
    joints = joints_by_frame(clip, member)
    return {
        "player": {
            "hand": member.player.hand,
            "height_m": round(member.player.skeleton.body.phenotype.stature_m, 3),
        },
        "joint_names": list(JOINT_NAMES),
        "joints": np.round(joints, 3).tolist(),
        "ready_positions": _ready_positions(clip, member, joints),
    }


def _ready_positions(clip: Clip, member: Bystander, joints: FloatArray) -> list[dict[str, Any]]:
    """The true ready positions of at least SHORTEST_TRUTH_S."""
    rate = clip.frame_rate
    entries = []
    for spell in member.drill.spells:
        first = int(np.ceil(spell.start_s * rate - 1e-6))
        last = min(int(np.ceil(spell.end_s * rate - 1e-6)) - 1, len(joints) - 1)
        if (last - first) / rate < SHORTEST_TRUTH_S:
            continue
        measures = [measure(joints[k], member.player.hand) for k in range(first, last + 1)]
        entries.append(
            {
                "start_frame": first,
                "end_frame": last,
                "start_s": round(first / rate, 4),
                "end_s": round(last / rate, 4),
                **_median_measures(measures),
            }
        )
    return entries


def _median_measures(measures: Sequence[Measures]) -> dict[str, Any]:
    """Medians of each measure, and the class that follows from them."""

    def median(name: str, digits: int) -> Any:
        values = np.median([getattr(m, name) for m in measures], axis=0)
        return np.round(values, digits).tolist()

    middle = Measures(
        hip_yaw_deg=median("hip_yaw_deg", 2),
        shoulder_yaw_deg=median("shoulder_yaw_deg", 2),
        lead_angle_deg=median("lead_angle_deg", 2),
        foot_stagger_m=median("foot_stagger_m", 4),
        stance_width_m=median("stance_width_m", 4),
        knee_flexion_deg=median("knee_flexion_deg", 2),
        base_m=median("base_m", 4),
    )
    return {"class": middle.stance_class, **vars(middle)}
