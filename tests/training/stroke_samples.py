"""What the stroke network learns from: motion with its strokes, rendered or of real rallies.

Rendered play needs no pictures here: true joints are projected by the clip's camera and scattered
as the pose model scatters them. How much, was measured on 33 clips of rendered play that were
watched (24 to 30 pictures a second, players 80 to 190 pixels tall): standard deviation and bias of
each landmark in heights of the body, and a correlation of 0.55 to 0.9 from picture to picture.

A real rally comes with variants of itself, as it might have been: faster or slower, landmarks
scattered further, pictures missed, half as many pictures a second.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from stance.court.camera import Camera, turned_180
from stance.people.track import Track
from stance.strokes.evidence import HALVES
from stance.strokes.motion import describe_motion, moments
from stance.types import FloatArray, Half
from stance.video.probe import describe_clip
from stance.watching.clip_watching import watch_clip
from stance.watching.options import WatchOptions
from stance.watching.pose_cache import poses_key, read_poses, write_poses
from tests.rendering.play.clip import Options, Person, draw_play, in_picture
from tests.rendering.play.truth import play_truth
from tests.rendering.skeleton import JOINT_NAMES

# Of each kind of landmark, in heights of the body: standard deviation, bias.
SCATTER = {
    "nose": (0.015, 0.012),
    "shoulder": (0.0147, 0.014),
    "elbow": (0.033, 0.018),
    "wrist": (0.05, 0.012),
    "hip": (0.016, 0.013),
    "knee": (0.019, 0.0095),
    "ankle": (0.016, 0.0105),
    "heel": (0.022, 0.028),
    "toe": (0.0175, 0.022),
}
SAME_AS_BEFORE = (0.55, 0.88)
WORLD_SCATTER, DEPTH_SCATTER = 1.5, 1.8  # metres a height of the body; depth by the other two
GAPS_PER_S, GAP_FRAMES = 0.06, (2, 15)
# Variants of a real rally: logarithm of how much slower, further scatter against `SCATTER` at most.
STRETCH, MORE_SCATTER = 0.14, 0.5
SIDES = ("left", "right")
PAIR_SHARE = 0.12
# Players of each half: their track, and the camera in the frame of their half.
Seen = tuple[Half, Track, Camera]
LANDMARKS = {"nose": 0} | {
    f"{side}_{part}": first + number
    for part, first in zip(
        ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe"),
        (11, 13, 15, 23, 25, 27, 29, 31),
        strict=True,
    )
    for number, side in enumerate(SIDES)
}


@dataclass(frozen=True)
class Sample:
    """A clip to learn from.

    Attributes
    ----------
    times
        (moments,) seconds
    motions
        of the players of each half, (moments, numbers) each
    strokes_s
        of each half, (strokes,) seconds
    """

    times: FloatArray
    motions: Mapping[Half, list[FloatArray]]
    strokes_s: Mapping[Half, FloatArray]


def rendered_sample(seed: int, split: str) -> Sample | None:
    """Motion of a clip of play, seen as the pose model sees; None of one without strokes faced."""
    rng = np.random.default_rng([77, seed])
    play = draw_play(
        seed, split, Options(strokes=int(rng.integers(5, 9)), pair=rng.uniform() < PAIR_SHARE)
    )
    strokes = play_truth(play)["strokes"]
    if not any(stroke["side"] == "faced" for stroke in strokes):
        return None
    near = Camera(play.camera.matrix, play.camera.rotation, play.camera.translation, 0.0)
    every = max(1, round(play.frame_rate / 30.0))
    times = play.frame_times[::every]
    grid = moments(times[0], times[-1])
    level = float(np.exp(rng.normal(-0.2, 0.4)))
    motions: dict[Half, list[FloatArray]] = {half: [] for half in HALVES}
    people: list[tuple[Half, Person, int]] = [("near", person, 1) for person in play.defenders]
    if play.attacker is not None:
        people.append(("far", play.attacker, int(rng.choice((1, 2, 2, 3)))))
    for half, person, step in people:
        seen_at = times[::step]
        joints = person.joints(seen_at)
        track = scattered_track(rng, joints, near, seen_at, level)
        shown = in_picture(play.camera, joints).mean(axis=1) > 0.8
        shown &= ~_gaps(rng, len(seen_at), seen_at[-1])
        track.pixels[~shown] = track.world[~shown] = np.nan
        if shown.mean() > 0.2:
            camera = near if half == "near" else turned_180(near)
            motions[half].append(describe_motion(track, camera, grid))
    sides = {"near": "own", "far": "faced"}
    return Sample(
        grid,
        motions,
        {
            half: np.array([s["time_s"] for s in strokes if s["side"] == sides[half]])
            for half in HALVES
        },
    )


def scattered_track(
    rng: np.random.Generator, joints: FloatArray, camera: Camera, times: FloatArray, level: float
) -> Track:
    """A track of true joints (frames, 17, 3) as the pose model would see them.

    `level` multiplies the scatter.
    """
    in_camera = joints @ camera.rotation.T + camera.translation
    image = in_camera @ camera.matrix.T
    pixels = image[..., :2] / image[..., 2:]
    height = float(np.median(np.ptp(pixels[..., 1], axis=1)))
    count = len(joints)
    correlation = rng.uniform(*SAME_AS_BEFORE)
    flat = _wander(rng, count, (len(JOINT_NAMES), 2), correlation)
    solid = _wander(rng, count, (len(JOINT_NAMES), 3), correlation)
    bias = rng.normal(size=(len(JOINT_NAMES), 2))
    hips = in_camera[:, [JOINT_NAMES.index(f"{side}_hip") for side in SIDES]].mean(axis=1)
    # Landmarks of which there is no true joint are never read.
    seen, world = np.zeros((count, 33, 2)), np.zeros((count, 33, 3))
    for number, name in enumerate(JOINT_NAMES):
        spread, off = SCATTER[name.split("_")[-1]]
        landmark = LANDMARKS[name]
        scatter = level * spread * flat[:, number] + off * bias[number]
        seen[:, landmark] = pixels[:, number] + height * scatter
        in_space = level * spread * solid[:, number] * (1.0, 1.0, DEPTH_SCATTER)
        world[:, landmark] = in_camera[:, number] - hips + WORLD_SCATTER * in_space
    return Track(np.arange(count), times, seen, np.ones((count, 33)), world)


def real_samples(
    clips: Path, labels: Path, poses: Path, variants: int
) -> Iterator[tuple[bool, list[Sample]]]:
    """Watch real rallies with the project's own pipeline; yield whether to judge, and samples.

    The first sample of each is the rally itself.

    Parameters
    ----------
    clips
        folder of the clips
    labels
        JSON: of each clip the strokes of the near and the far player, [frame, error] each; with
        `by_eye` false where they were told otherwise: such clips are learned from alone
    poses
        folder where poses are kept for the next time
    variants
        number of samples of each rally as it might have been
    """
    for name, strokes in sorted(json.loads(labels.read_text(encoding="utf-8")).items()):
        path = clips / Path(name).name
        if not path.exists():
            continue
        options = WatchOptions(half="near")
        description = describe_clip(path)
        key = poses_key(description.sha256, None, options)
        kept = poses / f"{path.stem}.npz"
        watched = read_poses(kept, key)
        if watched is None:
            watched = watch_clip(path, description, None, options)
            poses.mkdir(parents=True, exist_ok=True)
            write_poses(kept, key, watched)
        if watched.court is None:
            continue
        seen = [
            (one.half, one.track, one.own_camera(watched.court.camera))
            for one in (*watched.players, *watched.opponents)
        ]
        last = len(watched.times) - 1
        contacts = {
            half: np.array([watched.times[min(frame, last)] for frame, _ in strokes[half]])
            for half in HALVES
        }
        rngs = [
            np.random.default_rng([78, number, *path.stem.encode()]) for number in range(variants)
        ]
        yield (
            strokes.get("by_eye", True),
            [
                _sample(watched.times, seen, contacts),
                *(_variant(rng, watched.times, seen, contacts) for rng in rngs),
            ],
        )


def _sample(
    times: FloatArray, seen: Sequence[Seen], strokes_s: Mapping[Half, FloatArray]
) -> Sample:
    grid = moments(times[0], times[-1])
    motions: dict[Half, list[FloatArray]] = {half: [] for half in HALVES}
    for half, track, camera in seen:
        motions[half].append(describe_motion(track, camera, grid))
    return Sample(grid, motions, strokes_s)


def _variant(
    rng: np.random.Generator,
    times: FloatArray,
    seen: Sequence[Seen],
    strokes_s: Mapping[Half, FloatArray],
) -> Sample:
    """A sample of a rally as it might have been."""
    slower = float(np.exp(rng.uniform(-STRETCH, STRETCH)))
    return _sample(
        times * slower,
        [(half, _varied_track(rng, track, slower), camera) for half, track, camera in seen],
        {half: contacts * slower for half, contacts in strokes_s.items()},
    )


def _varied_track(rng: np.random.Generator, track: Track, slower: float) -> Track:
    step = int(rng.choice((1, 1, 2)))
    rows = slice(int(rng.integers(step)), None, step)
    seen_at = track.times[rows] * slower
    pixels, world = track.pixels[rows].copy(), track.world[rows].copy()
    height = np.nanmedian(np.ptp(pixels[..., 1], axis=1))
    level, correlation = rng.uniform(0.0, MORE_SCATTER), rng.uniform(*SAME_AS_BEFORE)
    flat = _wander(rng, len(seen_at), (len(LANDMARKS), 2), correlation)
    solid = _wander(rng, len(seen_at), (len(LANDMARKS), 3), correlation)
    for number, (name, landmark) in enumerate(LANDMARKS.items()):
        spread = level * SCATTER[name.split("_")[-1]][0]
        pixels[:, landmark] += spread * height * flat[:, number]
        world[:, landmark] += WORLD_SCATTER * spread * solid[:, number]
    missed = _gaps(rng, len(seen_at), seen_at[-1])
    pixels[missed] = world[missed] = np.nan
    return replace(
        track,
        frames=np.arange(len(seen_at)),
        times=seen_at,
        pixels=pixels,
        visibility=track.visibility[rows],
        world=world,
    )


def _wander(
    rng: np.random.Generator, count: int, shape: tuple[int, ...], correlation: float
) -> FloatArray:
    """Noise (count, *shape) of standard deviation 1 that wanders; a few values lie far out."""
    steps = rng.standard_t(4, (count, *shape)) / np.sqrt(2.0)
    values = np.empty_like(steps)
    values[0] = steps[0]
    for number in range(1, count):
        values[number] = (
            correlation * values[number - 1] + np.sqrt(1 - correlation**2) * steps[number]
        )
    return values


def _gaps(rng: np.random.Generator, count: int, duration_s: float) -> np.ndarray:
    """Frames (count,) in which the player was missed."""
    missed = np.zeros(count, bool)
    for _ in range(rng.poisson(duration_s * GAPS_PER_S)):
        start = rng.integers(count)
        missed[start : start + rng.integers(*GAP_FRAMES)] = True
    return missed
