"""Squares around hands of rendered players, and a small network that tells which holds a racket.

`python -m tests.training hands --split train --count N FOLDER` renders some frames of N drill
clips each, looks for the defenders with the pose model and keeps the squares around their hands.
`python -m tests.training rackets FOLDER OUT` trains the network on the train split and prints how
often it is right on the tune split.
"""

import json
import multiprocessing
import time
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from stance.measures.racket import CHECKSUM_FILE, NETWORK_FILE, PATCH_PIXELS, hand_patches
from stance.people.landmarker import Landmarker
from stance.people.landmarks import LEFT_HIP, RIGHT_HIP, Box, Pose, box_around
from tests.evaluation.pair_accuracy import NEAR
from tests.rendering.clips import Bystander, Clip, draw_clip
from tests.rendering.frames import as_coded, frames
from tests.rendering.pairs import draw_pair_clip
from tests.rendering.players import pose_player

if TYPE_CHECKING:
    import torch

SEED = 20261126
READY_FRAMES, OTHER_FRAMES = 6, 3


def _chosen(rng: np.random.Generator, clip: Clip) -> list[int]:
    """Numbers of frames: most while the player waits, since these are observed closely."""
    times = clip.frame_times
    waits = np.zeros(len(times), bool)
    for spell in clip.drill.spells:
        waits |= (times >= spell.start_s) & (times < spell.end_s)
    ready, other = np.flatnonzero(waits), np.flatnonzero(~waits)
    return sorted(
        {
            *rng.choice(ready, min(READY_FRAMES, len(ready)), replace=False).tolist(),
            *rng.choice(other, min(OTHER_FRAMES, len(other)), replace=False).tolist(),
        }
    )


def _seen(
    landmarker: Landmarker,
    image: np.ndarray,
    clip: Clip,
    member: Bystander,
    time_s: float,
    rng: np.random.Generator,
) -> Pose | None:
    """A defender's pose as the pose model sees it, in about the square that is observed."""
    joints = pose_player(member.player, member.drill.posture(time_s)).joints
    pixels = clip.camera.project(joints)[:, :2]
    box = box_around(pixels)
    box = Box(
        *(np.array([box.x, box.y]) + rng.normal(0, 0.04, 2) * box.side),
        box.side * rng.uniform(0.95, 1.2),
    )
    height = float(np.ptp(pixels[:, 1]))
    near = [
        pose
        for pose in landmarker.detect_all(image, box)
        if np.linalg.norm(pose.pixels[[LEFT_HIP, RIGHT_HIP]].mean(axis=0) - pixels.mean(axis=0))
        < NEAR * height
    ]
    return near[0] if near else None


def render_squares(seed: int, split: str, folder: Path) -> None:
    """Keep the squares of one clip, a single's or a pair's, as SPLIT_SEED.npz."""
    path = folder / f"{split}_{seed:05d}.npz"
    if path.exists():
        return
    rng = np.random.default_rng([SEED, seed])
    clip = draw_pair_clip(seed, split) if seed % 2 else draw_clip(seed, split)
    patches, right = [], []
    with Landmarker("full", people=3) as landmarker:
        for number in _chosen(rng, clip):
            image = as_coded(next(frames(clip, range(number, number + 1))), clip.finish)
            for member in clip.defenders:
                pose = _seen(landmarker, image, clip, member, clip.frame_times[number], rng)
                if pose is not None:
                    patches.append(hand_patches(image, pose))
                    right.append(member.player.hand == "right")
    np.savez(
        path,
        patches=np.array(patches).reshape(-1, 2, PATCH_PIXELS, PATCH_PIXELS, 3),
        right=np.array(right, bool),
    )


def render_all_squares(
    split: str, first: int, count: int, workers: int, seconds: float, folder: Path
) -> None:
    """Keep the squares of many clips; stops when the time is up."""
    folder.mkdir(parents=True, exist_ok=True)
    start = time.monotonic()
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        done = 0
        for _ in pool.imap_unordered(
            partial(render_squares, split=split, folder=folder), range(first, first + count)
        ):
            done += 1
            if time.monotonic() - start > seconds:
                pool.terminate()
                break
    print(f"{split}: {done} clips in {time.monotonic() - start:.0f} s", flush=True)


