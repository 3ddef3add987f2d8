"""Renders people in a second way and prints what the tool makes of them.

python -m tests.evaluation.second_renderer --tracer PYTHON FOLDER

PYTHON is one that has bpy (a Python 3.11 environment of its own: `pip install bpy==5.0.1`); it is
needed for pictures that are not there yet, some five seconds a still on one core.
"""

import argparse
from pathlib import Path

import numpy as np

from tests.evaluation.real_recording.errors import real_feet
from tests.evaluation.real_recording.reference import read_reference
from tests.evaluation.second_renderer.fitting import Source, fit_feet
from tests.evaluation.second_renderer.stills import read, render_missing
from tests.evaluation.second_renderer.tables import table
from tests.rendering.path_traced.scenes import PARTS
from tests.training import crops, figures


def main() -> None:
    """Render, fit where that is asked for, and print both parts' tables."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.second_renderer",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--tracer", help="the Python that has bpy")
    parser.add_argument("--scenes", type=int, default=48, help="of each part, four stills a scene")
    parser.add_argument("--workers", type=int, default=1, help="processes that trace rays")
    parser.add_argument(
        "--fit",
        type=Path,
        help="fit the feet's standard errors first: on the tune part, on these crops of the first "
        "renderer's tune split and on the real recording",
    )
    parser.add_argument("folder", type=Path)
    arguments = parser.parse_args()
    for part in PARTS:
        folder = arguments.folder / part
        render_missing(folder, part, arguments.scenes, arguments.tracer, arguments.workers)
    if arguments.fit:
        _fit(arguments.folder / "tune", arguments.scenes, arguments.fit)
    for part in PARTS:
        print(f"{part} part")
        for line in table(read(arguments.folder / part, part, arguments.scenes)):
            print(f"  {line}", flush=True)


def _fit(folder: Path, scenes: int, first: Path) -> None:
    """Fit the feet's standard errors on both ways of rendering and on the real recording."""
    second, own = read(folder, "tune", scenes), figures.read(crops.load(first))
    own_errors = np.stack([figures.off(own.lead_angle), own.stagger[:, 0] - own.stagger[:, 2]], 1)
    weights = fit_feet(
        [
            Source(second.errors[:, 1:], second.feet_sizes),
            Source(own_errors, own.feet_sizes),
            Source(*real_feet(read_reference())),
        ]
    )
    print("weights of what the network predicts and of how far its readings are apart:", *weights)
    print(f"put the new checksum of {figures.FACTORS_FILE} into CARDS_SHA256")


if __name__ == "__main__":
    main()
