"""Clips by path or URL: the only module that knows fsspec."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import urlsplit

import fsspec

from stance.errors import InputError
from stance.results.temporary import temporary_folder
from stance.runtime.plain_text import printable
from stance.runtime.regular_files import is_regular


def is_url(address: str) -> bool:
    """Whether an address is a URL; a drive letter such as C: is none."""
    return "://" in address


def file_name(address: str) -> str:
    """The name of the file at a path or URL."""
    if not is_url(address):
        return printable(Path(address).name)
    try:
        name = PurePosixPath(urlsplit(address).path).name
    except ValueError:
        name = ""
    return printable(name if name not in ("", "..") else "clip")


@contextmanager
def fetch_file(address: str, place: Path | None = None) -> Iterator[Path]:
    """A file on this machine: the file itself, or a copy that is deleted in the end.

    Parameters
    ----------
    address
        path or URL
    place
        folder for the copy; None for the system's folder of temporary files

    Raises
    ------
    InputError
        If the file can't be fetched.
    """
    if not is_url(address):
        yield Path(address)
        return
    if address.startswith("file:"):
        local = fsspec.core.url_to_fs(address)[1]
        # It would never end.
        if os.path.exists(local) and not is_regular(local):
            raise InputError(f"{address} is a pipe or a device; give a clip that is on a disk.")
    with temporary_folder(place) as folder:
        copy = folder / file_name(address)
        with (
            _say_why_not_fetched(address),
            fsspec.open(address, "rb") as source,
            copy.open("wb") as target,
        ):
            shutil.copyfileobj(source, target, 1 << 20)
        yield copy


def find_version(address: str) -> str | None:
    """What changes when the file does, without reading it; None where nothing tells.

    Of a file on this machine: size and time of change. Of a URL: the mark that the server keeps
    for each version, or size and time of change.
    """
    if not is_url(address):
        try:
            state = Path(address).stat()
        except OSError:
            return None
        return f"{state.st_size}-{state.st_mtime_ns}"
    try:
        system, path = fsspec.core.url_to_fs(address)
        about: dict[str, Any] = system.info(path)
    except Exception:  # each protocol has errors of its own; the fetch itself reports them
        return None
    mark = next(
        (about[k] for k in ("ETag", "etag", "md5", "mtime", "LastModified") if about.get(k)), None
    )
    return None if mark is None else f"{about.get('size')}-{mark}"


@contextmanager
def _say_why_not_fetched(address: str) -> Iterator[None]:
    """Turn what goes wrong while fetching into a sentence."""
    try:
        yield
    except FileNotFoundError:
        raise InputError(f"There is no file at {address}.") from None
    except ImportError as problem:
        raise InputError(
            f"{address} can't be fetched: {problem}. Install the tool with its extra: "
            "pip install 'stance[cluster]'."
        ) from None
    except Exception as problem:  # each protocol has errors of its own
        raise InputError(f"{address} can't be fetched: {problem}.") from None
