"""Model files: where they lie, and that they are what was published."""

import functools
import hashlib
import json
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from stance.errors import StanceError

Model = Literal["lite", "full", "heavy"]

SHA256 = {
    "lite": "ba907b829371acee42d30c5f058097125f4c5759695b35aa526dd7078d78cbfd",
    "full": "12ead0d98e56b22922bc5599bb2453f39b685040716d2496a201d213c1cd2e50",
    "heavy": "0b82b9d088b0811269c490dc648d44b10efd19081d4477ebd63d08b4f48d7b1e",
}

_DAMAGED = "The file {} is missing from the installation or damaged; install the tool anew."


def models_folder() -> Path:
    """Return the folder of the pose models: beside the package in a checkout, else inside it."""
    beside = Path(__file__).resolve().parents[2] / "models"
    if beside.is_dir():
        return beside
    return Path(str(resources.files("stance"))) / "models"


def network_card(name: str) -> dict[str, Any]:
    """Return what stands in the JSON file of `models/` beside a network of our own.

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    try:
        return dict(json.loads((models_folder() / name).read_bytes()))
    except (OSError, ValueError) as error:
        raise StanceError(_DAMAGED.format(name)) from error


def network_checksum(card: str) -> str:
    """Return the SHA-256 of the network that a JSON file of `models/` stands beside.

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    try:
        return str(network_card(card)["network_sha256"])
    except KeyError as error:
        raise StanceError(_DAMAGED.format(card)) from error


def network_bytes(name: str, card: str) -> bytes:
    """Return a network of our own, its checksum proved.

    Parameters
    ----------
    name, card
        files of `models/`: the network, and the JSON file that tells its checksum

    Raises
    ------
    StanceError
        If a file is missing or damaged.
    """
    try:
        data = (models_folder() / name).read_bytes()
    except OSError as error:
        raise StanceError(_DAMAGED.format(name)) from error
    if hashlib.sha256(data).hexdigest() != network_checksum(card):
        raise StanceError(_DAMAGED.format(name))
    return data


@functools.cache
def model_bytes(model: Model) -> bytes:
    """Return a pose model, its checksum proved.

    Raises
    ------
    StanceError
        If the model's file is missing or is not the published one.
    """
    path = models_folder() / f"pose_landmarker_{model}.task"
    try:
        data = path.read_bytes()
    except OSError as error:
        raise StanceError(
            f"The pose model {path.name} is missing from the installation; install the tool anew."
        ) from error
    if hashlib.sha256(data).hexdigest() != SHA256[model]:
        raise StanceError(
            f"The pose model {path.name} is damaged (its checksum differs from the published "
            "one); install the tool anew."
        )
    return data
