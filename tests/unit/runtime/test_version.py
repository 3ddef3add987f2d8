"""What is kept belongs to the code and the models that made it."""

import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

import stance
from stance.runtime.version import files_checksum, results_version
from tests.paths import ROOT


@pytest.fixture
def package(tmp_path: Path) -> Path:
    """A package with a template, and models beside it."""
    for name, content in {
        "package/module.py": "ANSWER = 42\n",
        "package/templates/page.html": "<p>",
        "models/network.json": "{}",
    }.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(content)
    return tmp_path / "package"


def checksum(package: Path) -> str:
    return files_checksum(package, package.parent / "models")


@pytest.mark.parametrize(
    "name", ["module.py", "templates/page.html", "added.py", "../models/network.json"]
)
def test_every_file_that_results_are_made_by_counts(package: Path, name: str) -> None:
    before = checksum(package)
    assert checksum(package) == before
    (package / name).write_text("changed")
    assert checksum(package) != before


def test_a_file_under_another_name_counts(package: Path) -> None:
    before = checksum(package)
    (package / "module.py").rename(package / "renamed.py")
    assert checksum(package) != before


def test_what_running_leaves_behind_does_not_count(package: Path) -> None:
    before = checksum(package)
    (package / "__pycache__").mkdir()
    (package / "__pycache__" / "module.cpython-311.pyc").write_bytes(b"compiled")
    assert checksum(package) == before


def test_models_inside_the_package_count_as_those_beside_it(package: Path) -> None:
    before = checksum(package)
    shutil.move(package.parent / "models", package / "models")
    assert files_checksum(package, package / "models") == before


def test_the_version_starts_with_the_released_one_and_is_told_quickly() -> None:
    results_version.cache_clear()
    start = time.perf_counter()
    version = results_version()
    assert version.startswith(f"{stance.__version__}+")
    assert time.perf_counter() - start < 1.0


def test_an_edited_module_changes_the_keys_of_what_is_kept(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "stance", tmp_path / "stance")
    (tmp_path / "models").symlink_to(ROOT / "models")
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    code = (
        "from stance.academy.result_store import make_key; "
        "from stance.watching.options import WatchOptions; "
        "from stance.watching.pose_cache import poses_key; "
        "print(make_key('clip', 'court', None), poses_key('clip', None, WatchOptions()))"
    )

    def keys() -> list[str]:
        run = subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=tmp_path
        )
        return run.stdout.split()

    before = keys()
    assert keys() == before
    module = tmp_path / "stance" / "measures" / "motion.py"
    module.write_text(module.read_text().replace("HIP_SPEED = 0.5", "HIP_SPEED = 0.6"))
    assert not set(keys()) & set(before)
