"""How fast a screening is: `python -m tests.evaluation.screening_speed kept|workers|kills`.

`kept`     200 clips whose results are kept, screened in a process of its own.
`workers`  copies of the sample clip with one worker on one core and with two on two.
`kills`    screenings killed at random moments until they end; their reports must be the same
           bytes as those of one that was left in peace.
"""

import argparse
import itertools
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

from stance.academy.batch import LOADING_S, plan_jobs
from stance.academy.remote_files import find_version
from stance.academy.result_store import KnownClip, Store, make_key, name_clip
from stance.academy.roster import read_roster
from stance.reports.clip import report_html
from stance.results.csv_format import positions_csv
from stance.results.json_format import result_text
from stance.results.model import PlayerResult
from stance.runtime.regular_files import hash_file
from stance.statistics.shares import class_shares
from stance.statistics.statement import plain_statement
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter
from tests.paths import DATA, ROOT
from tests.unit.invented import draw_tendencies, drawn_position
from tests.unit.results.invented import invented_result

SAMPLE = DATA / "rear_corner_drill.mp4"


def tiny_clip(path: Path, number: int, frames: int = 3) -> None:
    """A clip of an empty hall, unlike that of any other number."""
    picture = np.full((120, 160, 3), 90, np.uint8)
    picture[60:] = (60, 120, 70)
    for bit in range(16):
        picture[:8, 8 * bit : 8 * bit + 8] = 255 * (number >> bit & 1)
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
            replace(
                drawn_position(source, bool(source.random() < tendency), shared, False),
                start_s=3.0 * i,
                end_s=3.0 * i + 1.0,
            )
            for i in range(15)
        )
        player_result = PlayerResult(
            "A", "near", "right", "seen", positions, class_shares(positions), 900
        )
        result = invented_result(player_result)
        result = replace(
            result,
            clip=replace(result.clip, file=clip.name, sha256=hash_file(clip)),
            warnings=(),
            statement=plain_statement(player_result),
        )
        store.save(
            make_key(hash_file(clip), None, None, blur_faces=True),
            {
                "result.json": result_text(result).encode(),
                "positions.csv": positions_csv(result).encode(),
                "report.html": report_html(result, {}, overlay=False).encode(),
            },
            60.0,
        )
        known[name_clip(str(clip))] = KnownClip(hash_file(clip), find_version(str(clip)))
        group = f"U{11 + 2 * (player % 4)}"
        lines.append(f"J-{player:03d},{clip.name},{group},2026-03-{1 + 7 * day:02d}")
    store.write_known_clips(known)
    roster = folder / "roster.csv"
    roster.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return roster


def command(roster: Path, out: Path, *options: str) -> list[str]:
    """The command line of a screening."""
    return [sys.executable, "-m", "stance", "screen", str(roster), "--out", str(out), *options]


def screened(roster: Path, out: Path, *options: str, cores: int | None = None) -> float:
    """Screen in a process of its own, on all cores or on the first few; returns seconds."""
    every = os.sched_getaffinity(0)
    # A child runs where its parent may.
    os.sched_setaffinity(0, sorted(every)[:cores])
    begun = time.monotonic()
    try:
        subprocess.run(command(roster, out, *options), check=True, cwd=ROOT, capture_output=True)
    finally:
        os.sched_setaffinity(0, every)
    return time.monotonic() - begun


def reports(folder: Path) -> dict[str, bytes]:
    """All that a screening reports, by name; what was kept for speed is left out."""
    return {
        str(p.relative_to(folder)): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name not in ("took.json", "clips.json")
    }


def excerpt(path: Path, frames: int) -> None:
    """The first frames of the sample clip."""
    with VideoWriter(path, (1280, 720), 30.0) as writer:
        for frame in itertools.islice(read_frames(SAMPLE), frames):
            writer.write(frame.image, frame.time_s)


def small_academy(folder: Path, clip: Path, copies: int, empty: int) -> Path:
    """A roster of copies of a clip of the sample's court, tiny clips without a player and a
    broken one.
    """
    shutil.copy(SAMPLE.with_suffix(".court.json"), folder / "court.json")
    lines = ["player,clip,court,hand"]
    for number in range(copies):
        copy = folder / f"copy_{number}.mp4"
        # A free box at the end makes other content of the same video (ISO/IEC 14496-12, 8.1.2).
        copy.write_bytes(
            clip.read_bytes() + (12).to_bytes(4, "big") + b"free" + number.to_bytes(4, "big")
        )
        lines.append(f"P-{number},{copy.name},court.json,right")
    for number in range(empty):
        tiny_clip(folder / f"empty_{number}.mp4", number)
        lines.append(f"Q-{number},empty_{number}.mp4,,")
    (folder / "broken.mp4").write_bytes(b"no video" * 100)
    lines.append("Q-0,broken.mp4,,")
    roster = folder / "roster.csv"
    roster.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return roster


