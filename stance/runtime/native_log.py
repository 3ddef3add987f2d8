"""What native libraries print and load that users should not see."""

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from types import ModuleType


@dataclass
class _Silence:
    """How many threads keep the terminal silent, and the terminal meanwhile."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    threads: int = 0
    terminal: int = -1


_SILENCE = _Silence()


@contextlib.contextmanager
def silenced_native_log() -> Iterator[None]:
    """Keep what native code writes to the terminal away from it, and all that is written meanwhile.

    The first of several threads takes the terminal away, the last one gives it back.
    """
    with _SILENCE.lock:
        if not _SILENCE.threads:
            sys.stderr.flush()
            _SILENCE.terminal = os.dup(2)
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 2)
            os.close(nowhere)
        _SILENCE.threads += 1
    try:
        yield
    finally:
        with _SILENCE.lock:
            _SILENCE.threads -= 1
            if not _SILENCE.threads:
                os.dup2(_SILENCE.terminal, 2)
                os.close(_SILENCE.terminal)


# Landmarkers are made in several threads.
_IMPORTING = threading.Lock()


@contextlib.contextmanager
def modules_left_out(*modules: str) -> Iterator[None]:
    """Put empty modules in the place of some that are not loaded yet.

    mediapipe loads libraries for its own drawings and for sound, which take most of the time of
    its import and 40 MB, and which this tool never uses.
    """
    with _IMPORTING:
        empty = {name: ModuleType(name) for name in modules if name not in sys.modules}
        for name, module in empty.items():
            parent, _, child = name.rpartition(".")
            if parent in empty:
                setattr(empty[parent], child, module)
        sys.modules.update(empty)
        try:
            yield
        finally:
            for name in empty:
                del sys.modules[name]
