"""The version that kept results and poses belong to."""

import functools
import hashlib
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
    files = {
        f"stance/{file.relative_to(package).as_posix()}": file
        for file in package.rglob("*")
        if file.is_file() and file.suffix != ".pyc" and models not in file.parents
    } | {f"models/{file.name}": file for file in models.glob("*.json")}
    digest = hashlib.sha256()
    for name in sorted(files):
        content = hashlib.sha256(files[name].read_bytes()).hexdigest()
        digest.update(f"{name}\0{content}\n".encode())
    return digest.hexdigest()[:16]
