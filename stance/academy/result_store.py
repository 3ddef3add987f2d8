"""Stored results: what a clip gave, found again by the content of the clip and not by its name.

A stored result is a folder named by the checksum of all that the result depends on: the clip's and
the court file's content, the racket hand, where the phone stood, and the version of the tool down
to its source. It is written under another name and takes its place whole, so a killed run leaves no
half result. Beside them `clips.json` remembers which content an unchanged file has.
"""

import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import msgspec

from stance.errors import InputError, OutputError
from stance.results.files import write_files
from stance.results.json_format import RESULT_FILE, read_result, result_text
from stance.results.model import Result
from stance.results.schema import read_json
from stance.results.temporary import name_temporary, open_private, sweep_leftovers
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import hide_secrets
from stance.runtime.version import results_version
from stance.types import FilmedFrom, Hand

# The store's folder in a screening's or comparison's own.
STORE_FOLDER = "kept"

# No analysis took longer; a damaged file can say so.
_LONGEST_S = 1e7

CLIPS_FILE = "clips.json"

DURATION_FILE = "took.json"


@dataclass(frozen=True)
class KnownClip:
    """What a clip at an address held when it was last read: its version and its content."""

    sha256: str
    stamp: str | None


@dataclass(frozen=True)
class _Duration:
    """How long an analysis took."""

    seconds: float


def make_key(
    clip_sha256: str,
    court_sha256: str | None,
    hand: Hand | None,
    filmed_from: FilmedFrom | None = None,
    blur_faces: bool = False,
) -> str:
    """The name under which a result is stored, 32 hexadecimal digits.

    Parameters
    ----------
    clip_sha256, court_sha256
        of the files; the court's is None where there is none
    hand
        "right", "left" or None
    filmed_from
        where the phone stood; None where nobody says
    blur_faces
        whether no face can be known in its pictures
    """
    parts = [clip_sha256, court_sha256 or "", hand, filmed_from, blur_faces, results_version()]
    text = json.dumps(parts)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def name_clip(address: str) -> str:
    """What a clip is called in `clips.json`: neither folders nor names of players can be read."""
    return hashlib.sha256(hide_secrets(address).encode(errors="surrogateescape")).hexdigest()[:32]


@dataclass(frozen=True)
class Store:
    """A folder of stored results."""

    folder: Path

    def folder_of(self, key: str) -> Path:
        """The folder of a stored result."""
        return self.folder / key

    def list_keys(self) -> frozenset[str]:
        """Keys of all stored results."""
        if not self.folder.is_dir():
            return frozenset()
        return frozenset(p.name for p in self.folder.iterdir() if _is_whole(p / RESULT_FILE))

    def read(self, key: str) -> Result | None:
        """A stored result; None where there is none or, after a power cut, none that is whole."""
        try:
            return read_result(self.folder_of(key))
        except InputError:
            return None

    def save(self, key: str, files: Mapping[str, bytes], seconds: float) -> None:
        """Store the files of a result, whole or not at all.

        Parameters
        ----------
        key
            `make_key`
        files
            name to content
        seconds
            that the analysis took, for telling how long others will

        Raises
        ------
        OutputError
            The folder can't be written to.
        """
        part = self.folder / name_temporary(key)
        try:
            shutil.rmtree(part, ignore_errors=True)
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            part.mkdir(mode=0o700)
            duration = msgspec.json.encode(_Duration(round(seconds, 2)))
            for name, content in {**files, DURATION_FILE: duration}.items():
                with open_private(part / name) as file:
                    file.write(content)
            self._put(part, key)
        except OSError as problem:
            raise OutputError(
                _(
                    "The results can't be kept in {folder}: {reason}. Name another folder, or "
                    "make room."
                ).format(folder=self.folder, reason=problem.strerror)
            ) from None
        finally:
            shutil.rmtree(part, ignore_errors=True)

    def _put(self, part: Path, key: str) -> None:
        """Give a written result its place, unless another run on the same folder was faster."""
        place = self.folder_of(key)
        try:
            part.rename(place)
        except OSError:
            if self.read(key) is not None:
                return
            # What is there is damaged.
            damaged = self.folder / name_temporary(f"{key}-damaged")
            with suppress(FileNotFoundError):
                place.rename(damaged)
            part.rename(place)
            shutil.rmtree(damaged, ignore_errors=True)

    def relabel(self, key: str, result: Result) -> None:
        """Put names, date and session into a stored result, where they changed."""
        text = result_text(result)
        file = self.folder_of(key) / RESULT_FILE
        if file.read_text(encoding="utf-8") != text:
            write_files(self.folder_of(key), {RESULT_FILE: text})

    def measure_seconds_per_frame(self) -> float | None:
        """What stored results took on average, seconds a frame; None where nothing is stored."""
        seconds = frames = 0.0
        for key in self.list_keys():
            result = self.read(key)
            with suppress(InputError):
                file = self.folder_of(key) / DURATION_FILE
                duration = read_json(file, _Duration, _("duration"))
                if result is not None and 0 < duration.seconds < _LONGEST_S:
                    seconds, frames = seconds + duration.seconds, frames + result.clip.frames
        return seconds / frames if frames else None

    def read_known_clips(self) -> dict[str, KnownClip]:
        """Clips seen before, by `name_clip`; empty where the file is missing or damaged."""
        try:
            return read_json(self.folder / CLIPS_FILE, dict[str, KnownClip], _("list of clips"))
        except InputError:
            return {}

    def write_known_clips(self, known: Mapping[str, KnownClip]) -> None:
        """Write what `read_known_clips` reads."""
        text = msgspec.json.format(msgspec.json.encode(known, order="sorted"), indent=1)
        write_files(self.folder, {CLIPS_FILE: text.decode() + "\n"})

    def remove_unfinished(self) -> None:
        """Take away what a killed run left unfinished."""
        for folder in (self.folder, *map(self.folder_of, self.list_keys())):
            sweep_leftovers(folder)


def _is_whole(file: Path) -> bool:
    """Whether a result file is there with its end; a power cut can lose it."""
    try:
        with file.open("rb") as content:
            content.seek(-2, os.SEEK_END)
            return content.read() == b"}\n"
    except OSError:
        return False
