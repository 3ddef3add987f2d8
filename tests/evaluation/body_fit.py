"""What a body fitted to landmarks is worth, beside the network that the tool measures with.

`python -m tests.evaluation.body_fit FOLDER` analyses the clips of a folder as
`tests.evaluation.accuracy` does, observes each ready position's key frame with all three pose
models and their mirror images, and fits bodies to the full and the heavy model's landmarks through
the true camera (`fitted_body`). Hips, lead angle and stagger are printed per view beside the tool's
and beside what world landmarks give; so is what the same fit makes of faultless landmarks with a
pixel of noise, and what shoulders, feet and knees tell of the tool's hips. docs/accuracy.md tells
what came of it.
"""

import argparse
import json
import multiprocessing
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from sklearn.linear_model import RidgeCV
from sklearn.model_selection import LeaveOneGroupOut, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.court.camera import Camera, floor_point, project
from stance.measures.stance_measures import measure
from stance.people.floor import HEEL_HEIGHT, TOE_HEIGHT
from stance.people.landmarker import Landmarker
from stance.people.landmarks import (
    LEFT_ANKLE,
    LEFT_HEEL,
    LEFT_HIP,
    LEFT_KNEE,
    LEFT_TOE,
    RIGHT_ANKLE,
    RIGHT_HEEL,
    RIGHT_HIP,
    RIGHT_KNEE,
    RIGHT_TOE,
    Pose,
)
from stance.runtime.model_files import Model
from stance.types import FloatArray
from stance.video.reader import read_frames_at
from tests.evaluation.accuracy import MEASURES, overlap, true_camera, wrapped
from tests.evaluation.fitted_body import (
    HEELS,
    JOINTS,
    LANDMARK_SPREAD,
    TOES,
    Evidence,
    fit_clip,
    from_hips,
    measures_of,
)
from tests.evaluation.limits import NOISE_PX
from tests.evaluation.world_landmarks import world_in_court
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES

LANDMARKS = np.array(
    [
        LEFT_HIP,
        RIGHT_HIP,
        LEFT_KNEE,
        RIGHT_KNEE,
        LEFT_ANKLE,
        RIGHT_ANKLE,
        LEFT_HEEL,
        RIGHT_HEEL,
        LEFT_TOE,
        RIGHT_TOE,
    ]
)
TRUE_JOINTS = np.array([JOINT_NAMES.index(name) for name in JOINTS])
MODELS: tuple[Model, ...] = ("lite", "full", "heavy")


@dataclass(frozen=True)
class SeenPosition:
    """One true ready position that was found, what was observed and measured of it.

    Attributes
    ----------
    view, hand : of the clip
    camera : Camera
        The true one, in the frame of the player's half.
    true : measures by name
    joints : (10, 3) metres, court frame, true in the key frame
    measured : measures by name, the tool's
    one_observation : the same from one observation of the key frame
    poses : by model, one observation and that of the mirror image
    """

    view: str
    hand: str
    camera: Camera
    true: dict[str, float]
    joints: FloatArray
    measured: dict[str, float]
    one_observation: dict[str, float]
    poses: dict[str, list[Pose]]


@dataclass(frozen=True)
class Error:
    """How far one way of estimating is off in one measure of one ready position."""

    view: str
    way: str
    measure: str
    error: float


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.body_fit", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    arguments = parser.parse_args()
    clips = sorted(arguments.folder.glob("*.mp4"))
    with multiprocessing.get_context("spawn").Pool(arguments.workers) as pool:
        parts = pool.map(evaluate, clips, chunksize=1)
    clips_positions = [part for part, _ in parts if part]
    print(f"{sum(map(len, clips_positions))} ready positions of {len(clips_positions)} clips")
    print_table([error for _, part in parts for error in part])
    if len(clips_positions) > 1:
        print_consistency(clips_positions)


