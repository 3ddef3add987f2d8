"""Whether a clip's sound is told from the next court's, where only the defender is seen.

`python -m tests.evaluation.whose_sound [--count N] [--split test]` takes the defenders of N
rendered clips of play, seen with the pose model's scatter, cuts them into parts of some lengths,
and finds the strokes of each part twice: with the sound of its own rally, and with that of another
clip's rally alone, as if heard from the next court. It prints in how many parts the sound is taken
to be of the own court, and how many strokes faced are found and falsely found (0.15 s) by it.
"""

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.signal import resample_poly

from stance.court.camera import Camera
from stance.people.track import Track
from stance.strokes.find import Mover, find_strokes
from stance.types import FloatArray
from stance.video.sound import find_onsets
from tests.rendering.play.clip import Options, draw_play
from tests.rendering.play.sound import draw_sound
from tests.rendering.play.truth import play_truth
from tests.training.stroke_samples import scattered_track

LENGTHS_S = (4.0, 6.0, 10.0, np.inf)
WITHIN_S = 0.15


@dataclass(frozen=True)
class Rally:
    """A defender as seen, what is heard, and when the other side strikes, (n,) seconds each."""

    mover: Mover
    onsets_s: FloatArray
    faced_s: FloatArray


@dataclass(frozen=True)
class Outcome:
    """A part with a sound: whether it was used, strokes faced found, falsely found, and true."""

    used: bool
    found: int
    false: int
    true: int


def draw_rally(seed: int, split: str) -> Rally:
    """A random rally, the attacker out of the picture."""
    rng = np.random.default_rng([77, seed])
    play = draw_play(seed, split, Options(strokes=int(rng.integers(5, 9))))
    camera = Camera(play.camera.matrix, play.camera.rotation, play.camera.translation, (1280, 720))
    times = play.frame_times[:: max(1, round(play.frame_rate / 30.0))]
    level = float(np.exp(rng.normal(-0.2, 0.4)))
    track = scattered_track(rng, play.defender.joints(times), camera, times, level)
    strokes = play_truth(play)["strokes"]
    faced = np.array([stroke["time_s"] for stroke in strokes if stroke["side"] == "faced"])
    # Half the renderer's rate is that at which onsets are found.
    onsets_s = find_onsets(resample_poly(draw_sound(play), 1, 2))
    return Rally(Mover("near", track, camera), onsets_s, faced)


def cut(rally: Rally, start_s: float, end_s: float) -> Rally:
    """The part of a rally between two times."""
    track = rally.mover.track
    kept = (track.times >= start_s) & (track.times <= end_s)
    part = Track(
        np.arange(kept.sum()),
        track.times[kept],
        track.pixels[kept],
        track.visibility[kept],
        track.world[kept],
    )

    def inside(times: FloatArray) -> FloatArray:
        return times[(times >= start_s) & (times <= end_s)]

    mover = Mover("near", part, rally.mover.camera)
    return Rally(mover, inside(rally.onsets_s), inside(rally.faced_s))


def parts_of(rally: Rally, length_s: float) -> Iterator[Rally]:
    """Parts of a length that overlap a little; the whole where it is no longer."""
    last_s = float(rally.mover.track.times[-1])
    if length_s >= last_s:
        yield rally
        return
    for start_s in np.arange(0.0, last_s - length_s, 0.75 * length_s):
        yield cut(rally, start_s, start_s + length_s)


def judge(part: Rally, onsets_s: FloatArray) -> Outcome:
    """Find the strokes of a part by a sound."""
    found = find_strokes([part.mover], part.mover.track.times, onsets_s).strokes
    faced = np.array([stroke.time_s for stroke in found if stroke.half == "far"])
    near = np.abs(faced[:, None] - part.faced_s[None]) < WITHIN_S
    used = any("heard" in stroke.known_by for stroke in found)
    return Outcome(
        used, int(near.any(axis=0).sum()), int((~near.any(axis=1)).sum()), len(part.faced_s)
    )


def judge_parts(rally: Rally, other: Rally, length_s: float) -> list[tuple[Outcome, Outcome]]:
    """Outcomes of a rally's parts by its own sound and by another rally's."""
    return [
        (judge(part, part.onsets_s), judge(part, moved_into(part, other.onsets_s)))
        for part in parts_of(rally, length_s)
    ]


def moved_into(part: Rally, onsets_s: FloatArray) -> FloatArray:
    """Onsets of another rally, heard while a part lasts."""
    times = part.mover.track.times
    return onsets_s[(onsets_s >= times[0]) & (onsets_s <= times[-1])]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.whose_sound", description=__doc__.splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--split", default="test", choices=("train", "tune", "test"))
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    with ProcessPoolExecutor(options.workers) as pool:
        rallies = list(pool.map(partial(draw_rally, split=options.split), range(options.count)))
        rallies = [rally for rally in rallies if len(rally.faced_s)]
        others = rallies[7:] + rallies[:7]
        print("| parts | number | sound | used | strokes faced found | falsely found |")
        print("|---|---|---|---|---|---|")
        for length_s in LENGTHS_S:
            rows = pool.map(partial(judge_parts, length_s=length_s), rallies, others)
            pairs = [pair for row in rows for pair in row]
            name = f"{length_s:.0f} s" if np.isfinite(length_s) else "whole"
            for sound, outcomes in zip(("own", "another's"), zip(*pairs, strict=True), strict=True):
                print(
                    f"| {name} | {len(outcomes)} | {sound} "
                    f"| {np.mean([o.used for o in outcomes]):.0%} "
                    f"| {sum(o.found for o in outcomes)} of {sum(o.true for o in outcomes)} "
                    f"| {sum(o.false for o in outcomes)} |"
                )


if __name__ == "__main__":
    main()
