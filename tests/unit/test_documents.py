"""What the documents name exists."""

import importlib.util
import re

import pytest

from tests.paths import ROOT

DOCUMENTS = (
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "models" / "README.md",
    *sorted((ROOT / "docs").glob("*.md")),
)


@pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)
def test_commands_files_and_links_in_the_documents_exist(document) -> None:
    text = document.read_text(encoding="utf-8")
    for module in re.findall(r"python -m (tests[.\w]*)", text):
        assert importlib.util.find_spec(module.rstrip(".")), module
    for path in re.findall(r"`((?:stance|tests|docs|models)/[\w./-]*)`", text):
        assert (ROOT / path).exists(), path
    for link in re.findall(r"\]\(([\w./-]+)\)", text):
        assert (document.parent / link).exists(), link


def test_the_folder_tree_names_every_package_and_nothing_else() -> None:
    tree = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[3]
    library = tree[: tree.index("tests/")]
    named = set(re.findall(r"^  (\w+)/", library, re.MULTILINE))
    packages = {path.parent.name for path in (ROOT / "stance").glob("*/__init__.py")}
    assert named == packages


def test_paths_in_the_table_of_places_exist() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text[text.index("| where | is |") : text.index("## Words of the trade")]
    paths = re.findall(r"`([\w/]+\.py)`", table)
    assert len(paths) >= 6
    for path in paths:
        assert (ROOT / "stance" / path).exists(), path


def test_the_drawing_runs_against_the_imports_and_shows_every_step() -> None:
    drawing = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("```")[1]
    arrows = re.findall(r"^ +(\w+)[^\n]*? --> (\w+)", drawing, re.MULTILINE)
    settings = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    rows = re.search(r"\nlayers = \[\n(.*?)\n\]", settings, re.DOTALL)[1].splitlines()
    height = {name: -row for row, text in enumerate(rows) for name in re.findall(r"\w+", text)}
    packages = {path.parent.name for path in (ROOT / "stance").glob("*/__init__.py")}
    assert set(height) - {"analysis", "errors", "types"} == packages
    for start, end in arrows:
        if {start, end} <= packages:
            assert height[start] <= height[end], (start, end)
    shown = {name for arrow in arrows for name in arrow} & packages
    assert packages - shown == {"cli", "results", "runtime"}
