"""Whether both defenders are followed as who they are, on rendered clips of pairs.

`python -m tests.evaluation.pair_accuracy FOLDER` analyses every clip of a folder (court given,
hands seen) and prints: frames in which a visible defender was found, identity swaps, people
reported who are no defenders, racket hands, and ready positions found. A folder holds NAME.mp4,
NAME.court.json and NAME.truth.json, as `python -m tests.rendering pair` writes them.
"""

import argparse
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from stance.analysis import analyse
from stance.court.camera import depth, project
from stance.measures.handedness import SURE
from stance.people.landmarks import LEFT_HIP, RIGHT_HIP
from stance.people.track import Track
from tests.evaluation.accuracy import overlap, true_camera

# A defender of whom the partner in front covers more than this part is not visible.
MOST_COVERED = 0.5
# Hips nearer to the true ones than this part of the player's height are theirs.
NEAR = 0.25


@dataclass(frozen=True)
class Score:
    """What was found of a clip's defenders.

    `visible`, `found`: defender frames; `swaps`: times a reported player changed from one
    defender to the other; `strangers`: reported players who are mostly no defender;
    `hands`, `sure`, `right`: players, those whose hand was reported as sure, and right ones of
    all players and of the sure ones; `ready`, `ready_found`: true ready positions, those that a
    reported one overlaps by a half or more; `reported`, `false`: ready positions reported, those
    that overlap no true one so.
    """

    visible: int
    found: int
    swaps: int
    strangers: int
    hands: int
    right: int
    sure: int
    sure_and_right: int
    ready: int
    ready_found: int
    reported: int
    false: int


def true_pixels(truth: dict) -> tuple[np.ndarray, np.ndarray]:
    """Joints (defenders, frames, joints, 2) pixels and distances (defenders, frames) metres."""
    camera = true_camera(truth)
    defenders = [truth, *([truth["partner"]] if "partner" in truth else [])]
    joints = np.array([d["joints"] for d in defenders])
    return project(camera, joints), depth(camera, joints).mean(axis=-1)


def visible_frames(pixels: np.ndarray, distance: np.ndarray) -> np.ndarray:
    """(defenders, frames) whether a defender is not mostly behind the partner."""
    low, high = pixels.min(axis=2), pixels.max(axis=2)
    visible = np.ones(distance.shape, bool)
    if len(pixels) == 2:
        shared = np.maximum(np.minimum(high[0], high[1]) - np.maximum(low[0], low[1]), 0)
        for one, other in ((0, 1), (1, 0)):
            covered = shared.prod(axis=-1) / (high[one] - low[one]).prod(axis=-1)
            visible[one] = ~((covered > MOST_COVERED) & (distance[one] > distance[other]))
    return visible


def who(track: Track, pixels: np.ndarray, hips: list[int], rate: float) -> np.ndarray:
    """(frames,) which defender a reported player is in each frame; -1 none, -2 not seen."""
    frames = np.arange(pixels.shape[1])
    here = track.between(frames, frames / rate)
    middle = here.pixels[:, [LEFT_HIP, RIGHT_HIP]].mean(axis=1)
    height = np.ptp(pixels[..., 1], axis=2)
    away = np.linalg.norm(pixels[:, :, hips].mean(axis=2) - middle, axis=-1) / height
    nearest = np.nan_to_num(away, nan=np.inf).argmin(axis=0)
    near = np.nan_to_num(away, nan=np.inf).min(axis=0) < NEAR
    return np.where(here.seen, np.where(near, nearest, -1), -2)


def score(clip: Path) -> Score:
    """Analyse one clip."""
    truth = json.loads(clip.with_suffix(".truth.json").read_text())
    analysis = analyse(clip, clip.with_suffix(".court.json"))
    pixels, distance = true_pixels(truth)
    visible = visible_frames(pixels, distance)
    names = truth["joint_names"]
    hips = [names.index("left_hip"), names.index("right_hip")]
    defenders = [truth, truth["partner"]] if "partner" in truth else [truth]
    found = np.zeros(visible.shape, bool)
    swaps = strangers = right = sure = sure_and_right = ready_found = reported = false = 0
    for player in analysis.result.players:
        is_who = who(analysis.tracks[player.player], pixels, hips, truth["frame_rate"])
        known = is_who[is_who >= 0]
        if len(known) < 0.5 * (is_who != -2).sum():
            strangers += 1
            continue
        # While they overlap, the nearer hips may be the partner's: a swap has to last.
        main = np.bincount(known, minlength=2)
        swaps += int(main.min() > 0.1 * main.sum())
        for defender in range(len(pixels)):
            found[defender] |= is_who == defender
        theirs = defenders[int(main.argmax())]
        correct = player.hand == theirs["player"]["hand"]
        right += correct
        sure += player.hand_confidence >= SURE
        sure_and_right += correct and player.hand_confidence >= SURE
        overlaps = np.array(
            [
                [overlap(vars(position), true) for true in theirs["ready_positions"]]
                for position in player.ready_positions
            ]
        )
        good = overlaps.reshape(-1, len(theirs["ready_positions"])) >= 0.5
        ready_found += int(good.any(axis=0).sum())
        reported += len(good)
        false += int((~good.any(axis=1)).sum())
    return Score(
        int(visible.sum()),
        int((found & visible).sum()),
        swaps,
        strangers,
        len(analysis.result.players),
        right,
        sure,
        sure_and_right,
        sum(len(d["ready_positions"]) for d in defenders),
        ready_found,
        reported,
        false,
    )


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.pair_accuracy", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("folder", type=Path)
    scores = []
    for clip in sorted(parser.parse_args().folder.glob("*.mp4")):
        scores.append(score(clip))
        print(f"{clip.name}: {scores[-1]}", flush=True)
    total = Score(*np.sum([list(vars(s).values()) for s in scores], axis=0).tolist())
    print(
        f"{len(scores)} clips: found in {total.found / total.visible:.2%} of {total.visible} "
        f"defender frames; {total.swaps} swaps; {total.strangers} others reported; racket hand "
        f"right for {total.right} of {total.hands}, {total.sure_and_right} of {total.sure} sure; "
        f"ready positions: recall {total.ready_found / total.ready:.3f} of {total.ready}, "
        f"precision {1 - total.false / total.reported:.3f} of {total.reported}"
    )


if __name__ == "__main__":
    main()
