"""Trains the network that reads strokes from motion, and prints what it is worth.

scikit-learn's `MLPClassifier`; real rallies are judged by networks that did not learn from them.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.neural_network import MLPClassifier

from stance.strokes.evidence import HALVES, gather_evidence
from stance.strokes.network import (
    CHECKSUM_FILE,
    NETWORK_FILE,
    StrokeNetwork,
    scale_inputs,
    stack_windows,
)
from stance.strokes.sequence import likeliest_sequence
from stance.types import FloatArray, IntArray
from tests.evaluation.strokes import match_times
from tests.training.stroke_samples import Sample, real_samples, rendered_sample

# A moment so near to a contact is one of the stroke, seconds.
CONTACT_S = 0.075
NETWORKS = 3
# Of rendered clips: none that is made with pictures.
FIRST_SEED = 20_000
# Real rallies are few; each counts so many times beside rendered play.
REAL_WEIGHT = 3
PARTS = 3


@dataclass(frozen=True)
class Size:
    """Units of the hidden layer, what large weights cost, rounds of training."""

    hidden: int
    alpha: float
    rounds: int


OF_RALLIES, OF_ALL = Size(48, 3.0, 30), Size(64, 1.0, 16)


def train(folder: Path, rendered: int, real: tuple[Path, Path], poses: Path, workers: int) -> None:
    """Train on rendered and real motion, print the figures, write the network into a folder.

    Parameters
    ----------
    folder
        for strokes.npz and strokes.json
    rendered
        number of rendered clips to learn from; a sixth as many of the tune split judge
    real
        folder of real clips and file of labels
    poses
        folder where the poses of real clips are kept
    workers
        processes
    """
    with ProcessPoolExecutor(workers) as pool:
        learned = _rendered(pool, range(FIRST_SEED, FIRST_SEED + rendered), "train")
        judged = _rendered(pool, range(FIRST_SEED, FIRST_SEED + rendered // 6), "tune")
    rallies = dict(real_samples(*real, poses))
    print("real rallies, each judged by networks that did not learn from it")
    found = {}
    names = np.random.default_rng(0).permutation(sorted(rallies)).tolist()
    for part in range(PARTS):
        others = [rallies[name] for name in names if name not in names[part::PARTS]]
        networks = fit_both(others, learned)
        found |= {name: _strokes(networks, rallies[name]) for name in names[part::PARTS]}
    print_figures([rallies[name] for name in found], list(found.values()))
    networks = fit_both(list(rallies.values()), learned)
    print("rendered play, tune split")
    print_figures(judged, [_strokes(networks, sample) for sample in judged])
    save(networks, folder)


def fit_both(rallies: Sequence[Sample], rendered: Sequence[Sample]) -> tuple[StrokeNetwork, ...]:
    """Fit a network to real rallies alone, and one to rendered play with them."""
    return (
        fit(rallies, OF_RALLIES),
        fit([*rendered, *REAL_WEIGHT * list(rallies)], OF_ALL),
    )


def fit(samples: Sequence[Sample], size: Size) -> StrokeNetwork:
    """Fit a network to samples."""
    parts = [_rows(sample) for sample in samples]
    inputs = np.concatenate([windows for windows, _ in parts])
    targets = np.concatenate([target for _, target in parts])
    low, centre, high = np.nanpercentile(inputs, (16, 50, 84), axis=0)
    spread = (high - low) / 2 + 1e-3
    scaled = scale_inputs(inputs, centre, spread)
    layers = []
    for seed in range(NETWORKS):
        learner = MLPClassifier(
            (size.hidden,),
            alpha=size.alpha,
            max_iter=size.rounds,
            learning_rate_init=2e-3,
            batch_size=200,
            random_state=seed,
        ).fit(scaled, targets)
        layers.append(tuple(zip(learner.coefs_, learner.intercepts_, strict=True)))
    return StrokeNetwork(centre, spread, tuple(layers))


def save(networks: Sequence[StrokeNetwork], folder: Path) -> None:
    """Write networks into one file, and the JSON with its checksum beside it."""
    arrays: dict[str, Any] = {"groups": len(networks)}
    for group, network in enumerate(networks):
        arrays[f"{group}.networks"] = len(network.layers)
        arrays[f"{group}.layers"] = len(network.layers[0])
        arrays[f"{group}.centre"] = network.centre.astype(np.float32)
        arrays[f"{group}.spread"] = network.spread.astype(np.float32)
        for number, layers in enumerate(network.layers):
            for layer, (weights, biases) in enumerate(layers):
                arrays[f"{group}.weights_{number}_{layer}"] = weights.astype(np.float32)
                arrays[f"{group}.biases_{number}_{layer}"] = biases.astype(np.float32)
    folder.mkdir(parents=True, exist_ok=True)
    np.savez_compressed(folder / NETWORK_FILE, **arrays)
    checksum = hashlib.sha256((folder / NETWORK_FILE).read_bytes()).hexdigest()
    card = json.dumps({"network_sha256": checksum}, indent=1) + "\n"
    (folder / CHECKSUM_FILE).write_text(card, encoding="utf-8")


def print_figures(samples: Sequence[Sample], found: Sequence[Mapping[str, FloatArray]]) -> None:
    """Print recall and precision of the strokes of each half."""
    for half in HALVES:
        true = sum(len(sample.strokes_s[half]) for sample in samples)
        told = sum(len(strokes[half]) for strokes in found)
        matched = [
            match_times(strokes[half].tolist(), sample.strokes_s[half].tolist())
            for sample, strokes in zip(samples, found, strict=True)
        ]
        hits = sum(len(pairs) for pairs in matched)
        print(
            f"  {half}: {true} strokes, recall {hits / max(true, 1):.3f}, "
            f"precision {hits / max(told, 1):.3f}"
        )


def _rendered(pool: ProcessPoolExecutor, seeds: Iterable[int], split: str) -> list[Sample]:
    samples = pool.map(partial(rendered_sample, split=split), seeds)
    return [sample for sample in samples if sample is not None]


def _rows(sample: Sample) -> tuple[FloatArray, IntArray]:
    """Windows (n, inputs) and what they show (n,): nothing, an own stroke, one of the others."""
    windows, targets = [], []
    for half in HALVES:
        (other,) = (known for known in HALVES if known != half)
        target = np.zeros(len(sample.times), int)
        for kind, strokes in ((2, sample.strokes_s[other]), (1, sample.strokes_s[half])):
            apart = np.abs(sample.times[:, None] - strokes[None])
            target[(apart <= CONTACT_S).any(axis=1)] = kind
        for motion in sample.motions[half]:
            seen = np.isfinite(motion[:, 0])
            windows.append(stack_windows(motion)[seen])
            targets.append(target[seen])
    return np.concatenate(windows).astype(np.float32), np.concatenate(targets)


def _strokes(networks: Sequence[StrokeNetwork], sample: Sample) -> dict[str, FloatArray]:
    """Strokes found of each half, without sound, by the network that finds more, seconds."""
    sequences = []
    for network in networks:
        evidence = gather_evidence(network, sample.times, sample.motions, np.empty(0))
        sequences.append(likeliest_sequence(evidence.times, evidence.total))
    best = max(sequences, key=lambda sequence: sum(c.evidence for c in sequence))
    return {half: np.array([c.time_s for c in best if HALVES[c.side] == half]) for half in HALVES}
