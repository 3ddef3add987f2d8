"""How well courts are known through wide-angle lenses that bend lines.

`python -m tests.evaluation.wide_lenses [--count N] [--split test]` renders a picture of each of N
drills through lenses of action cameras in turn (`tests.rendering.wide_lenses`) and prints for each
lens how many courts find themselves, and the errors of floor places and of the net's direction in
the defenders' half: found, and marked by hand at 12 crossings with a scatter of 0.5 and 1 pixel of
1280. A court is wrong as in `court_accuracy`.

With `--models` it renders nothing and fits other lens models to the same marks by
`scipy.optimize.least_squares`: no bending, one and two radial terms of OpenCV's, and the tool's.
"""

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import scipy

from stance.court.calibration import calibrate
from stance.court.camera import Camera, floor_point
from stance.court.court_file import MarkedCourt
from stance.court.detection.detect import find_court
from stance.court.pose import focal_misfit, move_camera
from stance.errors import InputError
from stance.types import FloatArray
from tests.evaluation.court_accuracy import WRONG_M, pictures_of
from tests.rendering.cameras import AZIMUTHS_DEG, VIEWS, ViewCamera, WideLens
from tests.rendering.clips import Clip, draw_clip
from tests.rendering.marked_court import mark_seen
from tests.rendering.players import pose_player
from tests.rendering.splits import generator
from tests.rendering.wide_lenses import WIDE_LENSES, aim_wide, film_through

SCATTERS_PX = (0.5, 1.0)
MARKS = 12
FEET_M = 0.15
GRID = np.array([[x, y, 0.0] for x in np.linspace(-3, 3, 7) for y in np.linspace(-6.5, 0, 14)])

Place = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True)
class Errors:
    """Of places (n,) in metres and of the direction of the net there (n,) in degrees."""

    places: FloatArray
    directions: FloatArray


def measure_errors(true: ViewCamera, place: Place) -> Errors:
    """Errors in the defenders' half, where the picture shows a line of 0.6 m along the net.

    `place` takes pixels (n, 2) to places (n, 2), up to a turn of the court by 180 degrees.
    """
    ends = [GRID - [0.3, 0, 0], GRID, GRID + [0.3, 0, 0]]
    shown = [true.project(points) for points in ends]
    inside = np.logical_and.reduce(
        [((p[:, :2] > 0) & (p[:, :2] < true.size)).all(axis=1) & (p[:, 2] > 0.1) for p in shown]
    )
    left, middle, right = (place(pixels[inside, :2]) for pixels in shown)
    away = [np.linalg.norm(sign * middle - GRID[inside, :2], axis=1) for sign in (1, -1)]
    sign = 1 if np.nanmedian(away[0]) < np.nanmedian(away[1]) else -1
    along = sign * (right - left)
    places = np.nan_to_num(away[0 if sign == 1 else 1], nan=99.0)
    return Errors(places, np.abs(np.degrees(np.arctan2(along[:, 1], along[:, 0]))))


