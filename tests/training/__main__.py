"""Commands of the training: render portraits, train the network (models/README.md)."""

import argparse
from pathlib import Path

from tests.training import classifier, figures, portraits, rackets


def main() -> None:
    """Run a command."""
    parser = argparse.ArgumentParser(prog="python -m tests.training", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    rendering = commands.add_parser("portraits", help="render stills and take the portraits")
    for split in ("test", "tune", "train"):
        rendering.add_argument(f"--{split}", type=int, default=0, help="how many seeds")
    rendering.add_argument("--stances", type=int, default=1, help="of each person")
    rendering.add_argument("--first", type=int, default=0, help="the first seed")
    rendering.add_argument("--workers", type=int, default=2)
    rendering.add_argument("--seconds", type=float, default=1e6, help="stop after this long")
    rendering.add_argument("folder", type=Path)
    training = commands.add_parser("train", help="train the network in a time given")
    training.add_argument("--graph", type=Path, required=True, help="from tests.training.tflite")
    training.add_argument("--portraits", type=Path, required=True, help="folder of portraits")
    training.add_argument("--real", type=Path, help="a real recording to test on")
    training.add_argument("--seconds", type=float, required=True)
    training.add_argument("--every", type=float, default=60.0, help="seconds between tests")
    training.add_argument("--weights", type=Path, help="of an earlier training, to go on from")
    training.add_argument("folder", type=Path)
    testing = commands.add_parser("test", help="print the network's errors on portraits")
    testing.add_argument("--fit", type=Path, help="fit the standard errors first, on this folder's")
    testing.add_argument("--map", type=Path, help="draw the errors from above into this picture")
    testing.add_argument("folder", type=Path, help="folder of one split's portraits")
    sharing = commands.add_parser("shared", help="print what errors a clip's stances share")
    sharing.add_argument("--stances", type=int, required=True, help="of each person")
    sharing.add_argument("folder", type=Path, help="folder of one split's portraits")
    classes = commands.add_parser("classes", help="print what the classifier is worth")
    classes.add_argument("--fit", type=Path, help="fit it first, on this folder's portraits")
    classes.add_argument("folder", type=Path, help="folder of one split's portraits")
    hands = commands.add_parser("hands", help="render frames and take the squares around hands")
    hands.add_argument("--split", choices=("train", "tune"), required=True)
    hands.add_argument("--first", type=int, default=0, help="the first seed")
    hands.add_argument("--count", type=int, required=True)
    hands.add_argument("--workers", type=int, default=2)
    hands.add_argument("--seconds", type=float, default=1e6, help="stop after this long")
    hands.add_argument("folder", type=Path)
    holding = commands.add_parser("rackets", help="train the network that sees rackets")
    holding.add_argument("--seconds", type=float, required=True)
    holding.add_argument("squares", type=Path, help="folder of squares")
    holding.add_argument("folder", type=Path)
    arguments = parser.parse_args()
    if arguments.command == "hands":
        rackets.take_all(
            arguments.split,
            arguments.first,
            arguments.count,
            arguments.workers,
            arguments.seconds,
            arguments.folder,
        )
    elif arguments.command == "rackets":
        rackets.train(arguments.squares, arguments.folder, arguments.seconds)
    elif arguments.command == "portraits":
        parts = [(split, getattr(arguments, split)) for split in ("test", "tune", "train")]
        portraits.build(
            [part for part in parts if part[1]],
            arguments.stances,
            arguments.first,
            arguments.workers,
            arguments.seconds,
            arguments.folder,
        )
    elif arguments.command == "train":
        _train(arguments)
    elif arguments.command == "classes":
        if arguments.fit:
            classifier.fit(figures.read(portraits.load(arguments.fit)))
        classifier.print_worth(figures.read(portraits.load(arguments.folder)))
    elif arguments.command == "shared":
        figures.print_shared(figures.read(portraits.load(arguments.folder)), arguments.stances)
    else:
        if arguments.fit:
            figures.fit_factors(figures.read(portraits.load(arguments.fit)))
        readings = figures.read(portraits.load(arguments.folder))
        figures.print_errors(readings)
        if arguments.map:
            figures.draw_map(readings, arguments.map)


def _train(arguments: argparse.Namespace) -> None:
    """Train the network."""
    import torch

    from tests.training import network
    from tests.training.tflite import load_graph

    device = torch.device("cuda" if torch.cuda.is_available() else "cpu")
    torch.backends.cudnn.benchmark = True
    torch.backends.cudnn.allow_tf32 = True
    tests = {
        split: network.samples_of(portraits.load(arguments.portraits / split), device)
        for split in ("tune", "test")
    }
    recording = network.load_recording(arguments.real, device) if arguments.real else None
    network.train(
        load_graph(arguments.graph),
        arguments.portraits / "train",
        tests,
        recording,
        arguments.seconds,
        arguments.every,
        arguments.folder,
        arguments.weights,
    )


if __name__ == "__main__":
    main()
