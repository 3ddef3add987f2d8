"""Compiled templates, kept beside them as Python keeps its own compiled modules."""

import os
from contextlib import suppress
from pathlib import Path

from jinja2 import BytecodeCache, FileSystemBytecodeCache
from jinja2.bccache import Bucket


class _ForgivingCache(FileSystemBytecodeCache):
    """A damaged file or a full disk only means that templates are compiled anew."""

    def load_bytecode(self, bucket: Bucket) -> None:
        try:
            super().load_bytecode(bucket)
        except Exception:  # whatever pickle and marshal say of damaged bytes
            bucket.reset()

    def dump_bytecode(self, bucket: Bucket) -> None:
        with suppress(OSError):
            super().dump_bytecode(bucket)


def template_cache(templates: Path) -> BytecodeCache | None:
    """Return a place for compiled templates; None where the package can't be written to.

    A chart's template takes longer to compile than to fill, and each run would compile all anew.

    Parameters
    ----------
    templates
        folder whose `__pycache__` takes them
    """
    folder = templates / "__pycache__"
    try:
        folder.mkdir(exist_ok=True)
    except OSError:
        return None
    return _ForgivingCache(str(folder)) if os.access(folder, os.W_OK) else None