def draw_cases(count: int, first: int, split: str) -> Iterator[tuple[str, Clip]]:
    """Clips through each lens in turn, from all four views."""
    names = list(WIDE_LENSES)
    for seed in range(first, first + count):
        name = names[seed // len(VIEWS) % len(names)]
        yield name, film_through(draw_clip(seed, split, positions=2), name)


def mark(camera: ViewCamera, scatter_px: float, seed: int) -> MarkedCourt:
    """Marks of the crossings that a camera sees, with a scatter in pixels of 1280."""
    file = mark_seen(camera, scatter_px * max(camera.size) / 1280, seed, MARKS)
    points = file["points"]
    return MarkedCourt(
        tuple(file["image_size"]),
        np.array([point["court"] for point in points], float),
        np.array([point["pixel"] for point in points], float),
    )


def known_by(camera: Camera) -> Place:
    """Where a camera places pixels."""
    return lambda pixels: floor_point(camera, pixels)[:, :2]


def evaluate(count: int, first: int, split: str) -> None:
    """Print the errors of found and marked courts."""
    results: dict[str, list[Errors | None]] = {}
    for lens, clip in draw_cases(count, first, split):
        joints = pose_player(clip.player, clip.drill.posture(0.0)).joints
        feet = clip.camera.project(joints[joints[:, 2] < FEET_M])[:, :2]
        found = find_court(pictures_of(clip, 1)[0], feet).court
        ways = {"found": None if found is None else found.camera}
        for scatter in SCATTERS_PX:
            marked = mark(clip.camera, scatter, clip.seed)
            try:
                ways[f"marked, {scatter} px"] = calibrate(marked).camera
            except InputError:
                ways[f"marked, {scatter} px"] = None
        for way, camera in ways.items():
            errors = None if camera is None else measure_errors(clip.camera, known_by(camera))
            results.setdefault(f"{lens} | {way}", []).append(errors)
    print_table("lens | court", results)


LensFactor = Callable[[FloatArray, FloatArray], FloatArray]

MODELS: dict[str, tuple[int, LensFactor]] = {
    "straight": (0, lambda k, squared: np.ones_like(squared)),
    "one radial term": (1, lambda k, squared: 1 + k[0] * squared),
    "two radial terms": (2, lambda k, squared: 1 + k[0] * squared + k[1] * squared**2),
    "the tool's": (1, lambda k, s: 2 / (1 + np.sqrt(np.maximum(1 - 4 * k[0] * s, 0)))),
}


def fit_model(true: ViewCamera, marked: MarkedCourt, model: str, scatter_px: float) -> Place:
    """A lens model fitted to marks, from the true camera on."""
    count, factor = MODELS[model]
    start = Camera(true.matrix, true.rotation, true.translation, true.size)
    points = np.column_stack([marked.court_points, np.zeros(len(marked.pixels))])

    def misfit(step: FloatArray) -> FloatArray:
        camera = move_camera(start, np.append(step[:7], 0.0))
        local = points @ camera.rotation.T + camera.translation
        plane = local[:, :2] / np.maximum(local[:, 2:], 0.05)
        bent = plane * factor(step[7:], np.sum(plane**2, axis=1, keepdims=True))
        pixels = camera.matrix[0, 0] * bent + camera.matrix[:2, 2]
        off = (pixels - marked.pixels).ravel() / scatter_px
        return np.concatenate([off, [focal_misfit(camera)], step[7:] / 0.3])

    step = scipy.optimize.least_squares(misfit, np.zeros(7 + count), x_scale="jac").x
    camera = move_camera(start, np.append(step[:7], 0.0))
    radii = np.linspace(0.0, 8.0, 8001)
    shown = radii * factor(step[7:], radii**2)
    grows = np.append(True, np.cumprod(np.diff(shown) > 0).astype(bool))
    lens = WideLens(radii[grows], shown[grows])

    def place(pixels: FloatArray) -> FloatArray:
        plane = (pixels - camera.matrix[:2, 2]) / camera.matrix[0, 0]
        straight = lens.straighten(plane) * camera.matrix[0, 0] + camera.matrix[:2, 2]
        return floor_point(camera, straight)[:, :2]

    return place


def compare_models(count: int, first: int, split: str) -> None:
    """Print the errors of other lens models on the same marks."""
    results: dict[str, list[Errors | None]] = {}
    for number, seed in enumerate(range(first, first + count)):
        lens = list(WIDE_LENSES)[number % len(WIDE_LENSES)]
        rng = generator(seed, split)
        home = np.array([rng.uniform(-1.8, 1.8), rng.uniform(-5.0, -2.6), 0.9])
        view = VIEWS[number // len(WIDE_LENSES) % len(VIEWS)]
        azimuth = np.radians(rng.uniform(*AZIMUTHS_DEG[view]) * rng.choice((-1, 1)))
        away = 6.0 * np.array([np.sin(azimuth), -np.cos(azimuth), rng.uniform(0.05, 0.45)])
        camera = aim_wide(rng, lens, home, away, (1280, 720))
        for scatter in SCATTERS_PX:
            marked = mark(camera, scatter, seed)
            if len(marked.pixels) < 8:
                continue
            for model in MODELS:
                place = fit_model(camera, marked, model, scatter)
                name = f"{lens} | {model}, {scatter} px"
                results.setdefault(name, []).append(measure_errors(camera, place))
    print_table("lens | model", results)


def print_table(heading: str, results: dict[str, list[Errors | None]]) -> None:
    """Print a row for each lens and way."""
    print(
        f"| {heading} | n | known | wrong | places: median, 95 % within, cm "
        "| direction of the net: median, 95 % within, degrees |\n|---|---|---|---|---|---|---|"
    )
    for name, entries in sorted(results.items()):
        known = [errors for errors in entries if errors is not None and len(errors.places)]
        if not known:
            print(f"| {name} | {len(entries)} | 0 | 0 | | |")
            continue
        places = 100 * np.concatenate([errors.places for errors in known])
        turns = np.concatenate([errors.directions for errors in known])
        wrong = sum(errors.places.max() > WRONG_M for errors in known)
        print(
            f"| {name} | {len(entries)} | {len(known)} | {wrong} "
            f"| {np.median(places):.1f}, {np.percentile(places, 95):.1f} "
            f"| {np.nanmedian(turns):.2f}, {np.nanpercentile(turns, 95):.2f} |"
        )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.wide_lenses", description=__doc__.splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=48)
    parser.add_argument("--first", type=int, default=9000)
    parser.add_argument("--split", default="test", choices=("train", "tune", "test"))
    parser.add_argument("--models", action="store_true", help="compare lens models instead")
    options = parser.parse_args()
    measure = compare_models if options.models else evaluate
    measure(options.count, options.first, options.split)


if __name__ == "__main__":
    main()