def evaluate(clip: Path) -> tuple[list[SeenPosition], list[Error]]:
    """Ready positions of one clip, and the errors of all that is estimated of them."""
    positions = gather(clip)
    estimated = estimates(positions) if positions else {}
    return positions, [
        Error(
            position.view,
            way,
            name,
            float(wrapped(name, np.array(measured[name] - position.true[name]))),
        )
        for way, all_measured in estimated.items()
        for position, measured in zip(positions, all_measured, strict=True)
        for name, _, _ in MEASURES
    ]


def gather(clip: Path) -> list[SeenPosition]:
    """Analyse one clip and observe the key frames of the ready positions that are found."""
    truth = json.loads(clip.with_suffix(".truth.json").read_text())
    hand = truth["player"]["hand"]
    analysis = analyse(clip, clip.with_suffix(".court.json"), AnalysisOptions(hand=hand))
    if not analysis.result.players:
        return []
    camera, watched = true_camera(truth), analysis.watched_clip.players[0]
    pairs = [
        (true, measured)
        for true in truth["ready_positions"]
        for measured in analysis.result.players[0].ready_positions
        if overlap(true, vars(measured)) >= 0.5
    ]
    poses: dict[int, dict[str, list[Pose]]] = {measured.key_frame: {} for _, measured in pairs}
    for model in MODELS:
        with Landmarker(model) as landmarker:
            for frame in read_frames_at(clip, poses):
                box = watched.observations[frame.index].pose.box
                both = [landmarker.detect(frame.image, box, mirror) for mirror in (False, True)]
                poses[frame.index][model] = [pose for pose in both if pose is not None]
    found = []
    for true, measured in pairs:
        one_observation = measure(
            analysis.cameras["A"], watched.observations[measured.key_frame], hand
        )
        if one_observation is not None and all(poses[measured.key_frame].values()):
            found.append(
                SeenPosition(
                    truth["view"],
                    hand,
                    camera,
                    true,
                    np.array(truth["joints"][measured.key_frame])[TRUE_JOINTS],
                    vars(measured),
                    {
                        "hip_yaw_deg": one_observation.hip_yaw[0],
                        "lead_angle_deg": one_observation.lead_angle[0],
                        "foot_stagger_m": one_observation.foot_stagger[0],
                    },
                    poses[measured.key_frame],
                )
            )
    return found


def estimates(positions: Sequence[SeenPosition]) -> dict[str, list[dict[str, float]]]:
    """What each way of estimating gives for one clip's ready positions, by its name."""
    camera = positions[0].camera
    estimated = {
        "the tool": [position.measured for position in positions],
        "the tool, one observation": [position.one_observation for position in positions],
    }

    def add(name: str, joints: FloatArray) -> None:
        estimated[name] = [
            measures_of(*pair)
            for pair in zip(joints, [position.hand for position in positions], strict=True)
        ]

    size = np.array([np.ptp(position.poses["full"][0].pixels[:, 1]) for position in positions])
    add(
        "world landmarks, lite",
        np.array([seen_by(position, MODELS[:1])[1] for position in positions]),
    )
    for name, models in (("full", MODELS[1:2]), ("heavy", MODELS[2:]), ("both", MODELS[1:])):
        pixels, rough = (
            np.array(part)
            for part in zip(*(seen_by(position, models) for position in positions), strict=True)
        )
        add(f"world landmarks, {name}", rough)
        seen = Evidence(pixels, LANDMARK_SPREAD * size)
        add(f"fitted, {name}", fit_clip(camera, seen, rough).joints)
    deep = replace(seen, depths=from_hips(camera, rough))
    add("fitted, both, with their depths", fit_clip(camera, deep, rough).joints)
    hips = np.radians(
        [
            (
                position.measured["hip_yaw_deg"]
                if position.hand == "right"
                else -position.measured["hip_yaw_deg"],
                position.measured["hip_yaw_se_deg"],
            )
            for position in positions
        ]
    )
    add(
        "fitted, both, with the tool's hips",
        fit_clip(camera, replace(seen, hips=hips), rough).joints,
    )
    rng = np.random.default_rng(0)
    true = Evidence(
        np.array([faultless(position, rng) for position in positions]),
        np.full(len(positions), NOISE_PX),
    )
    add("fitted, faultless landmarks", fit_clip(camera, true, rough).joints)
    return estimated