def load(split: str, folder: Path) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Squares (n, 2, 96, 96, 3), whether the right hand holds the racket (n,), clip (n,)."""
    patches, right, clips = [], [], []
    for number, path in enumerate(sorted(folder.glob(f"{split}_*.npz"))):
        with np.load(path) as squares:
            patches.append(squares["patches"])
            right.append(squares["right"])
            clips.append(np.full(len(squares["right"]), number))
    return np.concatenate(patches), np.concatenate(right), np.concatenate(clips)


def network() -> "torch.nn.Module":
    """The network: from squares (n, 3, 96, 96) in 0..1 to (n, 1) how much a hand holds a racket."""
    from torch import nn

    def layer(given: int, made: int, stride: int) -> list[nn.Module]:
        return [nn.Conv2d(given, made, 3, stride, 1), nn.BatchNorm2d(made), nn.ReLU()]

    return nn.Sequential(
        *layer(3, 32, 2),
        *layer(32, 48, 1),
        *layer(48, 64, 2),
        *layer(64, 64, 1),
        *layer(64, 96, 2),
        *layer(96, 96, 1),
        *layer(96, 128, 2),
        *layer(128, 128, 1),
        nn.Dropout(0.3),
        nn.Flatten(),
        nn.Linear(128 * 36, 96),
        nn.ReLU(),
        nn.Dropout(0.3),
        nn.Linear(96, 1),
    )


def _varied(pictures: "torch.Tensor") -> "torch.Tensor":
    """Squares (n, 2, 3, 96, 96) in 0..1 with changed place, light, colour, sharpness and noise."""
    import torch
    from torch.nn import functional as F

    n, device = len(pictures), pictures.device

    def drawn(*shape: int) -> torch.Tensor:
        return torch.rand(*shape, device=device)

    flat = pictures.reshape(2 * n, *pictures.shape[2:])
    mirrored = torch.where(drawn(n) < 0.5, 1.0, -1.0).repeat_interleave(2)
    angle = 0.5 * (drawn(2 * n) - 0.5)
    zoom = torch.exp(0.5 * (drawn(n) - 0.5)).repeat_interleave(2)
    turn = torch.stack(
        [
            torch.stack(
                [
                    torch.cos(angle) * zoom * mirrored,
                    -torch.sin(angle) * zoom,
                    0.2 * (drawn(2 * n) - 0.5),
                ],
                1,
            ),
            torch.stack(
                [
                    torch.sin(angle) * zoom * mirrored,
                    torch.cos(angle) * zoom,
                    0.2 * (drawn(2 * n) - 0.5),
                ],
                1,
            ),
        ],
        1,
    )
    flat = F.grid_sample(
        flat,
        F.affine_grid(turn, list(flat.shape), align_corners=False),
        padding_mode="border",
        align_corners=False,
    )
    gain = torch.exp(0.8 * (drawn(n, 1, 1, 1) - 0.5)) * (1 + 0.3 * (drawn(n, 3, 1, 1) - 0.5))
    shift = 0.2 * (drawn(n, 3, 1, 1) - 0.5)
    flat = flat * gain.repeat_interleave(2, 0) + shift.repeat_interleave(2, 0)
    small = F.interpolate(F.avg_pool2d(flat, 2), scale_factor=2.0, mode="bilinear")
    blurred = (drawn(n, 1, 1, 1) < 0.3).repeat_interleave(2, 0)
    flat = torch.where(blurred, small, flat)
    flat = flat + 0.05 * drawn(n, 1, 1, 1).repeat_interleave(2, 0) * torch.randn_like(flat)
    return flat.clamp(0, 1).reshape(pictures.shape)


def _odds(model: "torch.nn.Module", pictures: "torch.Tensor") -> "torch.Tensor":
    """Logarithm of the odds for the right hand, (n,), of squares (n, 2, 3, 96, 96)."""
    logits = model(pictures.flatten(0, 1)).reshape(-1, 2)
    return logits[:, 1] - logits[:, 0]


def train(folder: Path, out: Path, seconds: float) -> None:
    """Train the network, print its worth and write it as ONNX with its checksum."""
    import torch
    from torch.nn import functional as F

    torch.manual_seed(SEED)
    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")

    def loaded(split: str) -> tuple[torch.Tensor, torch.Tensor, np.ndarray]:
        patches, right, clips = load(split, folder)
        return (
            torch.from_numpy(patches).permute(0, 1, 4, 2, 3).contiguous().to(device),
            torch.from_numpy(right).float().to(device),
            clips,
        )

    patches, right, _ = loaded("train")
    held_patches, held_right, held_clips = loaded("tune")
    model = network().to(device)
    print(
        f"{len(right)} train squares, {len(held_right)} tune squares, "
        f"{sum(p.numel() for p in model.parameters())} weights",
        flush=True,
    )
    optimiser = torch.optim.AdamW(model.parameters(), 2e-3, weight_decay=0.02)
    start, step = time.monotonic(), 0
    while (share := (time.monotonic() - start) / seconds) < 1.0:
        for group in optimiser.param_groups:
            group["lr"] = 2e-3 * min(1.0, (step + 1) / 200) * 0.5 * (1 + np.cos(np.pi * share))
        some = torch.randint(len(right), (256,), device=device)
        pictures = _varied(patches[some].float() / 255.0)
        loss = F.binary_cross_entropy_with_logits(_odds(model, pictures), 0.02 + 0.96 * right[some])
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        step += 1
        if step % 500 == 0:
            print(
                f"{time.monotonic() - start:.0f} s, step {step}: loss {loss.item():.3f}, "
                + _worth(model, held_patches, held_right, held_clips),
                flush=True,
            )
    out.mkdir(parents=True, exist_ok=True)
    model.eval().cpu()
    torch.onnx.export(
        model,
        (torch.zeros(2, 3, PATCH_PIXELS, PATCH_PIXELS),),
        str(out / NETWORK_FILE),
        opset_version=17,
        input_names=["squares"],
        output_names=["racket"],
        dynamo=False,
    )
    digest = sha256((out / NETWORK_FILE).read_bytes()).hexdigest()
    (out / CHECKSUM_FILE).write_text(json.dumps({"network_sha256": digest}, indent=1) + "\n")


def _worth(model: Any, patches: Any, right: Any, clips: np.ndarray) -> str:
    """How often single squares and whole clips are right, and what the odds are worth."""
    import torch

    model.eval()
    with torch.no_grad():
        odds = torch.cat([_odds(model, some.float() / 255.0) for some in patches.split(512)])
    model.train()
    odds, true = odds.cpu().numpy(), right.cpu().numpy() > 0.5
    groups = [clips * 2 + true == g for g in np.unique(clips * 2 + true)]
    whole = [(odds[g].mean() > 0) == true[g][0] for g in groups]
    loss = np.logaddexp(0, np.where(true, -odds, odds)).mean()
    return (
        f"tune loss {loss:.3f}, right {np.mean((odds > 0) == true):.1%}, "
        f"clips {np.mean(whole):.1%} of {len(whole)}"
    )
