"""Damaged inputs as the tool meets them: clips, courts, rosters, kept files and names."""

import json
import random
import shutil
from pathlib import Path

from tests.evaluation.faults import damage
from tests.evaluation.faults.steps import run_command
from tests.paths import SAMPLE_CLIPS

COURT = SAMPLE_CLIPS / "rear_corner_rally.court.json"


def try_clip(draw: random.Random, place: Path, base: Path) -> None:
    """Analyse a damaged clip."""
    clip = place / "clip.mp4"
    clip.write_bytes(damage.flip_bytes(draw, (base / "short.mp4").read_bytes()))
    _analyse(clip, place / "out")


def try_gaps(draw: random.Random, place: Path, base: Path) -> None:
    """Analyse a clip in which pictures are missing."""
    damage.drop_pictures(draw, base / "short.mp4", place / "clip.mp4")
    _analyse(place / "clip.mp4", place / "out")


def try_court(draw: random.Random, place: Path, base: Path) -> None:
    """Read and calibrate a damaged court file."""
    from stance.court.calibration import calibrate
    from stance.court.court_file import read_court_file

    file = place / "x.court.json"
    content = json.loads(COURT.read_text())
    if draw.random() < 0.5:
        content["points"] = damage.misplace_marks(draw, content["points"])
        text = json.dumps(content)
    else:
        content["points"] = draw.sample(content["points"], 6)
        text = damage.change_json(draw, json.dumps(content))
    file.write_text(text, encoding="utf-8", errors="surrogatepass")
    calibrate(read_court_file(file))


def try_roster(draw: random.Random, place: Path, base: Path) -> None:
    """Read a damaged roster."""
    from stance.academy.roster import read_roster

    (place / "a.mp4").touch()
    text = (
        "player,clip,court,hand,age_group,date,session,letter\n"
        "J-07,a.mp4,,right,U13,2026-03-09,week 3,A\n"
        "J-08,a.mp4,,left,U13,2026-03-09,week 3,B\n"
    )
    (place / "roster.csv").write_bytes(damage.change_roster(draw, text))
    read_roster(place / "roster.csv")


def try_kept(draw: random.Random, place: Path, base: Path) -> None:
    """List and compare a folder in which one kept file is damaged; the rest must be listed."""
    from stance.academy.result_store import Store
    from stance.watching.pose_cache import read_poses

    folder = place / "results"
    shutil.copytree(base / "results", folder)
    file = draw.choice(sorted(path for path in folder.rglob("*") if path.is_file()))
    if file.suffix == ".json" and draw.random() < 0.7:
        text = damage.change_json(draw, file.read_text(encoding="utf-8"))
        file.write_text(text, encoding="utf-8", errors="surrogatepass")
    else:
        file.write_bytes(damage.flip_bytes(draw, file.read_bytes()))
    run_command("history", folder)
    run_command("compare", "--history", folder, "--split", "2026-02-15", "--out", place / "out")
    store = Store(folder)
    store.measure_seconds_per_frame()
    store.read_known_clips()
    read_poses(folder / "poses.npz", "key")


def try_name(draw: random.Random, place: Path, base: Path) -> None:
    """Label, write and list a result with a nasty name and session."""
    from dataclasses import replace

    from stance.academy.writing import write_screening
    from stance.assessment.labels import label_result
    from stance.results.json_format import read_result
    from stance.results.writing import write_result
    from tests.unit.academy.invented_academy import screen_invented

    name, session = damage.draw_name(draw), damage.draw_name(draw)
    result = read_result(base / "results" / "J-1_2026-01-10")
    result = replace(result, date="2026-01-10")
    write_result(label_result(result, {"A": name}, result.date, session), place / "out")
    run_command("history", place, "--json")
    run_command("history", place, "--player", name)
    run_command("forget", place, "--player", name, "--yes")
    from stance.runtime.plain_text import clean_name

    if clean_name(name):
        write_screening(screen_invented({clean_name(name): [(2, 5, "")]}), place / "out")


def _analyse(clip: Path, out: Path) -> None:
    from stance.analysis import analyse
    from stance.reports.writing import write_analysis

    write_analysis(analyse(clip), clip, out, overlay=True)