def seen_by(position: SeenPosition, models: Sequence[Model]) -> tuple[FloatArray, FloatArray]:
    """Landmarks and joints of some models, means of all their observations: (10, 2) and (10, 3)."""
    poses = [pose for model in models for pose in position.poses[model]]
    return (
        np.mean([pose.pixels[LANDMARKS] for pose in poses], axis=0),
        np.mean([rough_joints(position.camera, pose) for pose in poses], axis=0),
    )


def faultless(position: SeenPosition, rng: np.random.Generator) -> FloatArray:
    """The true joints in the picture, (10, 2), with a pixel of noise."""
    joints = position.joints.copy()
    joints[HEELS, 2] += HEEL_HEIGHT
    joints[TOES, 2] += TOE_HEIGHT
    pixels = project(position.camera, joints)
    return pixels + NOISE_PX * rng.standard_normal(pixels.shape)


def rough_joints(camera: Camera, pose: Pose) -> FloatArray:
    """Joints as world landmarks have them, (10, 3) metres, the feet where they are seen."""
    joints = world_in_court(camera, pose.pixels, pose.world)[LANDMARKS]
    heels, toes = (
        floor_point(camera, pose.pixels[LANDMARKS[pair]], height)
        for pair, height in ((HEELS, HEEL_HEIGHT), (TOES, TOE_HEIGHT))
    )
    feet = np.concatenate([HEELS, TOES])
    joints += np.concatenate([heels, toes]).mean(axis=0) - joints[feet].mean(axis=0)
    joints[HEELS], joints[TOES] = heels, toes
    return joints


def print_consistency(clips: Sequence[Sequence[SeenPosition]]) -> None:
    """Print what a linear correction by the rest of the body makes of two clips' hips or more.

    Each clip is corrected by what the others teach (scikit-learn's ridge regression).
    """
    measured = [position.measured for clip in clips for position in clip]
    hips = np.array([s["hip_yaw_deg"] for s in measured])
    off = wrapped(
        "deg",
        np.array([position.true["hip_yaw_deg"] for clip in clips for position in clip]) - hips,
    )
    knees = np.array([s["knee_flexion_deg"] for s in measured])
    rest = np.column_stack(
        [
            hips,
            *(
                wrapped("deg", np.array([s[name] for s in measured]) - hips)
                for name in ("shoulder_yaw_deg", "lead_angle_deg")
            ),
            knees.sum(axis=1),
            knees[:, 0] - knees[:, 1],
        ]
    )
    correction = cross_val_predict(
        make_pipeline(StandardScaler(), RidgeCV(np.logspace(-1, 4, 11))),
        rest,
        off,
        groups=np.repeat(np.arange(len(clips)), [len(clip) for clip in clips]),
        cv=LeaveOneGroupOut(),
    )
    print(
        f"\nthe tool's hips, mean absolute error: {np.abs(off).mean():.2f} degrees; corrected by "
        f"shoulders, lead angle and knees {np.abs(off - correction).mean():.2f}"
    )


def print_table(errors: Sequence[Error]) -> None:
    """Print mean absolute errors by measure, way of estimating and view."""
    ways = list(dict.fromkeys(error.way for error in errors))
    views = [view for view in VIEWS if any(error.view == view for error in errors)] + ["all"]
    for name, title, unit in MEASURES:
        print(f"\n{title}, mean absolute error\n{'':>34}" + "".join(f"{view:>8}" for view in views))
        for way in ways:
            own = [e for e in errors if (e.way, e.measure) == (way, name)]
            means = [
                unit * np.mean([abs(e.error) for e in own if view in (e.view, "all")])
                for view in views
            ]
            print(f"{way:>34}" + "".join(f"{mean:8.1f}" for mean in means))


if __name__ == "__main__":
    main()
