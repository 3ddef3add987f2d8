"""People made for tests: stick figures, players who have seen them, and pictures put together."""

import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from functools import cache

import cv2
import numpy as np

from stance.court.camera import Camera, project
from stance.people.appearance import body_mask
from stance.people.candidates import Candidate
from stance.people.landmarker import Landmarker
from stance.people.landmarks import LANDMARKS, Pose, box_around
from stance.people.observation import Observation, ObservationId, Observer, PoseModels
from stance.people.player_state import Player, TrackId
from stance.people.pose_history import PoseHistory
from stance.people.tracker_state import TrackerContext
from stance.video.reader import read_frames
from tests.evaluation.pair_accuracy import true_pixels
from tests.paths import DATA
from tests.unit.figures import behind_camera, figure

# python -m tests.rendering pair --seed 1 --split tune --view behind --positions 3
# --size 1280x720 --rate 30: somebody moves beside the court.
CLIP = DATA / "pair.mp4"

RED, BLUE = np.array([0.75, 0.25]), np.array([0.25, 0.75])

_count = iter(range(10**9))


def observed(pose: Pose) -> Observation:
    """An observation of its own that shows a pose."""
    return Observation(ObservationId("made", next(_count), 0), pose)


def pose_at(x: float) -> Pose:
    """The pose of a stick figure who stands at a place across the court."""
    joints = figure((x, -4.0))
    return Pose(project(behind_camera(), joints), np.ones(LANDMARKS), joints)


def candidate_at(x: float, colours: np.ndarray) -> Candidate:
    """A stick figure seen at a place across the court."""
    return Candidate(observed(pose_at(x)), np.array([x, -4.0]), colours)


def player_at(number: int, x: float, colours: np.ndarray) -> Player:
    """A player who was seen standing at a place a moment ago."""
    return player_seen(number, colours, 0, pose_at(x))


def player_seen(number: int, colours: np.ndarray, first_frame: int, *poses: Pose | None) -> Player:
    """A player who was looked for in some frames, a tenth of a second apart."""
    frames = [first_frame + count for count in range(len(poses))]
    return Player(
        TrackId("near", number),
        number,
        colours,
        PoseHistory([None if pose is None else observed(pose) for pose in poses]),
        True,
        frames,
        [0.1 * frame for frame in frames],
        last_seen=len(poses) - 1,
    )


@contextmanager
def context_of(
    camera: Camera | None, image_size: tuple[int, int] = (1280, 720), may_rest: bool = False
) -> Iterator[TrackerContext]:
    """What a tracker of the near half works with."""
    with (
        ThreadPoolExecutor(1) as workers,
        closing(PoseModels("full")) as models,
    ):
        yield TrackerContext(camera, image_size, "near", models, workers, may_rest)


class Picture:
    """A picture put together for a test, as a frame gives its parts."""

    def __init__(self, image: np.ndarray, index: int = 0, time_s: float = 0.0) -> None:
        self.image, self.size = image, (image.shape[1], image.shape[0])
        self.index, self.time_s = index, time_s

    def crop(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        return np.ascontiguousarray(self.image[top:bottom, left:right])

    def shrink_grey(self, width: int) -> np.ndarray:
        height = round(self.size[1] * width / self.size[0])
        return cv2.resize(self.image[..., 1], (width, height), interpolation=cv2.INTER_AREA)

    def crop_grey(self, left: int, top: int, right: int, bottom: int) -> np.ndarray:
        return self.crop(left, top, right, bottom)[..., 1]


def first_picture(index: int = 0, time_s: float = 0.0) -> Picture:
    """The clip's first picture, as if it were another frame."""
    return Picture(next(read_frames(CLIP)).image, index, time_s)


def two_in_line(index: int = 0, time_s: float = 0.0) -> tuple[Picture, Pose, float]:
    """A defender of the clip who stands once more, half hidden, behind themselves.

    Returns the picture, the pose of the one in front, and how far to the right the other one
    stands, pixels.
    """
    image, pose, shift = _two_in_line()
    return Picture(image, index, time_s), pose, shift


@cache
def _two_in_line() -> tuple[np.ndarray, Pose, float]:
    joints = true_pixels(json.loads(CLIP.with_suffix(".truth.json").read_text()))[0][0, 0]
    frame = next(read_frames(CLIP))
    with Landmarker("full") as landmarker:
        seen = Observer("made", landmarker).observe(frame, box_around(joints).widened(1.2))
    pose = seen[0].pose
    body = body_mask(frame.image.shape[:2], [pose.pixels], 0.15)
    shift = round(0.35 * float(np.ptp(pose.pixels[:, 1])))
    image = frame.image.copy()
    behind = np.roll(body, shift, axis=1) & ~body
    image[behind] = np.roll(frame.image, shift, axis=1)[behind]
    return image, pose, float(shift)
