"""Bodies fitted to landmarks through a known camera.

Toes stand on the floor, heels on or little above it; hips, thighs, shins and feet have one size
over a whole clip.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from stance.court.camera import Camera, depth, project
from stance.measures.orientation import line_yaw
from stance.people.floor import HEEL_HEIGHT, TOE_HEIGHT
from stance.people.landmarks import (
    side_indices,
)
from stance.types import FloatArray

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
        the tool measures them, radians, or None
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
    poses : (positions, 15) in the order given at `POSE`
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
    knee_forward = np.sqrt(np.maximum(thigh**2 - knee_along**2, 1e-6))
    front = forwards - (forwards * down).sum(axis=-1, keepdims=True) * down
    front /= np.linalg.norm(front, axis=-1, keepdims=True)
    turned = poses[:, 13:15, None]
    knees = (
        hips
        + knee_along[..., None] * down
        + knee_forward[..., None]
        * (np.cos(turned) * front + np.sin(turned) * np.cross(down, front))
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
    found = least_squares(
        _residuals,
        start,
        _jacobian,
        loss="soft_l1",
        x_scale="jac",
        max_nfev=MOST_STEPS,
        args=(camera, evidence),
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


def _residuals(values: FloatArray, camera: Camera, evidence: Evidence) -> FloatArray:
    """How far bodies are off the evidence and usual bodies, in standard deviations.

    First each position's residuals, as many for all, then those of the lengths.
    """
    count = len(evidence.pixels)
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


def _jacobian(values: FloatArray, camera: Camera, evidence: Evidence) -> FloatArray:
    """Derivatives of the residuals by differences."""
    count = len(evidence.pixels)
    here = _residuals(values, camera, evidence)
    rows = (len(here) - LENGTHS) // count
    found = np.zeros((len(here), len(values)))
    # One number of all poses is changed at once, since each has residuals of its own.
    blocks = found[: count * rows, : count * POSE].reshape(count, rows, count, POSE)
    own = np.arange(count)
    for number in range(POSE):
        moved = values.copy()
        moved[number : count * POSE : POSE] += STEP
        change = (_residuals(moved, camera, evidence) - here)[: count * rows] / STEP
        blocks[own, :, own, number] = change.reshape(count, rows)
    for shared in range(count * POSE, len(values)):
        moved = values.copy()
        moved[shared] += STEP
        found[:, shared] = (_residuals(moved, camera, evidence) - here) / STEP
    return found
