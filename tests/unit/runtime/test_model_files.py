"""Model files are what was published, or the user is told to install the tool anew."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from stance.errors import StanceError
from stance.runtime import model_files
from stance.runtime.model_files import (
    CARDS_SHA256,
    SHA256,
    model_bytes,
    models_folder,
    network_bytes,
    network_card,
    network_checksum,
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in the place of `models/`."""
    monkeypatch.setattr(model_files, "models_folder", lambda: tmp_path)
    return tmp_path


@pytest.mark.parametrize("model", SHA256)
def test_the_pose_models_that_come_with_the_tool_are_the_published_ones(model) -> None:
    data = (models_folder() / f"pose_landmarker_{model}.task").read_bytes()
    assert hashlib.sha256(data).hexdigest() == SHA256[model]


def test_every_file_of_numbers_is_the_one_whose_checksum_the_code_holds() -> None:
    files = {file.name: file.read_bytes() for file in models_folder().glob("*.json")}
    found = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    assert found == CARDS_SHA256, "put the checksums of new files into CARDS_SHA256"


def test_a_file_of_numbers_that_was_changed_is_refused(folder: Path) -> None:
    (folder / "class_calibration.json").write_text('{"changed": 1}')
    with pytest.raises(StanceError, match="class_calibration.json is missing .* or damaged"):
        network_card("class_calibration.json")


def test_models_lie_in_the_package_unless_it_is_a_checkout(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "models").mkdir()
    module = tmp_path / "stance" / "runtime" / "model_files.py"
    monkeypatch.setattr(model_files, "__file__", str(module))
    assert models_folder().parent.name == "stance"
    (tmp_path / "pyproject.toml").touch()
    assert models_folder() == tmp_path / "models"


def test_a_damaged_model_is_refused(folder: Path) -> None:
    (folder / "pose_landmarker_lite.task").write_bytes(b"damaged")
    model_bytes.cache_clear()
    with pytest.raises(StanceError, match="damaged"):
        model_bytes("lite")
    with pytest.raises(StanceError, match="missing"):
        model_bytes("full")
    model_bytes.cache_clear()


def test_a_network_is_read_where_its_card_tells_its_checksum(folder: Path) -> None:
    card = {"network_sha256": hashlib.sha256(b"weights").hexdigest(), "classes": 3}
    (folder / "net.json").write_text(json.dumps(card))
    (folder / "net.onnx").write_bytes(b"weights")
    assert network_card("net.json") == card
    assert network_bytes("net.onnx", "net.json") == b"weights"


def read_card() -> object:
    return network_card("net.json")


def read_checksum() -> object:
    return network_checksum("net.json")


def read_network() -> object:
    return network_bytes("net.onnx", "net.json")


@pytest.mark.parametrize(
    ("read", "card", "named"),
    [
        (read_card, None, "net.json"),
        (read_card, "no JSON", "net.json"),
        (read_checksum, None, "net.json"),
        (read_checksum, "{}", "net.json"),
        (read_network, None, "net.json"),
        (read_network, '{"network_sha256": "of another"}', "net.onnx"),
    ],
)
def test_a_network_or_a_card_that_is_missing_or_damaged_is_named(
    read: Callable[[], object], card: str | None, named: str, folder: Path
) -> None:
    (folder / "net.onnx").write_bytes(b"weights")
    if card is not None:
        (folder / "net.json").write_text(card)
    with pytest.raises(StanceError, match=f"{named} is missing from the installation or damaged"):
        read()


def test_a_missing_network_is_named(folder: Path) -> None:
    with pytest.raises(StanceError, match="net.onnx is missing"):
        read_network()
