"""Extracts all words shown into the catalogue: `python -m tests.catalogue`."""

import subprocess
import sys
from pathlib import Path

from tests.paths import ROOT

CATALOGUE = ROOT / "stance" / "locale" / "stance.pot"


def extract(path: Path) -> None:
    """Write the catalogue of today's words; no line numbers or dates, so that it merges well."""
    subprocess.run(
        [
            *(sys.executable, "-m", "babel.messages.frontend", "-q", "extract"),
            *("--mapping", "pyproject.toml", "--omit-header", "--no-wrap"),
            *("--add-location", "file", "--sort-by-file", "--output-file", str(path), "stance"),
        ],
        cwd=ROOT,
        check=True,
    )


if __name__ == "__main__":
    extract(CATALOGUE)
