"""What a body fitted to landmarks is worth, beside the network that the tool looks with.

`python -m tests.evaluation.body_fit FOLDER` analyses the clips of a folder as `tests.accuracy` does, looks at
each ready position's key frame with all three pose models and their mirror images, and fits bodies
to the full and the heavy model's landmarks through the true camera: toes on the floor, heels on or
little above it, hips, thighs, shins and feet of one size over the whole clip. Hips, lead angle and
stagger are printed per view beside the tool's and beside what world landmarks say; so is what the
same fit makes of faultless landmarks with a pixel of noise, and what shoulders, feet and knees tell
of the tool's hips. docs/accuracy.md tells what came of it.
"""

import argparse
import json
import multiprocessing
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares
from sklearn.linear_model import RidgeCV
from sklearn.model_selection import LeaveOneGroupOut, cross_val_predict
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import StandardScaler

from stance.analysis import analyse
from stance.assessment.options import AnalysisOptions
from stance.court.camera import Camera, depth, floor_point, project
from stance.measures.body import line_yaw, world_in_court
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
    side_indices,
)
from stance.runtime.model_files import Model
from stance.video.reader import read_frames_at
from tests.evaluation.accuracy import MEASURES, overlap, true_camera, wrapped
from tests.evaluation.limits import NOISE_PX
from tests.rendering.cameras import VIEWS
from tests.rendering.skeleton import JOINT_NAMES

FloatArray = npt.NDArray[np.float64]

