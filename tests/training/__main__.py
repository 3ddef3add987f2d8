"""Commands of the training: render and record looks, fit the correction (models/README.md)."""

import argparse
from pathlib import Path

import numpy as np

from stance.correction import (
    CORRECTION_FILE,
    Correction,
    errors_of,
    load_correction,
    run_correction,
    save_correction,
)
from stance.poses import models_folder
from tests.training.dataset import Dataset, dataset, load_looks
from tests.training.fit import fit
from tests.training.looks import build

VIEWS = ("behind", "corner", "side", "front")


def main() -> None:
    """Run a command."""
    parser = argparse.ArgumentParser(description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    looks = commands.add_parser("looks", help="render stills and record what the models see")
    looks.add_argument("--split", choices=("train", "tune", "test"), required=True)
    looks.add_argument("--first", type=int, default=0)
    looks.add_argument("--count", type=int, required=True)
    looks.add_argument("--workers", type=int, default=2)
    looks.add_argument("path", type=Path)
    fitting = commands.add_parser("fit", help="fit the correction and write it to models/")
    fitting.add_argument("--train", type=Path, nargs="+", required=True)
    fitting.add_argument("--tune", type=Path, nargs="+", required=True)
    testing = commands.add_parser("test", help="print the correction's errors on recorded looks")
    testing.add_argument("paths", type=Path, nargs="+")
    arguments = parser.parse_args()
    if arguments.command == "looks":
        build(arguments.split, arguments.first, arguments.count, arguments.workers,
              arguments.path)
    elif arguments.command == "fit":
        correction = fitted(dataset(load_looks(arguments.train)),
                            dataset(load_looks(arguments.tune)))
        save_correction(models_folder() / CORRECTION_FILE, correction)
    else:
        print_errors(load_correction(), dataset(load_looks(arguments.paths)))


def fitted(train: Dataset, tune: Dataset) -> Correction:
    """Fit on the train split; stretch the standard errors until they hold on the tune split."""
    networks, errors, _ = fit(train)
    plain = Correction(tuple(networks), errors, np.ones(len(errors.y_mean)))
    said, sizes = run_correction(plain, tune.features)
    off = np.abs(errors_of(said, tune.targets)) / sizes
    return Correction(plain.networks, errors, np.quantile(off, 0.95, axis=0) / 1.96)


def print_errors(correction: Correction, data: Dataset) -> None:
    """Print mean absolute errors and coverage per view."""
    said, sizes = run_correction(correction, data.features)
    errors = errors_of(said, data.targets)
    print("view        n   hips bias  MAE  95 %  cover | shoulders MAE cover | line right, up cm "
          "cover | knees MAE cover")
    for view in (*VIEWS, "all"):
        rows = data.true_hand & ((data.view == view) | (view == "all"))
        e, s = errors[rows], sizes[rows]
        size, inside = np.abs(e).mean(axis=0), (np.abs(e) <= 1.96 * s).mean(axis=0)
        print(f"{view:<7} {rows.sum():5d} {e[:, 0].mean():9.2f} {size[0]:5.2f} "
              f"{np.percentile(np.abs(e[:, 0]), 95):5.1f} {inside[0]:6.3f} | {size[1]:9.2f} "
              f"{inside[1]:9.3f} | {size[2]:6.2f} {size[3]:6.2f} {inside[2]:6.3f} {inside[3]:.3f}"
              f" | {size[6:8].mean():6.2f} {inside[6:8].mean():.3f}")


if __name__ == "__main__":
    main()
