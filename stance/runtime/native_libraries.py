"""What mediapipe's native library prints and what its Python part imports, kept from the user."""

import contextlib
import os
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from types import ModuleType


@dataclass
class _Silence:
    """How many threads want silence, and a copy of the standard error's descriptor meanwhile."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    threads: int = 0
    stderr: int = -1


_SILENCE = _Silence()

# Landmarkers are made in several threads.
_IMPORTING = threading.Lock()


@contextlib.contextmanager
def silenced_native_log() -> Iterator[None]:
    """Send the standard error of the whole process to nowhere, native code's lines included.

    The first of several threads redirects file descriptor 2, the last one gives it back. In
    mediapipe 0.10.30 to 0.10.32 no setting does this: its lines are written before
    `absl::InitializeLog()`, so GLOG_minloglevel, GLOG_stderrthreshold, TF_CPP_MIN_LOG_LEVEL and
    ABSL_MIN_LOG_LEVEL in the environment change nothing.
    """
    with _SILENCE.lock:
        if not _SILENCE.threads:
            sys.stderr.flush()
            _SILENCE.stderr = os.dup(2)
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
                os.dup2(_SILENCE.stderr, 2)
                os.close(_SILENCE.stderr)


@contextlib.contextmanager
def modules_left_out(*modules: str) -> Iterator[None]:
    """Put empty modules in the place of those of `modules` that are not loaded yet.

    mediapipe imports matplotlib for its own drawings and sounddevice for sound; this tool uses
    neither, and they take memory and start-up time (docs/performance.md). Afterwards they can be
    imported as usual.
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