def killed_until_done(
    roster: Path,
    out: Path,
    kills: int,
    source: random.Random,
    longest_s: float,
) -> tuple[int, int]:
    """Kill a screening at random moments until it ends before its moment, or let it end then.

    Parameters
    ----------
    roster, out : of the screening
    kills : how often it is killed at most
    source : of the moments, from half a second on
    longest_s : the latest of them

    Returns
    -------
    how often it was killed, and how many kept results a kill took away
    """
    store, lost = Store(out / "kept"), 0
    for killed in range(kills):
        before = store.list_keys()
        run = subprocess.Popen(
            command(roster, out, "--workers", "2"),
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        try:
            assert run.wait(source.uniform(0.5, longest_s)) == 0
            return killed, lost
        except subprocess.TimeoutExpired:
            os.killpg(run.pid, signal.SIGKILL)
            run.wait()
        lost += len(before - store.list_keys())
    screened(roster, out, "--workers", "2")
    return kills, lost


def print_kept(folder: Path, clips: int) -> None:
    """Print how long clips with kept results take."""
    roster = invented_academy(folder, clips)
    seconds = screened(roster, folder / "screening")
    print(f"{clips} clips with kept results screened in {seconds:.1f} s")


def busy_s() -> tuple[float, float]:
    """Seconds that all programs and that this one's children have spent on the cores so far."""
    user, nice, system = map(int, Path("/proc/stat").read_text().split(maxsplit=4)[1:4])
    own = os.times()
    return (user + nice + system) / os.sysconf("SC_CLK_TCK"), (
        own.children_user + own.children_system
    )


def print_scaling(folder: Path, clips: int) -> None:
    """Print how much faster two workers on two cores are than one worker on one."""
    roster = small_academy(folder, SAMPLE, clips, 0)
    marks = [busy_s()]
    one = screened(roster, folder / "one", "--workers", "1", cores=1)
    marks.append(busy_s())
    two = screened(roster, folder / "two", "--workers", "2", cores=2)
    marks.append(busy_s())
    for title, before, after in zip(("one worker", "two"), marks, marks[1:], strict=False):
        every, own = (b - a for a, b in zip(before, after, strict=True))
        print(f"{title}: {own:.1f} s of the cores, other programs {every - own:.1f} s meanwhile")
    same = reports(folder / "one") == reports(folder / "two")
    before, after = (
        plan_jobs([row.job for row in read_roster(roster).rows], Store(folder / name))
        for name in ("none", "two/kept")
    )
    measured = replace(before, seconds_per_frame=after.seconds_per_frame)
    loading = two - (measured.estimate_seconds(2) - LOADING_S)
    print(
        f"a worker took {measured.seconds_per_frame:.3f} s a frame and {loading:.1f} s to load; a "
        f"dry run predicts {measured.estimate_seconds(2):.0f} s for these clips, "
        f"{before.estimate_seconds(2):.0f} s "
        "before any is kept"
    )
    print(
        f"{clips} clips: one worker on one core {one:.1f} s, two on two {two:.1f} s: "
        f"{one / two:.2f} times as fast; reports the same: {same}"
    )


def print_kills(folder: Path, kills: int) -> None:
    """Print whether a screening that is killed again and again loses anything."""
    excerpt(folder / "excerpt.mp4", 70)
    roster = small_academy(folder, folder / "excerpt.mp4", 5, 3)
    whole = screened(roster, folder / "whole", "--workers", "2")
    expected, source = reports(folder / "whole"), random.Random(1)
    killed = lost = screenings = same = 0
    while killed < kills:
        out = folder / f"killed_{screenings}"
        times, gone = killed_until_done(roster, out, kills - killed, source, whole)
        killed, lost, screenings = killed + times, lost + gone, screenings + 1
        found = reports(out)
        same += found == expected
        unlike = [name for name in expected | found if expected.get(name) != found.get(name)]
        print(
            f"screening {screenings}: killed {times} times, then done; {len(unlike)} of "
            f"{len(expected)} files differ {' '.join(unlike)}",
            flush=True,
        )
    print(
        f"killed {killed} times within {whole:.0f} s, over {screenings} screenings: {lost} kept "
        f"results lost, reports the same bytes in {same} of {screenings}"
    )


def main() -> None:
    """Run as a command."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.screening_speed", description=__doc__.split("\n\n")[0]
    )
    parser.add_argument("what", choices=("kept", "workers", "kills"))
    parser.add_argument("--clips", type=int, help="200 kept, 10 for the workers")
    parser.add_argument("--kills", type=int, default=20)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if arguments.what == "kept":
            print_kept(folder, arguments.clips or 200)
        elif arguments.what == "workers":
            print_scaling(folder, arguments.clips or 10)
        else:
            print_kills(folder, arguments.kills)


if __name__ == "__main__":
    main()
