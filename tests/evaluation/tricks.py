"""What each trick of `stance.runtime` gains: the tool with and without it, in pairs of runs.

A child process that is to do without a trick loads `switch_off` before anything of the tool, by a
`sitecustomize` module (https://docs.python.org/3/library/site.html), and puts a plain function in
the trick's place. So this module loads nothing of the tool by itself.
"""

import importlib
import os
import tempfile
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from tests.evaluation.costs import Cost, report_folder, run_analysis, run_timed
from tests.evaluation.pairs import pair_lines, run_pairs, table_head
from tests.paths import ROOT

RICH_SECONDS = 20


def do_nothing(*arguments: object) -> None:
    """Take the place of a function that only changes settings."""


def within_nothing(*arguments: object) -> nullcontext[None]:
    """Take the place of a context that only changes settings."""
    return nullcontext()


@dataclass(frozen=True)
class Trick:
    """A public function or class of the tool, the plain one in its place, and where it shows."""

    module: str
    name: str
    plain: Callable[..., Any]
    shows_in: str


TRICKS = {
    "malloc arenas": Trick("stance.runtime.malloc", "limit_malloc_arenas", do_nothing, "rich"),
    "modules left out": Trick(
        "stance.runtime.native_libraries", "modules_left_out", within_nothing, "short"
    ),
    "thread priority": Trick("stance.runtime.cores", "lower_thread_priority", do_nothing, "rich"),
    "one thread for libraries": Trick(
        "stance.runtime.cores", "single_threaded_libraries", within_nothing, "rich"
    ),
    # 0 is the decoder's own choice.
    "decoding threads": Trick("stance.video.decoding", "decoding_threads", lambda cores: 0, "rich"),
    "templates compiled once": Trick(
        "stance.runtime.template_cache", "template_cache", do_nothing, "again"
    ),
    "a core for each worker": Trick(
        "stance.academy.worker", "keep_to_a_core", do_nothing, "screening"
    ),
}


def switch_off(trick: str) -> None:
    """Put the plain way in a trick's place, in this process."""
    chosen = TRICKS[trick]
    owner: Any = importlib.import_module(chosen.module)
    # Fails where the trick has gone or is called otherwise.
    getattr(owner, chosen.name)
    setattr(owner, chosen.name, chosen.plain)


def print_tricks(folder: Path) -> None:
    """Print what the tool costs with and without each trick, where the trick should show.

    In an analysis of a film rich in detail at 1080p60 or of the sample clip, in its second run, or
    in a screening of two clips by two workers.
    """
    from tests.evaluation.films import copy_sample, make_film

    sample = copy_sample(folder)
    rich = make_film(folder, 1, RICH_SECONDS)
    runs = {
        name: partial(run_analysis, film, report_folder(film))
        for name, film in (("rich", rich), ("short", sample))
    }
    runs["again"] = partial(run_analysis, sample, report_folder(sample), fresh=False)
    runs["screening"] = partial(_screen, _two_clips(folder, sample))
    print(table_head("with", "without"))
    for name, trick in TRICKS.items():
        with tempfile.TemporaryDirectory() as site:
            code = f"from tests.evaluation.tricks import switch_off\nswitch_off({name!r})\n"
            (Path(site) / "sitecustomize.py").write_text(code)
            run = runs[trick.shows_in]
            without = {"PYTHONPATH": os.pathsep.join((site, str(ROOT)))}
            pairs = run_pairs(run, partial(run, environment=without))
        print(pair_lines(name, pairs), flush=True)


def _two_clips(folder: Path, sample: Path) -> Path:
    """Write a roster of the sample clip twice; returns its path."""
    lines = ["player,clip,court,hand"]
    for number in (1, 2):
        copy = folder / f"sample_{number}.mp4"
        # A free box at the end makes other content of the same video (ISO/IEC 14496-12, 8.1.2).
        copy.write_bytes(sample.read_bytes() + b"\0\0\0\x0cfree" + number.to_bytes(4, "big"))
        lines.append(f"P-{number},{copy.name},{sample.stem}.court.json,right")
    roster = folder / "roster.csv"
    roster.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return roster


def _screen(roster: Path, environment: Mapping[str, str] | None = None) -> Cost:
    """Screen a roster anew, with two workers."""
    with tempfile.TemporaryDirectory() as out:
        command = ["-m", "stance", "screen", roster, "--out", out, "--workers", "2"]
        return run_timed(*command, environment=environment)
