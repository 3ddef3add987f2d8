"""Where scenes and their pictures lie, and the program that turns the ones into the others."""

from pathlib import Path

TRACER = "tests.rendering.path_traced.tracer"


def scene_path(folder: Path, seed: int) -> Path:
    """Where a scene lies."""
    return folder / f"{seed:04d}.npz"


def picture_path(folder: Path, seed: int, moment: int) -> Path:
    """Where the picture of a scene's moment lies."""
    return folder / f"{seed:04d}-{moment}.png"
