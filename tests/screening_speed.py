"""How fast a screening is: `python -m tests.screening_speed kept|workers|kills`.

`kept`     200 clips whose results are kept, screened in a process of its own.
`workers`  copies of the sample clip analysed with one worker and with two.
`kills`    a screening killed at random moments, again and again until it ends; its reports must
           be the same bytes as those of one that was left in peace.
"""

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from stance.fetching import sha256, stamp
from stance.report import report_html
from stance.result import PlayerResult, json_text, positions_csv
from stance.shares import class_shares, plain_statement
from stance.store import Store, result_key
from stance.video import VideoWriter
from tests.coverage import draw_tendencies, drawn_position
from tests.test_result import invented_result

ROOT = Path(__file__).resolve().parent.parent
SAMPLE = ROOT / "sample_clips" / "rear_corner_drill.mp4"


def tiny_clip(path: Path, number: int, frames: int = 3) -> None:
    """A clip of an empty hall, unlike that of any other number."""
    picture = np.full((120, 160, 3), 90, np.uint8)
    picture[60:] = (60, 120, 70)
    for bit in range(16):
        picture[:8, 8 * bit:8 * bit + 8] = 255 * (number >> bit & 1)
    with VideoWriter(path, (160, 120), 30.0) as writer:
        for i in range(frames):
            writer.write(picture, i / 30.0)


def invented_academy(folder: Path, clips: int, of_each: int = 4) -> Path:
    """Tiny clips with kept results of invented players; returns the roster."""
    source = np.random.default_rng(7)
    folder.mkdir(parents=True, exist_ok=True)
    store, known = Store(folder / "screening" / "kept"), {}
    lines = ["player,clip,age_group,date"]
    for number in range(clips):
        player, day = divmod(number, of_each)
        clip = folder / f"clip_{number:04d}.mp4"
        tiny_clip(clip, number)
        share = 0.75 if player % 4 == 0 else 0.08
        tendency = draw_tendencies(source, share, 1, 0.1)[0]
        shared = tuple(source.standard_normal(2))
        positions = tuple(
            replace(drawn_position(source, bool(source.random() < tendency), shared, False),
                    start_s=3.0 * i, end_s=3.0 * i + 1.0) for i in range(15))
        one = PlayerResult("A", "near", "right", "seen", positions, class_shares(positions), 900)
        result = invented_result(one)
        result = replace(result, clip=replace(result.clip, file=clip.name, sha256=sha256(clip)),
                         warnings=(), statement=plain_statement(one))
        store.keep(result_key(sha256(clip), "", None), {
            "result.json": json_text(result).encode(),
            "positions.csv": positions_csv(result).encode(),
            "report.html": report_html(result, {}, overlay=False).encode()}, 60.0)
        known[str(clip)] = {"stamp": stamp(str(clip)), "sha256": sha256(clip)}
        group = f"U{11 + 2 * (player % 4)}"
        lines.append(f"J-{player:03d},{clip.name},{group},2026-03-{1 + 7 * day:02d}")
    store.remember_clips(known)
    roster = folder / "roster.csv"
    roster.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return roster


def command(roster: Path, out: Path, *options: str) -> list[str]:
    """The command line of a screening."""
    return [sys.executable, "-m", "stance", "screen", str(roster), "--out", str(out), *options]


def screened(roster: Path, out: Path, *options: str) -> float:
    """Screen in a process of its own; returns seconds."""
    begun = time.monotonic()
    subprocess.run(command(roster, out, *options), check=True, cwd=ROOT, capture_output=True)
    return time.monotonic() - begun


def reports(folder: Path) -> dict[str, bytes]:
    """All that a screening reports, by name; what was kept for speed is left out."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*"))
            if p.is_file() and p.name not in ("took.json", "clips.json")}


def small_academy(folder: Path, empty: int, samples: int) -> Path:
    """A roster of tiny clips without a player and copies of the sample clip."""
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(SAMPLE.with_suffix(".court.json"), folder / "court.json")
    lines = ["player,clip,court,hand"]
    for number in range(samples):
        clip = folder / f"sample_{number}.mp4"
        # A free box at the end makes other content of the same video (ISO/IEC 14496-12, 8.1.2).
        clip.write_bytes(SAMPLE.read_bytes() + (12).to_bytes(4, "big") + b"free"
                         + number.to_bytes(4, "big"))
        lines.append(f"P-{number},{clip.name},court.json,right")
    for number in range(empty):
        tiny_clip(folder / f"empty_{number}.mp4", number)
        lines.append(f"Q-{number},empty_{number}.mp4,,")
    (folder / "broken.mp4").write_bytes(b"no video" * 100)
    lines.append("Q-0,broken.mp4,,")
    roster = folder / "roster.csv"
    roster.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return roster


def killed_until_done(
    roster: Path, out: Path, kills: int, seed: int, longest_s: float,
) -> tuple[int, int]:
    """Kill a screening at random moments, then let it end.

    Returns
    -------
    how often it was killed while at work, and how many kept results a kill took away
    """
    source, done, lost = random.Random(seed), 0, 0
    store = Store(out / "kept")
    for _ in range(kills):
        before = store.names()
        run = subprocess.Popen(command(roster, out, "--workers", "2"), cwd=ROOT,
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                               start_new_session=True)
        try:
            run.wait(source.uniform(0.5, longest_s))
        except subprocess.TimeoutExpired:
            done += 1
            os.killpg(run.pid, signal.SIGKILL)
            run.wait()
        lost += len(before - store.names())
    screened(roster, out, "--workers", "2")
    return done, lost


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("what", choices=("kept", "workers", "kills"))
    parser.add_argument("--clips", type=int, help="200 kept, 4 for the workers")
    parser.add_argument("--kills", type=int, default=20)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if arguments.what == "kept":
            count = arguments.clips or 200
            roster = invented_academy(folder, count)
            seconds = screened(roster, folder / "screening")
            print(f"{count} clips with kept results screened in {seconds:.1f} s")
        elif arguments.what == "workers":
            roster = small_academy(folder, 0, arguments.clips or 4)
            one = screened(roster, folder / "one", "--workers", "1")
            two = screened(roster, folder / "two", "--workers", "2")
            same = reports(folder / "one") == reports(folder / "two")
            print(f"one worker {one:.1f} s, two {two:.1f} s: {one / two:.2f} times as fast; "
                  f"reports the same: {same}")
        else:
            roster = small_academy(folder, 8, 2)
            whole = screened(roster, folder / "whole", "--workers", "2")
            done, lost = killed_until_done(roster, folder / "killed", arguments.kills, 1, whole)
            same = reports(folder / "whole") == reports(folder / "killed")
            print(f"killed {done} times within {whole:.0f} s: {lost} kept results lost, reports "
                  f"the same: {same}")


if __name__ == "__main__":
    main()