# The joints that are fitted, left and right in turn, and where they stand among 33 landmarks.
JOINTS = (
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
HIPS, KNEES, ANKLES, HEELS, TOES = (np.array([k, k + 1]) for k in range(0, len(JOINTS), 2))

# What lengths usually are, as shares of a leg's, thigh and shin (means of 500 rendered people of
# the tune split): between the hips, thigh, shin, ankle to heel, ankle to toe, heel to toe. A
# grown-up's leg, metres.
PROPORTIONS = np.array([0.26, 0.49, 0.51, 0.15, 0.28, 0.34])
USUAL_LEG_M = 0.8
LENGTHS = len(PROPORTIONS)

# Numbers that pose a body whose lengths are known: each foot's heel (x, y), its lift and where the
# foot points; the hips' middle, which way their line points and how it tilts; how far each knee is
# turned out from over the foot. Metres and radians.
POSE = 15

# Standard deviations that the fit goes by: of landmarks in the picture, as a share of the player's
# size; of a heel's lift, metres; of the hips' tilt and of the knees' turn, radians; of the lengths
# about usual proportions, as a share; of the depths of world landmarks where they count, metres.
LANDMARK_SPREAD = 0.01
LIFT_SPREAD_M = 0.03
TILT_SPREAD = 0.08
KNEE_SPREAD = 0.3
PROPORTION_SPREAD = 0.07
DEPTH_SPREAD_M = 0.1
# A leg can't be longer than its bones; this far out it is a standard deviation off, metres.
REACH_SPREAD_M = 0.005
LONGEST = 0.998
# Of what is not in front of the camera, in standard deviations.
FAR_OFF = 1e3

START_TURNS = np.radians((-60.0, -30.0, 0.0, 30.0, 60.0))
TURNED_OUT = np.radians(25.0)
STEP = 1e-6
MOST_STEPS = 60
MODELS: tuple[Model, ...] = ("lite", "full", "heavy")


@dataclass(frozen=True)
class Waiting:
    """One true ready position that was found, and what is seen and said of it.

    Attributes
    ----------
    view, hand : of the clip
    camera : Camera
        The true one, in the frame of the player's half.
    true : measures by name
    joints : (10, 3) metres, court frame, true in the key frame
    said : measures by name, the tool's
    one_look : the same from one look at the key frame
    poses : by model, a look and its mirror image
    """

    view: str
    hand: str
    camera: Camera
    true: dict[str, float]
    joints: FloatArray
    said: dict[str, float]
    one_look: dict[str, float]
    poses: dict[str, list[Pose]]


@dataclass(frozen=True)
class Evidence:
    """What bodies are fitted to.

    Attributes
    ----------
    pixels : (positions, 10, 2) where the joints are seen, pixels
    spreads : (positions,) standard deviations of the same, pixels
    depths : (positions, 10) metres along the camera's axis from the middle of the hips, as world
        landmarks have them, or None
    hips : (positions, 2) direction of the hips' line from left to right and its standard error, as
        the tool says them, radians, or None
    """

    pixels: FloatArray
    spreads: FloatArray
    depths: FloatArray | None = None
    hips: FloatArray | None = None

    def only(self, position: int) -> "Evidence":
        """Return what is known of one position."""
        return Evidence(
            *(
                None if part is None else part[[position]]
                for part in (self.pixels, self.spreads, self.depths, self.hips)
            )
        )


@dataclass(frozen=True)
class Body:
    """Bodies fitted to a clip's ready positions.

    Attributes
    ----------
    joints : (positions, 10, 3) metres, court frame
    values : (positions * 15 + 7,) the numbers that pose them, then logarithms of lengths and leg
    cost : how badly they fit
    """

    joints: FloatArray
    values: FloatArray
    cost: float


def posed(poses: FloatArray, lengths: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Joints of bodies in a pose, and how far their ankles are out of their legs' reach.

    Parameters
    ----------
    poses : (positions, 15) in the order told at `POSE`
    lengths : (6,) metres, in the order of `PROPORTIONS`

    Returns
    -------
    (positions, 10, 3) and (positions, 2) metres
    """
    hip_width, thigh, shin, to_heel, to_toe, foot = lengths
    feet = poses[:, :8].reshape(-1, 2, 4)
    forwards = np.stack([np.cos(feet[..., 3]), np.sin(feet[..., 3]), 0 * feet[..., 3]], axis=-1)
    up = np.array([0.0, 0.0, 1.0])
    heels = np.concatenate([feet[..., :2], feet[..., 2:3] + HEEL_HEIGHT], axis=-1)
    sole = TOE_HEIGHT - heels[..., 2]
    level = np.sqrt(np.maximum(foot**2 - sole**2, 1e-6))
    toes = heels + level[..., None] * forwards + sole[..., None] * up
    along = (to_heel**2 - to_toe**2 + foot**2) / (2 * foot)
    above = np.sqrt(max(to_heel**2 - along**2, 1e-6))
    slope = (toes - heels) / foot
    normal = np.cross(slope, np.cross(up, slope))
    ankles = heels + along * slope + above * normal / np.linalg.norm(normal, axis=-1, keepdims=True)
    turn, tilt = poses[:, 11], poses[:, 12]
    half = (
        hip_width
        / 2
        * np.stack(
            [np.cos(turn) * np.cos(tilt), np.sin(turn) * np.cos(tilt), np.sin(tilt)], axis=-1
        )
    )
    hips = poses[:, None, 8:11] + half[:, None] * np.array([[-1.0], [1.0]])
    leg = ankles - hips
    reach = np.linalg.norm(leg, axis=-1)
    down = leg / reach[..., None]
    span = np.minimum(reach, (thigh + shin) * LONGEST)
    knee_along = (thigh**2 - shin**2 + span**2) / (2 * span)
    knee_ahead = np.sqrt(np.maximum(thigh**2 - knee_along**2, 1e-6))
    ahead = forwards - (forwards * down).sum(axis=-1, keepdims=True) * down
    ahead /= np.linalg.norm(ahead, axis=-1, keepdims=True)
    turned = poses[:, 13:15, None]
    knees = (
        hips
        + knee_along[..., None] * down
        + knee_ahead[..., None] * (np.cos(turned) * ahead + np.sin(turned) * np.cross(down, ahead))
    )
    return np.concatenate([hips, knees, ankles, heels, toes], axis=1), reach - span


def fit_bodies(camera: Camera, evidence: Evidence, start: FloatArray) -> Body:
    """Fit one person's body to what is seen of it at several moments.

    Parameters
    ----------
    camera : Camera
    evidence : Evidence
    start : (positions * 15 + 7,) as `Body.values`

    Notes
    -----
    Least squares over the poses of all positions and the lengths that they share, with SciPy's
    trust-region reflective algorithm (M. A. Branch, T. F. Coleman and Y. Li, SIAM Journal on
    Scientific Computing 21, 1999). What is off counts by soft L1, so that a landmark in a wrong
    place does not bend the body.
    """
    count = len(evidence.pixels)

    def residuals(values: FloatArray) -> FloatArray:
        poses = values[: count * POSE].reshape(count, POSE)
        logs, leg = values[count * POSE : -1], values[-1]
        joints, beyond = posed(poses, np.exp(logs))
        parts = [
            (project(camera, joints) - evidence.pixels) / evidence.spreads[:, None, None],
            beyond / REACH_SPREAD_M,
            poses[:, [2, 6]] / LIFT_SPREAD_M,
            poses[:, 12] / TILT_SPREAD,
            poses[:, 13:] / KNEE_SPREAD,
        ]
        if evidence.depths is not None:
            parts.append((from_hips(camera, joints) - evidence.depths) / DEPTH_SPREAD_M)
        if evidence.hips is not None:
            off = poses[:, 11] - evidence.hips[:, 0]
            parts.append(np.arctan2(np.sin(off), np.cos(off)) / evidence.hips[:, 1])
        each = np.concatenate([part.reshape(count, -1) for part in parts], axis=1)
        usual = (logs - np.log(PROPORTIONS) - leg) / PROPORTION_SPREAD
        return np.nan_to_num(np.concatenate([each.ravel(), usual]), nan=FAR_OFF)

    def jacobian(values: FloatArray) -> FloatArray:
        here = residuals(values)
        rows = (len(here) - LENGTHS) // count
        found = np.zeros((len(here), len(values)))
        # One number of all poses is changed at once, since each has residuals of its own.
        blocks = found[: count * rows, : count * POSE].reshape(count, rows, count, POSE)
        own = np.arange(count)
        for number in range(POSE):
            moved = values.copy()
            moved[number : count * POSE : POSE] += STEP
            change = (residuals(moved) - here)[: count * rows] / STEP
            blocks[own, :, own, number] = change.reshape(count, rows)
        for shared in range(count * POSE, len(values)):
            moved = values.copy()
            moved[shared] += STEP
            found[:, shared] = (residuals(moved) - here) / STEP
        return found

    found = least_squares(
        residuals, start, jacobian, loss="soft_l1", x_scale="jac", max_nfev=MOST_STEPS
    )
    poses = found.x[: count * POSE].reshape(count, POSE)
    return Body(posed(poses, np.exp(found.x[count * POSE : -1]))[0], found.x, float(found.cost))


def from_hips(camera: Camera, joints: FloatArray) -> FloatArray:
    """How much farther from the camera than the middle of the hips joints are, metres."""
    away = depth(camera, joints)
    return np.asarray(away - away[..., HIPS].mean(axis=-1, keepdims=True))


def starts(camera: Camera, joints: FloatArray, hips: FloatArray | None) -> list[FloatArray]:
    """Where to start a fit to one position: (15,) each, from joints (10, 3) roughly known.

    One camera hardly tells a line from its mirror image in depth, so a fit ends in a wrong place
    where it starts on the wrong side: it is started with the hips turned, and with the feet as
    they are seen and as the hips point.
    """
    seen = joints[TOES] - joints[HEELS]
    headings = np.arctan2(seen[:, 1], seen[:, 0])
    line = joints[HIPS[1]] - joints[HIPS[0]]
    turns = np.arctan2(line[1], line[0]) + START_TURNS if hips is None else hips[:1]
    return [
        np.array(
            [
                *joints[HEELS[0], :2],
                0.0,
                feet[0],
                *joints[HEELS[1], :2],
                0.0,
                feet[1],
                *joints[HIPS].mean(axis=0),
                turn,
                0.0,
                0.0,
                0.0,
            ]
        )
        for turn in turns
        for feet in (headings, turn + np.pi / 2 + TURNED_OUT * np.array([1.0, -1.0]))
    ]


def fit_clip(camera: Camera, evidence: Evidence, joints: FloatArray) -> Body:
    """Fit a clip's bodies, each position alone first, from several starts.

    Parameters
    ----------
    camera : Camera
    evidence : Evidence
    joints : (positions, 10, 3) metres, court frame, roughly
    """
    lengths = np.append(np.log(PROPORTIONS * USUAL_LEG_M), np.log(USUAL_LEG_M))
    best = []
    for position, rough in enumerate(joints):
        own = evidence.only(position)
        fits = [
            fit_bodies(camera, own, np.concatenate([start, lengths]))
            for start in starts(camera, rough, None if own.hips is None else own.hips[0])
        ]
        best.append(min(fits, key=lambda body: body.cost).values)
    poses = [values[:POSE] for values in best]
    shared = np.median([values[POSE:] for values in best], axis=0)
    return fit_bodies(camera, evidence, np.concatenate([*poses, shared]))


def started(camera: Camera, pose: Pose) -> FloatArray:
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


def measures_of(joints: FloatArray, hand: str) -> dict[str, float]:
    """Measures of a body, joints (10, 3) metres, court frame."""
    racket, other = side_indices(hand, 0, 1)
    feet = (joints[HEELS] + joints[TOES]) / 2
    hips = joints[HIPS]
    return {
        "hip_yaw_deg": float(line_yaw(hips[other], hips[racket], hand)),
        "lead_angle_deg": float(line_yaw(feet[other], feet[racket], hand)),
        "foot_stagger_m": float(feet[racket, 1] - feet[other, 1]),
    }


def gather(clip: Path) -> list[Waiting]:
    """Analyse one clip and look at the key frames of the ready positions that are found."""
    truth = json.loads(clip.with_suffix(".truth.json").read_text())
    hand = truth["player"]["hand"]
    analysis = analyse(clip, clip.with_suffix(".court.json"), AnalysisOptions(hand=hand))
    if not analysis.result.players:
        return []
    camera, watched = true_camera(truth), analysis.watched_clip.players[0]
    pairs = [
        (true, said)
        for true in truth["ready_positions"]
        for said in analysis.result.players[0].ready_positions
        if overlap(true, vars(said)) >= 0.5
    ]
    poses: dict[int, dict[str, list[Pose]]] = {said.key_frame: {} for _, said in pairs}
    for model in MODELS:
        with Landmarker(model) as landmarker:
            for frame in read_frames_at(clip, poses):
                box = watched.observations[frame.index].pose.box
                looks = [landmarker.detect(frame.image, box, mirror) for mirror in (False, True)]
                poses[frame.index][model] = [pose for pose in looks if pose is not None]
    found = []
    for true, said in pairs:
        one_look = measure(analysis.cameras["A"], watched.observations[said.key_frame], hand)
        if one_look is not None and all(poses[said.key_frame].values()):
            found.append(
                Waiting(
                    truth["view"],
                    hand,
                    camera,
                    true,
                    np.array(truth["joints"][said.key_frame])[TRUE_JOINTS],
                    vars(said),
                    {
                        "hip_yaw_deg": one_look.hip_yaw[0],
                        "lead_angle_deg": one_look.lead_angle[0],
                        "foot_stagger_m": one_look.foot_stagger[0],
                    },
                    poses[said.key_frame],
                )
            )
    return found


def seen_by(waiting: Waiting, models: Sequence[Model]) -> tuple[FloatArray, FloatArray]:
    """Landmarks and joints of some models, means of all their looks: (10, 2) and (10, 3)."""
    poses = [pose for model in models for pose in waiting.poses[model]]
    return (
        np.mean([pose.pixels[LANDMARKS] for pose in poses], axis=0),
        np.mean([started(waiting.camera, pose) for pose in poses], axis=0),
    )


def faultless(waiting: Waiting, rng: np.random.Generator) -> FloatArray:
    """The true joints in the picture, (10, 2), with a pixel of noise."""
    joints = waiting.joints.copy()
    joints[HEELS, 2] += HEEL_HEIGHT
    joints[TOES, 2] += TOE_HEIGHT
    pixels = project(waiting.camera, joints)
    return pixels + NOISE_PX * rng.standard_normal(pixels.shape)


def estimates(waitings: Sequence[Waiting]) -> dict[str, list[dict[str, float]]]:
    """What each way of telling says of one clip's ready positions, by its name."""
    camera = waitings[0].camera
    told = {
        "the tool": [one.said for one in waitings],
        "the tool, one look": [one.one_look for one in waitings],
    }

    def add(name: str, joints: FloatArray) -> None:
        told[name] = [
            measures_of(*pair) for pair in zip(joints, [one.hand for one in waitings], strict=True)
        ]

    size = np.array([np.ptp(one.poses["full"][0].pixels[:, 1]) for one in waitings])
    add("world landmarks, lite", np.array([seen_by(one, MODELS[:1])[1] for one in waitings]))
    for name, models in (("full", MODELS[1:2]), ("heavy", MODELS[2:]), ("both", MODELS[1:])):
        pixels, rough = (
            np.array(part) for part in zip(*(seen_by(one, models) for one in waitings), strict=True)
        )
        add(f"world landmarks, {name}", rough)
        seen = Evidence(pixels, LANDMARK_SPREAD * size)
        add(f"fitted, {name}", fit_clip(camera, seen, rough).joints)
    deep = replace(seen, depths=from_hips(camera, rough))
    add("fitted, both, with their depths", fit_clip(camera, deep, rough).joints)
    hips = np.radians(
        [
            (
                one.said["hip_yaw_deg"] if one.hand == "right" else -one.said["hip_yaw_deg"],
                one.said["hip_yaw_se_deg"],
            )
            for one in waitings
        ]
    )
    add(
        "fitted, both, with the tool's hips",
        fit_clip(camera, replace(seen, hips=hips), rough).joints,
    )
    rng = np.random.default_rng(0)
    true = Evidence(
        np.array([faultless(one, rng) for one in waitings]), np.full(len(waitings), NOISE_PX)
    )
    add("fitted, faultless landmarks", fit_clip(camera, true, rough).joints)
    return told


@dataclass(frozen=True)
class Error:
    """How far one way of telling is off in one measure of one ready position."""

    view: str
    way: str
    measure: str
    error: float


def evaluate(clip: Path) -> tuple[list[Waiting], list[Error]]:
    """Ready positions of one clip, and the errors of all that is told of them."""
    waitings = gather(clip)
    told = estimates(waitings) if waitings else {}
    return waitings, [
        Error(one.view, way, name, float(wrapped(name, np.array(said[name] - one.true[name]))))
        for way, all_said in told.items()
        for one, said in zip(waitings, all_said, strict=True)
        for name, _, _ in MEASURES
    ]


def print_consistency(clips: Sequence[Sequence[Waiting]]) -> None:
    """Print what a linear correction by the rest of the body makes of two clips' hips or more.

    Each clip is corrected by what the others teach (scikit-learn's ridge regression).
    """
    said = [one.said for clip in clips for one in clip]
    hips = np.array([s["hip_yaw_deg"] for s in said])
    off = wrapped(
        "deg", np.array([one.true["hip_yaw_deg"] for clip in clips for one in clip]) - hips
    )
    knees = np.array([s["knee_flexion_deg"] for s in said])
    rest = np.column_stack(
        [
            hips,
            *(
                wrapped("deg", np.array([s[name] for s in said]) - hips)
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
    """Print mean absolute errors by measure, way of telling and view."""
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


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    arguments = parser.parse_args()
    clips = sorted(arguments.folder.glob("*.mp4"))
    with multiprocessing.get_context("spawn").Pool(arguments.workers) as pool:
        parts = pool.map(evaluate, clips, chunksize=1)
    waitings = [part for part, _ in parts if part]
    print(f"{sum(map(len, waitings))} ready positions of {len(waitings)} clips")
    print_table([error for _, part in parts for error in part])
    if len(waitings) > 1:
        print_consistency(waitings)


if __name__ == "__main__":
    main()
