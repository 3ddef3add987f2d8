"""The version that kept results and poses belong to."""

import functools
import hashlib
import os
from pathlib import Path

from stance import __version__
from stance.runtime.model_files import models_folder


@functools.cache
def results_version() -> str:
    """Return the released version with a checksum of all that results are made by.

    It changes with the package's own files, and with the models: these have their checksums in the
    source or in the JSON files beside them, and prove them when they are loaded. It takes some
    milliseconds, once.
    """
    package = Path(__file__).resolve().parents[1]
    return f"{__version__}+{files_checksum(package, models_folder())}"


def files_checksum(package: Path, models: Path) -> str:
    """Return a checksum of a package's own files, compiled ones aside, and of JSON files of models.

    Parameters
    ----------
    package, models
        folders

    Returns
    -------
    16 hexadecimal digits of SHA-256 over names and contents
    """
    files = {f"models/{file.name}": file for file in models.glob("*.json")}
    # os.walk, since Path.rglob takes a few times as long and every run waits for it.
    for folder, folders, names in os.walk(package):
        folders[:] = {*folders} - {"__pycache__"}
        if Path(folder) != models:
            below = Path(folder).relative_to(package.parent).as_posix()
            files |= {f"{below}/{name}": Path(folder, name) for name in names}
    digest = hashlib.sha256()
    for name in sorted(files):
        content = hashlib.sha256(files[name].read_bytes()).hexdigest()
        digest.update(f"{name}\0{content}\n".encode())
    return digest.hexdigest()[:16]
