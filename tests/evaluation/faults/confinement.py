"""Places with less than the tool is used to: a small disk, a read-only folder, no network.

On Linux each is a namespace of its own, made with util-linux's `unshare`, for which no rights are
needed where the system lets users make namespaces. Elsewhere a file-size limit stands for the full
disk, and the folder's rights for the read-only folder.
"""

import os
import resource
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

OWN_MOUNTS = ("unshare", "--map-root-user", "--mount", "--")
NO_NETWORK = ("unshare", "--map-root-user", "--net", "--")

_DISK_BYTES = 32 << 20


@cache
def is_permitted(confinement: tuple[str, ...]) -> bool:
    """Whether this system lets a program be confined so."""
    if shutil.which(confinement[0]) is None:
        return False
    return subprocess.run([*confinement, "true"], check=False, capture_output=True).returncode == 0


def describe() -> list[str]:
    """How the places are made on this system."""
    mounts, network = is_permitted(OWN_MOUNTS), is_permitted(NO_NETWORK)
    return [
        f"full disk: {'a small tmpfs' if mounts else 'a limit of the size of a file'}",
        f"read-only folder: {'a read-only mount' if mounts else 'the rights of the folder'}",
        f"no network: {'a network namespace without interfaces' if network else 'not permitted'}",
    ]


@contextmanager
def full_disk(place: Path, free: int) -> Iterator["Disk"]:
    """A disk on which some bytes are free once `Disk.fill` is called."""
    if not is_permitted(OWN_MOUNTS):
        yield Disk(place, free, mounted=False)
        return
    _mount("-t", "tmpfs", "-o", f"size={_DISK_BYTES}", "tmpfs", place)
    try:
        yield Disk(place, free, mounted=True)
    finally:
        subprocess.run(["umount", "--lazy", place], check=True)


class Disk:
    """A small disk that is filled and emptied, used through `full_disk`."""

    def __init__(self, place: Path, free: int, mounted: bool) -> None:
        self._free, self._mounted = free, mounted
        self._ballast = place / "ballast"

    def fill(self) -> None:
        """Leave only so many bytes free, rounded down to whole pages."""
        if not self._mounted:
            hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
            resource.setrlimit(resource.RLIMIT_FSIZE, (self._free, hard))
            return
        state = os.statvfs(self._ballast.parent)
        pages = max(0, state.f_bavail - self._free // state.f_frsize)
        with self._ballast.open("wb") as file:
            if pages:
                os.posix_fallocate(file.fileno(), 0, pages * state.f_frsize)

    def empty(self) -> None:
        """Make room again."""
        if not self._mounted:
            hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
            resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
            return
        self._ballast.unlink()


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """A folder to which nothing can be written."""
    if is_permitted(OWN_MOUNTS):
        _mount("--bind", folder, folder)
        try:
            _mount("-o", "remount,ro,bind", folder, folder)
            yield
        finally:
            subprocess.run(["umount", "--lazy", folder], check=True)
        return
    places = [folder, *(path for path in folder.rglob("*") if path.is_dir())]
    for place in places:
        place.chmod(0o500)
    try:
        yield
    finally:
        for place in places:
            place.chmod(0o700)


def _mount(*arguments: str | Path) -> None:
    subprocess.run(["mount", *arguments], check=True, capture_output=True)
