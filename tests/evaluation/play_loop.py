"""A loop of constant play without a seam: a stroke faced every 1.5 seconds, and no rest.

A rally of six strokes at equal distances is composed as any other; a loop takes it from before the
second stroke to before the sixth, and on the way into the last moments, in which everybody runs
anyhow, the motion becomes that of as long before the loop.
"""

import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple, dataclass, replace
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from stance.runtime.cores import usable_cores
from stance.video.writer import VideoWriter
from tests.rendering.arrays import Picture
from tests.rendering.clips import Bystander, Clip
from tests.rendering.drill import numbers_of, posture_from
from tests.rendering.frames import frames
from tests.rendering.marked_court import marked_court
from tests.rendering.play.clip import Options, draw_play, play_clip
from tests.rendering.play.rally import HOP, RALLY, Exchange, Hop, Rally
from tests.rendering.posture import Foot, Moving, Posture

SEED, SPLIT, VIEW, SIZE, RATE = 2, "tune", "behind", (1920, 1080), 60
INTERVAL_S = 1.5
LOOP_STROKES = 4
FIRST_CONTACT_S = 1.0
# Before a contact: the last step is over, and the hop not yet begun.
SEAM_BEFORE_CONTACT_S = 0.3
BLEND_S = 0.45
CHUNK = 24
CRF = 18.0


@dataclass(frozen=True)
class Loop:
    """A part of a motion, from `start_s` on, that ends as it begins."""

    motion: Moving
    start_s: float
    duration_s: float

    def posture(self, time_s: float) -> Posture:
        """The posture at a time, before the beginning and after the end too."""
        time_s %= self.duration_s
        now = self.motion.posture(self.start_s + time_s)
        share = (time_s - self.duration_s + BLEND_S) / BLEND_S
        if share <= 0.0:
            return now
        before = self.motion.posture(self.start_s + time_s - self.duration_s)
        return _blend(now, before, share * share * (3.0 - 2.0 * share))


def constant_rally(strokes: int) -> Rally:
    """A rally in which the other side strikes every `INTERVAL_S`, met with a hop each time."""
    rng = np.random.default_rng(SEED)
    exchanges = []
    for number in range(strokes):
        contact_s = FIRST_CONTACT_S + number * INTERVAL_S
        landing_s = contact_s + float(rng.uniform(0.0, 0.18))
        apart_s, air_s = float(rng.uniform(0.0, 0.06)), float(rng.uniform(0.08, 0.16))
        hop = Hop(landing_s - apart_s, landing_s, air_s, 0.05, int(rng.integers(2)))
        leave_s = landing_s + float(rng.uniform(0.18, 0.28))
        own_s = leave_s + float(rng.uniform(0.24, 0.32))
        kind, own = ("smash", "block") if number % 2 else ("drive", "drive")
        exchanges.append(Exchange(contact_s, kind, False, HOP, hop, leave_s, own_s, own))
    return Rally(RALLY, tuple(exchanges), None, FIRST_CONTACT_S + strokes * INTERVAL_S)


def render_loop(folder: Path, defenders: int) -> Path:
    """Render the loop with its court file unless it is there; returns its path."""
    path = folder / f"play_{defenders}_loop.mp4"
    if not path.exists():
        clip = looped_clip(defenders)
        part = path.with_name(f".{path.name}")
        with VideoWriter(part, SIZE, RATE, crf=CRF) as video:
            for number, image in enumerate(_pictures(defenders, len(clip.frame_times))):
                video.write(image, number / RATE)
        court = json.dumps(marked_court(clip, 0.7, SEED))
        path.with_suffix(".court.json").write_text(court + "\n", encoding="utf-8")
        part.replace(path)
    return path


@lru_cache(maxsize=1)
def looped_clip(defenders: int) -> Clip:
    """What the loop's pictures are made from, with one or two defenders and an attacker."""
    rally = constant_rally(LOOP_STROKES + 2)
    play = draw_play(SEED, SPLIT, Options(VIEW, SIZE, RATE, pair=defenders == 2, rally=rally))
    clip = play_clip(play)
    start_s = FIRST_CONTACT_S + INTERVAL_S - SEAM_BEFORE_CONTACT_S

    def looped(member: Bystander) -> Bystander:
        return replace(member, drill=Loop(member.drill, start_s, LOOP_STROKES * INTERVAL_S))

    return replace(
        clip,
        drill=looped(clip.defenders[0]).drill,
        partner=looped(clip.partner) if clip.partner else None,
        bystanders=tuple(map(looped, clip.bystanders)),
        finish=replace(clip.finish, shake_px=0.0),
    )


def _pictures(defenders: int, count: int) -> Iterator[Picture]:
    """The loop's pictures in turn, drawn on all cores."""
    chunks = [range(first, min(first + CHUNK, count)) for first in range(0, count, CHUNK)]
    with ProcessPoolExecutor(usable_cores(), get_context("spawn")) as pool:
        for drawn in pool.map(_draw_chunk, [defenders] * len(chunks), chunks):
            yield from drawn


def _draw_chunk(defenders: int, numbers: range) -> list[Picture]:
    return list(frames(looped_clip(defenders), numbers))


def _blend(first: Posture, second: Posture, share: float) -> Posture:
    """The posture a share of the way from one to another."""
    feet = []
    for one, other in (
        (first.racket_foot, second.racket_foot),
        (first.other_foot, second.other_foot),
    ):
        feet.append(
            Foot(*(np.array(astuple(one)) * (1 - share) + share * np.array(astuple(other))))
        )
    numbers = (1 - share) * numbers_of(first) + share * numbers_of(second)
    return posture_from(numbers, feet)
