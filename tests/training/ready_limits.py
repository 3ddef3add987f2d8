"""How the limits of speed that part waiting from moving were chosen.

`python -m tests.training.ready_limits` draws drills of the tune split, adds the pose model's noise
to their true joints, and prints recall, precision and median lateness of start and end (seconds)
of ready positions for several limits of speed, and for several of how far feet and hips may
tremble in their place, these also with more noise.
"""

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from unittest.mock import patch

import numpy as np

from stance.court.camera import project
from stance.measures import motion, ready_positions
from stance.measures.handedness import SURE, estimate_racket_hand
from stance.measures.ready_positions import find_spells
from stance.people.floor import metres_per_pixel
from stance.people.landmarks import LANDMARKS, LEFT_HIP, RIGHT_HIP
from stance.people.track import Track
from tests.evaluation.accuracy import overlap, true_camera
from tests.rendering.clips import draw_clip
from tests.rendering.truth import clip_truth

CLIPS = 35
FIRST_SEED = 1000
# Scatter of landmarks from frame to frame: a 250th of the player's height, measured on the sample
# clip, but not below 0.4 pixels.
SCATTER, LEAST_SCATTER_PX = 0.004, 0.4
# Times that scatter.
MORE_SCATTER = (1.0, 1.75, 2.5)
LANDMARK_OF_JOINT = {
    "shoulder": 11,
    "elbow": 13,
    "wrist": 15,
    "hip": 23,
    "knee": 25,
    "ankle": 27,
    "heel": 29,
    "toe": 31,
}


def noisy_track(truth: dict, seed: int, times: float = 1.0) -> tuple[Track, np.ndarray]:
    """A track as the pose model would give it, with its scatter some times as large, and the size
    of a pixel in each frame.
    """
    joints, names = np.array(truth["joints"]), truth["joint_names"]
    camera = true_camera(truth)
    body = np.repeat(joints[:, [names.index("nose")]], LANDMARKS, axis=1)
    for joint, landmark in LANDMARK_OF_JOINT.items():
        for offset, side in enumerate(("left", "right")):
            body[:, landmark + offset] = joints[:, names.index(f"{side}_{joint}")]
    rng = np.random.default_rng(seed)
    pixels = project(camera, body)
    scatter = times * max(SCATTER * np.ptp(pixels[..., 1], axis=1).mean(), LEAST_SCATTER_PX)
    pixels = pixels + rng.normal(0, scatter, pixels.shape)
    middle = body[:, [LEFT_HIP, RIGHT_HIP]].mean(axis=1, keepdims=True)
    world = (body - middle) @ camera.rotation.T + rng.normal(0, 0.01, body.shape)
    frames = np.arange(len(joints))
    track = Track(frames, frames / truth["frame_rate"], pixels, np.ones(pixels.shape[:2]), world)
    return track, metres_per_pixel(camera, pixels)


def score(drills: list[tuple[Track, np.ndarray, dict]]) -> tuple[float, float, float, float]:
    """Recall, precision, and median lateness of starts and ends in seconds."""
    found, false, late = 0, 0, []
    true = sum(len(truth["ready_positions"]) for _, _, truth in drills)
    for track, scale, truth in drills:
        spells = [
            {"start_frame": s.start, "end_frame": s.end}
            for s in find_spells(track, scale, truth["player"]["hand"])
        ]
        for spell in spells:
            match = next((p for p in truth["ready_positions"] if overlap(p, spell) >= 0.5), None)
            if match is None:
                false += 1
            else:
                found += 1
                late.append(
                    [
                        (spell[k] - match[k]) / truth["frame_rate"]
                        for k in ("start_frame", "end_frame")
                    ]
                )
    start, end = np.median(late, axis=0)
    return found / true, found / (found + false), float(start), float(end)


def main() -> None:
    """Run as a command."""
    truths = [clip_truth(draw_clip(FIRST_SEED + i, "tune")) for i in range(CLIPS)]
    drills = [(*noisy_track(truth, i), truth) for i, truth in enumerate(truths)]
    seen = [estimate_racket_hand(track, {}, true_camera(truth)) for track, _, truth in drills]
    right = [
        hand == truth["player"]["hand"] for (hand, _), (*_, truth) in zip(seen, drills, strict=True)
    ]
    sure = [confidence >= SURE for _, confidence in seen]
    print(
        f"racket hand right in {sum(right)} of {len(right)} clips, sure and right in "
        f"{sum(r and s for r, s in zip(right, sure, strict=True))} of {sum(sure)} sure"
    )
    print("limits: foot, hip, wrist m/s | recall precision start end")
    for limits in itertools.product((0.2, 0.25, 0.3, 0.45), (0.35, 0.5, 0.75), (0.6, 0.8, 1.6)):
        with speed_limits(*limits):
            print(*limits, "|", *(f"{value:.3f}" for value in score(drills)), flush=True)
    print("times the scatter, metres in place | recall precision start end")
    for times in MORE_SCATTER:
        drills = [(*noisy_track(truth, i, times), truth) for i, truth in enumerate(truths)]
        for place in (0.0, 0.03, 0.045, 0.06, 0.08, 0.1, 0.15):
            with patch.object(ready_positions, "_IN_PLACE", place):
                print(times, place, "|", *(f"{value:.3f}" for value in score(drills)), flush=True)


@contextmanager
def speed_limits(foot: float, hip: float, wrist: float) -> Iterator[None]:
    """Other limits of speed, metres a second, wherever they are used."""
    limits = {"FOOT_SPEED": foot, "HIP_SPEED": hip, "WRIST_SPEED": wrist}
    with patch.multiple(motion, **limits), patch.multiple(ready_positions, **limits):
        yield


if __name__ == "__main__":
    main()
