"""Clips by path or URL: the only module that knows fsspec."""

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO
from urllib.parse import urlsplit

import fsspec

from stance.errors import InputError
from stance.results.temporary import temporary_folder
from stance.runtime.language import format_number
from stance.runtime.language import gettext as _
from stance.runtime.plain_text import printable
from stance.runtime.regular_files import MOST_TEXT_BYTES, is_regular

# What is fetched of a clip at most: three hours from a phone take less. A server that sends without
# end, or a byte now and then, must not fill the disk or hold a worker.
MOST_CLIP_BYTES = 20 << 30
LONGEST_FETCH_S = 3600.0

# A server that is silent for so long is given up.
_SILENCE_S = 60.0

_BLOCK_BYTES = 1 << 20


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
def fetch_clip(address: str, place: Path | None = None) -> Iterator[Path]:
    """A clip on this machine: the file itself, or a copy that is deleted in the end.

    Parameters
    ----------
    address
        path or URL
    place
        folder for the copy; None for the system's folder of temporary files

    Raises
    ------
    InputError
        If the file can't be fetched, is too large or takes too long.
    """
    with _fetch(address, place, MOST_CLIP_BYTES) as clip:
        yield clip


@contextmanager
def fetch_court(address: str, place: Path | None = None) -> Iterator[Path]:
    """A court file on this machine, as `fetch_clip` gives a clip."""
    with _fetch(address, place, MOST_TEXT_BYTES) as court:
        yield court


@contextmanager
def _fetch(address: str, place: Path | None, most_bytes: int) -> Iterator[Path]:
    """A file on this machine, or a copy of so many bytes at most."""
    if not is_url(address):
        yield Path(address)
        return
    if address.startswith("file:"):
        local = fsspec.core.url_to_fs(address)[1]
        # It would never end.
        if os.path.exists(local) and not is_regular(local):
            raise InputError(
                _("{address} is a pipe or a device; give a clip that is on a disk.").format(
                    address=address
                )
            )
    with temporary_folder(place) as folder:
        copy = folder / file_name(address)
        with (
            _say_why_not_fetched(address),
            fsspec.open(address, "rb", **_list_settings(address)) as source,
            copy.open("wb") as target,
        ):
            _copy(address, source, target, most_bytes)
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


def _list_settings(address: str) -> dict[str, Any]:
    """How a file is opened: from the web in one piece, since not all servers send parts."""
    if not address.startswith(("http:", "https:")):
        return {}
    from aiohttp import ClientTimeout

    limit = ClientTimeout(total=LONGEST_FETCH_S, sock_read=_SILENCE_S, sock_connect=_SILENCE_S)
    return {"block_size": 0, "client_kwargs": {"timeout": limit}}


def _copy(address: str, source: BinaryIO, target: BinaryIO, most_bytes: int) -> None:
    """Copy what a server sends, which may be no end of it.

    Raises
    ------
    InputError
        It is too large or takes too long.
    """
    end, size = time.monotonic() + LONGEST_FETCH_S, 0
    while block := source.read(_BLOCK_BYTES):
        size += len(block)
        if size > most_bytes:
            raise InputError(
                _(
                    "{address} is larger than {most} MB and was not fetched to its end. Cut "
                    "the clip, or copy it to this computer and name the file."
                ).format(address=address, most=most_bytes >> 20)
            )
        if time.monotonic() > end:
            raise InputError(
                _(
                    "{address} was not fetched within {minutes} minutes. Copy the file to "
                    "this computer and name it there."
                ).format(address=address, minutes=format_number(LONGEST_FETCH_S / 60))
            )
        target.write(block)


@contextmanager
def _say_why_not_fetched(address: str) -> Iterator[None]:
    """Turn what goes wrong while fetching into a sentence."""
    try:
        yield
    except InputError:
        raise
    except FileNotFoundError:
        raise InputError(_("There is no file at {address}.").format(address=address)) from None
    except ImportError as problem:
        raise InputError(
            _(
                "{address} can't be fetched: {problem}. Install the tool with its extra: pip "
                "install 'stance[cluster]'."
            ).format(address=address, problem=problem)
        ) from None
    except Exception as problem:  # each protocol has errors of its own
        reason = getattr(problem, "strerror", None) or str(problem) or type(problem).__name__
        raise InputError(
            _("{address} can't be fetched: {reason}.").format(address=address, reason=reason)
        ) from None
