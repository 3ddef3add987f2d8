"""Extracts all words shown into the catalogue: `python -m tests.catalogue`."""

import ast
import inspect
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from babel.messages.extract import extract_python

from tests.paths import ROOT

COMMANDS = ("main", "analyse", "court", "compare", "screen", "history", "forget")
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


def extract_commands(
    file: BinaryIO, keywords: Any, tags: Any, options: dict[str, Any]
) -> Iterator[Any]:
    """What babel extracts of Python, and the docstrings that are the help of commands."""
    tree = ast.parse(file.read())
    file.seek(0)
    yield from extract_python(file, keywords, tags, options)
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name in COMMANDS:
            yield node.lineno, "_", inspect.cleandoc(ast.get_docstring(node) or ""), []


if __name__ == "__main__":
    extract(CATALOGUE)
