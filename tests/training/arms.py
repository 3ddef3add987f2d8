"""Learn what the motion and the carriage of the arms tell of the racket hand.

`python -m tests.training arms FOLDER=WEIGHT...` reads players' tracks, fits a logistic regression
on windows of half a second (`stance.measures.arm_motion`), each folder with its weight, prints for
each folder how often the hand is right and sure for people whom the fit has not seen, writes
models/arms.json (the same tracks give the same bytes). How far a whole clip can be trusted is
taken from the first folder.

A folder holds NAME.npz, one player each: the arrays of a `Track`; `matrix`, `rotation`,
`translation` and `image_size` of the camera in the frame of the player's half; `hand`; `person`,
the same for all clips of one person.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sklearn.linear_model import LogisticRegression

from stance.court.camera import Camera
from stance.measures.arm_motion import CONTEXTS, DIFFERENCES, describe_arms
from stance.measures.handedness import ARMS_FILE, SURE, ArmsModel, arms_log_odds
from stance.people.track import Track
from stance.runtime.model_files import models_folder

PARTS = 6
# Windows overlap by half.
OVERLAP = 2
WINDOWS = 8000
STRENGTH = 0.02
DIGITS = 5


@dataclass(frozen=True)
class Player:
    """A player's windows (windows, numbers), as a right-hander's, in the numbered part."""

    name: str
    folder: str
    part: int
    windows: np.ndarray


def load(folder: Path) -> list[Player]:
    """Read the players of a folder; each person is in one of `PARTS` parts."""
    players = []
    for path in sorted(folder.glob("*.npz")):
        with np.load(path) as arrays:
            names = ("frames", "times", "pixels", "visibility", "world")
            track = Track(*(arrays[name] for name in names))
            camera = Camera(
                arrays["matrix"],
                arrays["rotation"],
                arrays["translation"],
                (int(arrays["image_size"][0]), int(arrays["image_size"][1])),
            )
            hand = str(arrays["hand"])
            part = sum(str(arrays["person"]).encode()) % PARTS
        windows = describe_arms(track, camera) * (1.0 if hand == "right" else -1.0)
        players.append(Player(path.stem, folder.name, part, windows))
    return players


def fit_weights(players: Sequence[Player], weights: Mapping[str, float]) -> np.ndarray:
    """Weights (numbers,) of the numbers of a window, of the folders with their weights."""
    taken = [player for player in players if len(player.windows)]
    windows = np.concatenate([player.windows[::OVERLAP] for player in taken])
    folders = np.concatenate([[p.folder] * len(p.windows[::OVERLAP]) for p in taken])
    share = np.zeros(len(windows))
    for folder, weight in weights.items():
        some = folders == folder
        share[some] = WINDOWS * weight / max(int(some.sum()), 1)
    spread = windows.std(axis=0)
    values = windows / spread
    model = LogisticRegression(C=STRENGTH, fit_intercept=False, max_iter=1000)
    model.fit(
        np.concatenate([values, -values]),
        np.repeat([1, 0], len(values)),
        sample_weight=np.concatenate([share, share]),
    )
    return np.asarray(model.coef_[0] / spread)


def judge(scores: Sequence[np.ndarray]) -> tuple[float, float, float]:
    """Mean of players' mean scores, their variance between players, that between windows."""
    means = np.array([score.mean() for score in scores])
    within = float(np.mean([OVERLAP * score.var() for score in scores]))
    between = float(means.var() - np.mean([within / len(score) for score in scores]))
    return float(means.mean()), max(between, LEAST_BETWEEN * float(means.var())), within


# Players' means differ by at least this share of what they are seen to differ by.
LEAST_BETWEEN = 0.45


def fit(folders: Mapping[Path, float]) -> None:
    """Fit, print what it is worth for people not seen, and write the file."""
    players = [player for folder in folders for player in load(folder)]
    weights = {folder.name: weight for folder, weight in folders.items()}
    first = next(iter(weights))
    scores: dict[str, np.ndarray] = {}
    for part in range(PARTS):
        learned = fit_weights([p for p in players if p.part != part], weights)
        scores |= {f"{p.folder}/{p.name}": p.windows @ learned for p in players if p.part == part}
    mean, between, within = judge(
        [score for name, score in scores.items() if name.startswith(f"{first}/") and len(score)]
    )
    for folder in weights:
        some = [score for name, score in scores.items() if name.startswith(f"{folder}/")]
        odds = np.array([arms_log_odds(s, ArmsModel((), mean, between, within)) for s in some])
        limit = np.log(SURE / (1.0 - SURE))
        print(
            f"{folder}: right {np.sum(odds > 0)} of {len(odds)}, sure {np.sum(odds >= limit)}, "
            f"sure and wrong {np.sum(odds <= -limit)}",
            flush=True,
        )
    content = {
        "differences": DIFFERENCES,
        "contexts": CONTEXTS,
        "mean": round(mean, DIGITS),
        "between_players": round(between, DIGITS),
        "between_windows": round(within, DIGITS),
        "weights": fit_weights(players, weights).round(DIGITS).tolist(),
    }
    (models_folder() / ARMS_FILE).write_text(json.dumps(content, indent=1) + "\n")
