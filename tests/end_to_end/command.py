"""The command line, run as a coach runs it: in a process of its own."""

import os
import subprocess
import sys
from pathlib import Path

from tests.paths import ROOT

# So that the command is this checkout's wherever it runs.
ENVIRONMENT = os.environ | {"PYTHONPATH": str(ROOT)}


def list_command(*arguments: str | Path) -> list[str]:
    """The command line with its program."""
    return [sys.executable, "-m", "stance", *map(str, arguments)]


def run_stance(*arguments: str | Path, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run(
        list_command(*arguments),
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
        env=ENVIRONMENT,
    )
