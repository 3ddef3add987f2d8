"""Model files: where they lie, and that they are what was published."""

import functools
import hashlib
import json
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from stance.errors import StanceError
from stance.runtime.language import gettext as _

Model = Literal["lite", "full", "heavy"]

SHA256 = {
    "lite": "ba907b829371acee42d30c5f058097125f4c5759695b35aa526dd7078d78cbfd",
    "full": "12ead0d98e56b22922bc5599bb2453f39b685040716d2496a201d213c1cd2e50",
    "heavy": "0b82b9d088b0811269c490dc648d44b10efd19081d4477ebd63d08b4f48d7b1e",
}

CARDS_SHA256 = {
    "arms.json": "de747004aa1471084b6450280fe7b42eb4d6bfe534281360816816602ac80e7c",
    "class_calibration.json": "f4a7161abdefcd1a5408be219da8c99557993cc57bac9d9efaef96c0478b0791",
    "orientation.json": "391422d7c741a22ce2537a679785c1b0311c6dc8e9a53008ecbd875748415639",
    "racket.json": "5e8b11db8b2d15b7dbfad78a6bd74f841cbe253a599af822a2ed7d782368e586",
    "strokes.json": "b01ae1b1dd7783395454145d4ad1715c2bca3024958af2b290350cb2313933b5",
}
"""Of the JSON files of `models/`, which hold fitted numbers and the checksums of the networks; who
trains or fits anew puts the new ones here."""


def models_folder() -> Path:
    """Return the folder of the models: inside the package or, in a checkout alone, beside it.

    Beside an installed package lie other packages, and one of them may be called models.
    """
    checkout = Path(__file__).resolve().parents[2]
    if (checkout / "pyproject.toml").is_file():
        return checkout / "models"
    return Path(str(resources.files("stance"))) / "models"


def damaged_file(name: str) -> StanceError:
    """Return the error that says that a file of `models/` is missing or damaged."""
    text = _("The file {file} is missing from the installation or damaged; install the tool anew.")
    return StanceError(text.format(file=name))


def network_card(name: str) -> dict[str, Any]:
    """Return what stands in a JSON file of `models/`, its checksum proved where one is known.

    Raises
    ------
    StanceError
        If the file is missing or damaged.
    """
    try:
        data = (models_folder() / name).read_bytes()
        digest = hashlib.sha256(data).hexdigest()
        if digest != CARDS_SHA256.get(name, digest):
            raise damaged_file(name)
        return dict(json.loads(data))
    except (OSError, ValueError) as error:
        raise damaged_file(name) from error


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
        raise damaged_file(card) from error


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
        raise damaged_file(name) from error
    if hashlib.sha256(data).hexdigest() != network_checksum(card):
        raise damaged_file(name)
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
            _(
                "The pose model {name} is missing from the installation; install the tool anew."
            ).format(name=path.name)
        ) from error
    if hashlib.sha256(data).hexdigest() != SHA256[model]:
        raise StanceError(
            _(
                "The pose model {name} is damaged (its checksum differs from the published "
                "one); install the tool anew."
            ).format(name=path.name)
        )
    return data
