"""Kept results: what a clip gave, found again by the content of the clip and not by its name.

A kept result is a folder named by the checksum of all that the result depends on: the clip's and
the court file's content, the racket hand, and the version of the tool down to its source. It is
written under another name and takes its place whole, so a killed run leaves no half result. Beside
them `clips.json` remembers which content an unchanged file has.
"""

import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from stance.errors import InputError, OutputError
from stance.results.files import write_files
from stance.results.json_format import RESULT_FILE, json_text, read_result
from stance.results.model import Result
from stance.runtime.version import results_version
from stance.types import Hand

CLIPS_FILE = "clips.json"

TOOK_FILE = "took.json"


def result_key(clip_sha256: str, court_sha256: str, hand: Hand | None) -> str:
    """The name under which a result is kept.

    Parameters
    ----------
    clip_sha256, court_sha256 : of the files; the court's is empty where there is none
    hand : "right", "left" or None
    """
    text = json.dumps([clip_sha256, court_sha256, hand, results_version()])
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _ends_whole(file: Path) -> bool:
    """Whether a result file is there with its end; a power cut can lose it."""
    try:
        with file.open("rb") as content:
            content.seek(-2, os.SEEK_END)
            return content.read() == b"}\n"
    except OSError:
        return False


@dataclass(frozen=True)
class Store:
    """A folder of kept results."""

    folder: Path

    def place(self, key: str) -> Path:
        """The folder of a kept result."""
        return self.folder / key

    def names(self) -> frozenset[str]:
        """Names of all kept results."""
        if not self.folder.is_dir():
            return frozenset()
        return frozenset(p.name for p in self.folder.iterdir() if _ends_whole(p / RESULT_FILE))

    def read(self, key: str) -> Result | None:
        """A kept result; None where there is none or, after a power cut, none that is whole."""
        try:
            return read_result(self.place(key))
        except InputError:
            return None

    def keep(self, key: str, files: Mapping[str, bytes], seconds: float) -> None:
        """Keep the files of a result, whole or not at all.

        Parameters
        ----------
        key : `result_key`
        files : name to content
        seconds : that the analysis took, for telling how long others will

        Raises
        ------
        OutputError
            The folder can't be written to.
        """
        part = self.folder / f".{key}.{os.getpid()}.part"
        try:
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir(parents=True)
            took = json.dumps({"seconds": round(seconds, 2)}).encode()
            for name, content in {**files, TOOK_FILE: took}.items():
                (part / name).write_bytes(content)
            place = self.place(key)
            if place.exists():
                shutil.rmtree(place)
            part.rename(place)
        except OSError as problem:
            raise OutputError(
                f"The results can't be kept in {self.folder}: {problem.strerror}. Name another "
                "folder, or make room."
            ) from None
        finally:
            shutil.rmtree(part, ignore_errors=True)

    def label(self, key: str, result: Result) -> None:
        """Put names, date and session into a kept result, where they changed."""
        text = json_text(result)
        file = self.place(key) / RESULT_FILE
        if file.read_text(encoding="utf-8") != text:
            write_files(self.place(key), {RESULT_FILE: text})

    def seconds_a_frame(self) -> float | None:
        """What kept results took on average; None where nothing is kept."""
        seconds = frames = 0.0
        for key in self.names():
            result = self.read(key)
            with suppress(OSError, ValueError, KeyError):
                took = json.loads((self.place(key) / TOOK_FILE).read_text())["seconds"]
                if result is not None and took > 0:
                    seconds, frames = seconds + took, frames + result.clip.frames
        return seconds / frames if frames else None

    def known_clips(self) -> dict[str, Any]:
        """Address to stamp and checksum of clips seen before."""
        try:
            known = json.loads((self.folder / CLIPS_FILE).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return known if isinstance(known, dict) else {}

    def remember_clips(self, known: Mapping[str, Any]) -> None:
        """Write what `known_clips` reads."""
        write_files(
            self.folder,
            {CLIPS_FILE: json.dumps(known, indent=1, sort_keys=True, ensure_ascii=False) + "\n"},
        )

    def clear_parts(self) -> None:
        """Take away what a killed run left unfinished."""
        for part in self.folder.glob(".*.part"):
            shutil.rmtree(part, ignore_errors=True)
            with suppress(OSError):
                part.unlink()
