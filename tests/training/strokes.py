"""Trains the network that reads strokes from motion, and prints what it is worth.

Real rallies are judged by networks that did not learn from them. Needs PyTorch.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np

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

Rally = Sequence[Sample]
Rows = tuple[FloatArray, IntArray]

# A moment so near to a contact is one of the stroke, seconds.
CONTACT_S = 0.075
# Of rendered clips: none that is made with pictures.
FIRST_SEED = 20_000
# Of each real rally, beside itself.
VARIANTS = 12
PARTS = 7
PARTITIONS = 2
# How each network is fitted: units of its hidden layer, moments drawn in all and at once, half of
# them of real rallies, share of inputs hidden at random, so that no few of them are relied on.
NETWORKS, HIDDEN_UNITS = 3, 128
DRAWN, BATCH, DROPPED = 6_000_000, 256, 0.3
LEARNING_RATE, WEIGHT_DECAY = 4e-3, 0.3


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
    rallies = list(real_samples(*real, poses, VARIANTS))
    network = fit([rally for _, rally in rallies], learned)
    save(network, folder)
    judge_rendered(network, judged)
    by_eye = [rally for is_by_eye, rally in rallies if is_by_eye]
    judge_real(by_eye, [rally for is_by_eye, rally in rallies if not is_by_eye], learned)


def judge_rendered(network: StrokeNetwork, samples: Sequence[Sample]) -> None:
    """Print the figures of rendered play, as it is and with nobody beyond the net."""
    alone = [Sample(s.times, {**s.motions, "far": []}, s.strokes_s) for s in samples]
    for title, clips in (("", samples), (", nobody beyond the net", alone)):
        print(f"rendered play, tune split{title}")
        print_figures(clips, [_strokes(network, sample) for sample in clips])


def judge_real(
    judged: Sequence[Rally], others: Sequence[Rally], rendered: Sequence[Sample]
) -> None:
    """Print the figures of real rallies, each judged by a network that did not learn from it.

    Of several ways to part them; the other rallies are only learned from.
    """
    print(f"real rallies, in {PARTS} parts, each judged by networks that did not learn from it")
    for partition in range(PARTITIONS):
        order = np.random.default_rng(partition).permutation(len(judged)).tolist()
        found = {}
        for part in range(PARTS):
            mine = order[part::PARTS]
            rest = [judged[number] for number in order if number not in mine]
            network = fit([*rest, *others], rendered)
            found |= {number: _strokes(network, judged[number][0]) for number in mine}
        print_figures([judged[number][0] for number in found], list(found.values()))


def fit(rallies: Sequence[Rally], rendered: Sequence[Sample]) -> StrokeNetwork:
    """Fit a network to real rallies and to rendered play, half of what it is shown each."""
    import torch

    real, made = _rows([s for rally in rallies for s in rally]), _rows(rendered)
    usual = np.concatenate([_rows([rally[0] for rally in rallies])[0], made[0]])
    low, centre, high = np.nanpercentile(usual, (16, 50, 84), axis=0)
    spread = (high - low) / 2 + 1e-3
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    groups = [
        (
            torch.from_numpy(scale_inputs(rows, centre, spread).astype(np.float32)).to(device),
            torch.from_numpy(targets).to(device),
        )
        for rows, targets in (real, made)
    ]
    layers = [_fit_one(groups, seed) for seed in range(NETWORKS)]
    return StrokeNetwork(centre, spread, tuple(layers))


def _fit_one(
    groups: Sequence[tuple[Any, Any]], seed: int
) -> tuple[tuple[FloatArray, FloatArray], ...]:
    """Weights (inputs, outputs) and biases of each layer; every group is drawn from alike."""
    import torch
    from torch import nn

    torch.manual_seed(seed)
    device = groups[0][0].device
    hidden = nn.Linear(groups[0][0].shape[1], HIDDEN_UNITS)
    last = nn.Linear(HIDDEN_UNITS, 3)
    reader = nn.Sequential(nn.Dropout(DROPPED), hidden, nn.ReLU(), last).to(device)
    optimiser = torch.optim.AdamW(
        [
            {"params": [hidden.weight, last.weight], "weight_decay": WEIGHT_DECAY},
            {"params": [hidden.bias, last.bias], "weight_decay": 0.0},
        ],
        lr=LEARNING_RATE,
    )
    steps = DRAWN // BATCH
    pace = torch.optim.lr_scheduler.OneCycleLR(optimiser, LEARNING_RATE, total_steps=steps)
    share = BATCH // len(groups)
    for _ in range(steps):
        drawn = [torch.randint(len(targets), (share,), device=device) for _, targets in groups]
        inputs, targets = (
            torch.cat([group[part][rows] for group, rows in zip(groups, drawn, strict=True)])
            for part in (0, 1)
        )
        optimiser.zero_grad()
        nn.functional.cross_entropy(reader(inputs), targets).backward()
        optimiser.step()
        pace.step()
    return tuple(
        (
            layer.weight.detach().cpu().numpy().T.astype(float),
            layer.bias.detach().cpu().numpy().astype(float),
        )
        for layer in (hidden, last)
    )


def save(network: StrokeNetwork, folder: Path) -> None:
    """Write a network into a file, and the JSON with its checksum beside it."""
    arrays: dict[str, Any] = {
        "networks": len(network.layers),
        "layers": len(network.layers[0]),
        "centre": network.centre.astype(np.float32),
        "spread": network.spread.astype(np.float32),
    }
    for number, layers in enumerate(network.layers):
        for layer, (weights, biases) in enumerate(layers):
            arrays[f"weights_{number}_{layer}"] = weights.astype(np.float32)
            arrays[f"biases_{number}_{layer}"] = biases.astype(np.float32)
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


def _rows(samples: Sequence[Sample]) -> Rows:
    """Windows (n, inputs) and what they show (n,): nothing, an own stroke, one of the others."""
    windows, targets = [], []
    for sample in samples:
        for half in HALVES:
            (other,) = (known for known in HALVES if known != half)
            target = np.zeros(len(sample.times), int)
            for kind, strokes in ((2, sample.strokes_s[other]), (1, sample.strokes_s[half])):
                apart = np.abs(sample.times[:, None] - strokes[None])
                target[(apart <= CONTACT_S).any(axis=1)] = kind
            for motion in sample.motions[half]:
                seen = np.isfinite(motion[:, 0])
                windows.append(stack_windows(motion)[seen].astype(np.float32))
                targets.append(target[seen])
    return np.concatenate(windows), np.concatenate(targets)


def _strokes(network: StrokeNetwork, sample: Sample) -> dict[str, FloatArray]:
    """Strokes found of each half, without sound, seconds."""
    evidence = gather_evidence(network, sample.times, sample.motions, np.empty(0))
    sequence = likeliest_sequence(evidence.times, evidence.total)
    return {
        half: np.array([c.time_s for c in sequence if HALVES[c.side] == half]) for half in HALVES
    }
