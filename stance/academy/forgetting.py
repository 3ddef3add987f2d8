"""A player forgotten: all that the tool wrote of one is deleted, and a search proves it.

A result folder is the player's where its result names the player; it goes whole, since its pictures
show the player, those of the partner too. Pages and tables over many clips go where they hold the
name; the next run of the command that wrote them makes them anew. Clips, rosters and all else that
the tool did not write stay, and are named where they hold the name.
"""

import html
import json
import os
import re
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from stance.academy.result_store import DURATION_FILE, Store
from stance.academy.writing import SCREENING_FILE, TABLE_FILE
from stance.comparison.history import INDEX_FILE
from stance.comparison.writing import COMPARISON_FILE
from stance.errors import InputError, OutputError
from stance.reports.cards import OVERLAY_FILE
from stance.reports.clip import REPORT_FILE
from stance.results.csv_format import POSITIONS_FILE, STROKES_FILE
from stance.results.json_format import RESULT_FILE, read_result
from stance.results.temporary import sweep_leftovers
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import clean_name
from stance.watching.pose_cache import POSES_FILE

# What lies in a result folder.
_RESULT_FILES = (
    RESULT_FILE,
    REPORT_FILE,
    POSITIONS_FILE,
    STROKES_FILE,
    OVERLAY_FILE,
    POSES_FILE,
    DURATION_FILE,
)

# What is written over many clips, beside the players' pages.
_SHARED_FILES = (REPORT_FILE, SCREENING_FILE, TABLE_FILE, COMPARISON_FILE)

_PAGE = re.compile(r"[a-z0-9-]+-[0-9a-f]{6}\.html")


@dataclass(frozen=True)
class Memory:
    """What a folder holds of a player: files that would be deleted, in order."""

    folder: Path
    player: str
    files: tuple[Path, ...]


@dataclass(frozen=True)
class Proof:
    """What a search found after a player was forgotten.

    Attributes
    ----------
    searched
        how many files and folders were looked through, names and contents
    left
        those that still hold the player's name; none of them is the tool's
    """

    searched: int
    left: tuple[Path, ...]


def recall_player(folder: str | Path, player: str) -> Memory:
    """Find all that the tool wrote of a player in a folder and below it.

    Raises
    ------
    InputError
        There is no such folder, or nothing of the player in it.
    """
    place, name = Path(folder), clean_name(player)
    if not place.is_dir():
        raise InputError(
            _("There is no folder {place}. Name the folder that holds the results.").format(
                place=place
            )
        )
    files = []
    for path in _walk(place):
        if path.name == RESULT_FILE and _is_of(path, name):
            files += [file for part in _RESULT_FILES if _exists(file := path.with_name(part))]
    for path in _walk(place):
        is_shared = path.name in _SHARED_FILES and not _exists(path.with_name(RESULT_FILE))
        if (is_shared or _PAGE.fullmatch(path.name)) and _holds(path, name):
            files.append(path)
    if not files:
        raise InputError(
            _(
                "The tool wrote nothing of {name} in {place}. See which names there are: "
                "stance history {place}"
            ).format(name=name, place=place)
        )
    index = place / INDEX_FILE
    return Memory(place, name, tuple(dict.fromkeys([*files, *([index] if _exists(index) else [])])))


def forget_player(memory: Memory) -> Proof:
    """Delete all that was found of a player, and search for what is left.

    Raises
    ------
    OutputError
        A file can't be deleted.
    """
    for file in memory.files:
        try:
            file.unlink(missing_ok=True)
        except OSError as problem:
            raise OutputError(
                _(
                    "{file} can't be deleted: {reason}. Delete it by hand and run the command "
                    "again."
                ).format(file=file, reason=problem.strerror)
            ) from None
    for folder in {file.parent for file in memory.files} - {memory.folder}:
        sweep_leftovers(folder)
        with suppress(OSError):
            # Only where nothing else lies in it.
            folder.rmdir()
    sweep_leftovers(memory.folder)
    paths = list(_walk(memory.folder))
    left = [path for path in paths if _holds(path, memory.player)]
    return Proof(len(paths), tuple(left))


def list_former_players(store: Store, used: Collection[str], names: Collection[str]) -> list[str]:
    """Players of kept results that a roster no longer uses and no longer names.

    Parameters
    ----------
    store
        kept results
    used
        keys of those that the roster uses
    names
        of its players
    """
    results = (store.read(key) for key in store.list_keys() - {*used})
    kept = {player.name for result in results if result for player in result.players}
    return sorted(kept - {*names, ""})


def _walk(place: Path) -> Iterator[Path]:
    """All files below a folder, links not followed."""
    for folder, folders, files in os.walk(place):
        folders.sort()
        yield from (Path(folder, name) for name in sorted(files))


def _exists(path: Path) -> bool:
    return os.path.lexists(path)


def _is_of(file: Path, name: str) -> bool:
    """Whether a result is a player's; a damaged one is where it holds the name."""
    try:
        return any(clean_name(player.name) == name for player in read_result(file).players)
    except InputError:
        return _holds(file, name)


def _holds(path: Path, name: str) -> bool:
    """Whether a file holds a name, in its own name or its content, in any spelling of a file."""
    quoted = (json.dumps(name, ensure_ascii=ascii)[1:-1] for ascii in (True, False))
    spellings = {name, *quoted, name.replace('"', '""'), name.replace(" ", "_")}
    words = "|".join(re.escape(spelling) for spelling in spellings)
    pattern = re.compile(rf"(?<!\w)(?:{words})(?!\w)")
    if pattern.search(path.name):
        return True
    if not path.is_file() or path.is_symlink():
        return False
    with suppress(OSError), path.open("rb") as file:
        before = ""
        while block := file.read(1 << 20):
            text = before + block.decode("utf-8", "replace")
            if pattern.search(text) or pattern.search(html.unescape(text)):
                return True
            before = text[-8 * max(map(len, spellings)) :]
    return False
