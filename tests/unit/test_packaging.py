"""What the package says of itself is what it needs."""

import ast
import re
import sys
from importlib.metadata import packages_distributions, requires, version

from packaging.requirements import Requirement

from stance import __version__
from tests.paths import ROOT

# Imported only where a coach asks for several machines or web addresses: the extra `cluster`.
OF_AN_EXTRA = {"aiohttp", "distributed"}


def imported_packages() -> set[str]:
    """Top-level packages that any module of stance imports, wherever it does."""
    found = set()
    for module in (ROOT / "stance").rglob("*.py"):
        for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.add(node.module.split(".")[0])
    return found - set(sys.stdlib_module_names) - {"stance"}


def required_distributions() -> set[str]:
    """Names of the distributions that are installed with the package."""
    return {
        re.split(r"[<>=!\[ ;]", requirement)[0].lower()
        for requirement in requires("stance") or []
        if "extra ==" not in requirement
    }


def test_every_import_is_declared() -> None:
    providers = packages_distributions()
    required = required_distributions()
    missing = {
        package
        for package in imported_packages() - OF_AN_EXTRA
        if not {name.lower() for name in providers.get(package, [])} & required
    }
    assert not missing


def test_the_version_is_told_once() -> None:
    assert version("stance") == __version__
    assert "version = " not in (ROOT / "pyproject.toml").read_text().split("[project]")[1][:200]


def test_the_tested_packages_are_pinned_with_checksums_within_what_is_required() -> None:
    text = (ROOT / "docs" / "constraints.txt").read_text(encoding="utf-8")
    assert "//" not in text
    lines = [line for line in text.replace("\\\n", " ").splitlines() if not line.startswith("#")]
    pins = {}
    for line in lines:
        pin, *hashes = line.split(" --hash=sha256:")
        assert hashes and all(re.fullmatch(r"[0-9a-f]{64} *", digest) for digest in hashes), pin
        requirement = Requirement(pin)
        pins[requirement.name] = str(requirement.specifier).removeprefix("==")
    required = [Requirement(r) for r in requires("stance") or []]
    for requirement in required:
        if requirement.marker is None or requirement.marker.evaluate({"extra": "cluster"}):
            assert requirement.specifier.contains(pins[requirement.name]), requirement
