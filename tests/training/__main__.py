"""Commands of the training: render crops, train the networks (models/README.md).

`python -m tests.training --help` names them.
"""

import argparse
from pathlib import Path

from tests.training import (
    arms,
    classifier,
    crops,
    figures,
    play_crops,
    play_figures,
    rackets,
    strokes,
)


def main() -> None:
    """Run a command."""
    parser = argparse.ArgumentParser(prog="python -m tests.training", description=__doc__)
    commands = parser.add_subparsers(required=True)
    _add_rendering(commands)
    _add_training(commands)
    _add_strokes(commands)
    _add_testing(commands)
    arguments = parser.parse_args()
    arguments.run(arguments)


def _add_rendering(commands: argparse._SubParsersAction) -> None:
    """Add the commands that render what networks are trained on."""
    stills = commands.add_parser("crops", help="render stills or play and take the rectified crops")
    for split in ("test", "tune", "train"):
        stills.add_argument(f"--{split}", type=int, default=0, help="how many seeds")
    kinds = stills.add_mutually_exclusive_group()
    kinds.add_argument("--stances", type=int, default=1, help="of each person")
    kinds.add_argument("--play", action="store_true", help="of rendered play, not of stills")
    stills.set_defaults(run=_render_crops)
    hands = commands.add_parser("hands", help="render frames and take the squares around hands")
    hands.add_argument("--split", choices=("train", "tune"), required=True)
    hands.add_argument("--count", type=int, required=True)
    hands.set_defaults(run=_render_hands)
    for parser in (stills, hands):
        parser.add_argument("--first", type=int, default=0, help="the first seed")
        parser.add_argument("--workers", type=int, default=2)
        parser.add_argument("--seconds", type=float, default=1e6, help="stop after this long")
        parser.add_argument("folder", type=Path)


def _add_training(commands: argparse._SubParsersAction) -> None:
    """Add the commands that train networks; these need PyTorch."""
    reader = commands.add_parser("train", help="train the network in a time given")
    reader.add_argument("--graph", type=Path, required=True, help="from tests.training.tflite")
    reader.add_argument("--crops", type=Path, required=True, help="folder of rectified crops")
    reader.add_argument("--real", type=Path, help="a real recording to test on")
    reader.add_argument("--seconds", type=float, required=True)
    reader.add_argument("--every", type=float, default=60.0, help="seconds between tests")
    reader.add_argument("--weights", type=Path, help="of an earlier training, to go on from")
    reader.add_argument("folder", type=Path)
    reader.set_defaults(run=_train)
    holding = commands.add_parser("rackets", help="train the network that sees rackets")
    holding.add_argument("--seconds", type=float, required=True)
    holding.add_argument("squares", type=Path, help="folder of squares")
    holding.add_argument("folder", type=Path)
    holding.set_defaults(run=lambda a: rackets.train(a.squares, a.folder, a.seconds))
    swinging = commands.add_parser("arms", help="learn what the arms tell of the racket hand")
    swinging.add_argument("folders", nargs="+", help="FOLDER=WEIGHT, of players' tracks")
    swinging.set_defaults(run=_fit_arms)


def _fit_arms(arguments: argparse.Namespace) -> None:
    """Learn what the arms tell, of folders with their weights."""
    pairs = [folder.rsplit("=", 1) for folder in arguments.folders]
    arms.fit({Path(folder): float(weight) for folder, weight in pairs})


def _add_strokes(commands: argparse._SubParsersAction) -> None:
    """Add the command that trains the network of strokes."""
    moving = commands.add_parser("strokes", help="train the network that reads strokes from motion")
    moving.add_argument("--rendered", type=int, default=300, help="how many clips of play")
    moving.add_argument("--real", type=Path, nargs=2, required=True, metavar=("CLIPS", "LABELS"))
    moving.add_argument("--poses", type=Path, help="where poses of real clips are kept")
    moving.add_argument("--workers", type=int, default=2)
    moving.add_argument("folder", type=Path)
    moving.set_defaults(
        run=lambda a: strokes.train(
            a.folder, a.rendered, a.real, a.poses or a.folder / "poses", a.workers
        )
    )


def _add_testing(commands: argparse._SubParsersAction) -> None:
    """Add the commands that print what is predicted of one split's crops."""
    testing = commands.add_parser("test", help="print the network's errors on crops")
    testing.add_argument(
        "--fit", type=Path, action="append", help="fit the standard errors first, on this folder's"
    )
    testing.add_argument("--map", type=Path, help="draw the errors from above into this picture")
    testing.set_defaults(run=_test)
    spells = commands.add_parser("spells", help="print the errors at planted spells of play")
    spells.set_defaults(run=lambda a: play_figures.print_spells(crops.load(a.folder)))
    sharing = commands.add_parser("shared", help="print what errors a clip's stances share")
    sharing.add_argument("--stances", type=int, required=True, help="of each person")
    sharing.set_defaults(run=lambda a: figures.print_shared(_readings(a.folder), a.stances))
    classes = commands.add_parser("classes", help="print what the classifier is worth")
    classes.add_argument("--fit", type=Path, help="fit it first, on this folder's crops")
    classes.set_defaults(run=_test_classes)
    for parser in (testing, spells, sharing, classes):
        parser.add_argument("folder", type=Path, help="folder of one split's crops")


def _readings(folder: Path) -> figures.Readings:
    return figures.read(crops.load(folder))


def _render_crops(arguments: argparse.Namespace) -> None:
    """Render the crops of each split that was asked for."""
    counts = [(split, getattr(arguments, split)) for split in ("test", "tune", "train")]
    crops.build(
        [part for part in counts if part[1]],
        play_crops.PLAY_CROPS if arguments.play else crops.still_crops(arguments.stances),
        arguments.first,
        arguments.workers,
        arguments.seconds,
        arguments.folder,
    )


def _render_hands(arguments: argparse.Namespace) -> None:
    """Render the squares around hands of a split."""
    rackets.render_all_squares(
        arguments.split,
        arguments.first,
        arguments.count,
        arguments.workers,
        arguments.seconds,
        arguments.folder,
    )


def _test(arguments: argparse.Namespace) -> None:
    """Print the network's errors, after a fit of the standard errors where one is asked for."""
    if arguments.fit:
        figures.fit_factors([_readings(folder) for folder in arguments.fit])
    readings = _readings(arguments.folder)
    figures.print_errors(readings)
    if arguments.map:
        figures.draw_map(readings, arguments.map)


def _test_classes(arguments: argparse.Namespace) -> None:
    """Print what the classifier is worth, after a fit where one is asked for."""
    if arguments.fit:
        classifier.fit(_readings(arguments.fit))
    classifier.print_worth(_readings(arguments.folder))


def _train(arguments: argparse.Namespace) -> None:
    """Train the network."""
    import torch

    from tests.training.recordings import load_recording
    from tests.training.samples import samples_of
    from tests.training.testing import HeldOut
    from tests.training.tflite import load_graph
    from tests.training.trainer import train

    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.backends.cudnn.allow_tf32 = True
    held_out = HeldOut(
        {
            split: samples_of(crops.load(arguments.crops / split), device)
            for split in ("tune", "test")
        },
        load_recording(arguments.real, device) if arguments.real else None,
    )
    train(
        load_graph(arguments.graph),
        arguments.crops / "train",
        held_out,
        arguments.seconds,
        arguments.every,
        arguments.folder,
        arguments.weights,
    )


if __name__ == "__main__":
    main()
