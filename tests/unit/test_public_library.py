"""What the package itself offers: its examples run, and nothing is loaded before it is used."""

import ast
import doctest
import subprocess
import sys

import pytest

import stance
from tests.paths import ROOT


def test_the_examples_do_what_they_say(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    outcome = doctest.testmod(stance, raise_on_error=False)
    assert outcome.attempted >= 10 and not outcome.failed


@pytest.mark.parametrize("name", stance.__all__)
def test_every_part_of_the_library_is_there_documented_and_shown_at_work(name: str) -> None:
    assert getattr(stance, name).__doc__
    assert name in dir(stance)
    assert f"stance.{name}" in stance.__doc__


def test_type_checkers_are_told_of_the_same_parts() -> None:
    stub = ast.parse((ROOT / "stance" / "__init__.pyi").read_text())
    named = {
        alias.asname
        for node in stub.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    } | {node.targets[0].id for node in stub.body if isinstance(node, ast.Assign)}
    assert named - {None} == set(stance.__all__)


def test_what_is_not_there_is_told() -> None:
    with pytest.raises(AttributeError, match="has no attribute 'analyze'"):
        stance.analyze  # noqa: B018


def test_to_import_the_package_loads_no_library() -> None:
    code = (
        "import sys; import stance; "
        "print(sorted({m.partition('.')[0] for m in sys.modules} "
        "& {'numpy', 'scipy', 'cv2', 'av', 'mediapipe', 'msgspec'}))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert run.stdout.strip() == "[]"
