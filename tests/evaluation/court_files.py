"""Whether court files are held against the lines of the very clip.

`python -m tests.evaluation.court_files [--split test] [--count N]` renders three pictures of each
of N clips and judges court files for each as the analysis does: the clip's own, marked well and
badly; that of the phone turned or moved afterwards; those of other clips; and its own in a picture
whose lines can't be seen. It prints how many of each are taken, taken with a notice, replaced by
the court that finds itself, and refused; and how far lead angles are off with those that are taken.
"""

import argparse
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
import scipy

from stance.court.calibration import CalibratedCourt, FoundCourt, calibrate
from stance.court.camera import Camera, camera_centre, floor_point, project
from stance.court.court_file import MarkedCourt
from stance.court.detection.agreement import LineAgreement, measure_agreement
from stance.court.detection.detect import find_court
from stance.errors import InputError
from stance.types import FloatArray, ImageArray
from stance.watching.marked_check import decide
from tests.evaluation.court_accuracy import pictures_of, true_camera
from tests.rendering.clips import Clip, draw_clip
from tests.rendering.marked_court import marked_court

OTHERS = 4
PICTURES = 3
# What becomes of a court file, and its column in docs/accuracy.md.
ANSWERS = {
    "agrees": "taken",
    "unseen": "taken with a notice",
    "replaced": "replaced by the found court",
    "refused": "refused",
}


@dataclass(frozen=True)
class Still:
    """A clip's still picture, its true camera, and the court found in it."""

    clip: Clip
    picture: ImageArray
    camera: Camera
    found: FoundCourt


@dataclass(frozen=True)
class Trial:
    """A court file for a still: what it is, the camera that it gives, and the picture shown."""

    kind: str
    camera: Camera
    still: Still


def draw_still(seed: int, split: str) -> Still:
    """The still picture of a clip."""
    clip = draw_clip(seed, split, positions=2)
    pictures = pictures_of(clip, PICTURES)
    picture = np.partition(np.stack(pictures), len(pictures) // 2, axis=0)[len(pictures) // 2]
    return Still(clip, picture, true_camera(clip.camera), find_court(picture))


def list_trials(still: Still, stills: list[Still], rng: np.random.Generator) -> Iterator[Trial]:
    """All court files tried on a still."""
    for kind, noise, points in (
        ("own, 16 points, 1.5 pixels of 1280", 1.5, 16),
        ("own, 16 points, 3 pixels", 3.0, 16),
        ("own, 6 points, 3 pixels", 3.0, 6),
    ):
        unit = max(still.camera.image_size) / 1280
        camera = _mark(still.clip, noise * unit, points)
        if camera is not None:
            yield Trial(kind, camera, still)
    for degrees in (0.25, 0.5, 1.0, 2.0, 4.0, 8.0):
        turn = degrees * rng.choice((-1, 1))
        yield Trial(f"phone turned by {degrees:g} degrees", _move(still.camera, "y", turn), still)
    for way, axis in (("tilted", "x"), ("rolled", "z")):
        for degrees in (0.25, 0.5, 1.0):
            turn = degrees * rng.choice((-1, 1))
            moved = _move(still.camera, axis, turn)
            yield Trial(f"phone {way} by {degrees:g} degrees", moved, still)
    for metres in (0.1, 0.3, 1.0):
        away = metres / np.sqrt(2) * rng.choice((-1, 1), 2)
        yield Trial(f"phone moved by {metres:g} m", _move(still.camera, "y", 0.0, away), still)
    shape = [s for s in stills if s is not still and _same_shape(s.camera, still.camera)]
    for other in shape[:OTHERS]:
        yield Trial("another clip's", _resize(other.camera, still.camera.image_size), still)
    blur = 12 * max(still.camera.image_size) / 1280
    hidden = np.asarray(cv2.GaussianBlur(still.picture, (0, 0), blur), np.uint8)
    unseen = replace(still, picture=hidden, found=find_court(hidden))
    yield Trial("own, lines not to be seen", still.camera, unseen)


def judge(trial: Trial, agreement: LineAgreement) -> str:
    """What becomes of a court file."""
    court = CalibratedCourt(trial.camera, 1.0, "marked")
    try:
        return decide(court, trial.still.found, agreement).marked_fit
    except InputError:
        return "refused"


def _mark(clip: Clip, noise_px: float, points: int) -> Camera | None:
    """The camera of a court marked by hand; None where such marks are refused in any case."""
    file = marked_court(clip, noise_px, seed=0, most=points)
    marks = file["points"]
    try:
        return calibrate(
            MarkedCourt(
                tuple(file["image_size"]),
                np.array([p["court"] for p in marks], float),
                np.array([p["pixel"] for p in marks], float),
            )
        ).camera
    except (InputError, IndexError):
        return None


def measure_lead_error(taken: Camera, true: Camera) -> float:
    """How far lead angles are off with a camera, degrees: the mean over stances in the picture.

    Stances of 0.5 m at nine places of the defenders' half, with the racket foot back by 0, 25 and
    45 degrees.
    """
    errors: list[float] = []
    bases = np.array([[x, y, 0.0] for x in (-2.0, 0.0, 2.0) for y in (-5.5, -4.0, -2.5)])
    for lead_deg in (0.0, -25.0, -45.0):
        lead = np.radians(lead_deg)
        half = 0.25 * np.array([np.cos(lead), np.sin(lead), 0.0])
        with np.errstate(invalid="ignore"):
            ends = [project(true, bases + sign * half) for sign in (-1, 1)]
            inside = [((p > 0) & (p < true.image_size)).all(axis=1) for p in ends]
        other, racket = (floor_point(taken, pixels)[:, :2] for pixels in ends)
        line = (racket - other)[inside[0] & inside[1]]
        turned = np.degrees(np.arctan2(line[:, 1], line[:, 0])) - lead_deg
        errors += np.abs((turned + 180.0) % 360.0 - 180.0).tolist()
    return float(np.nanmean(errors)) if errors else float("nan")


def _move(
    camera: Camera, axis: str, turn_deg: float, away: FloatArray | tuple[float, float] = (0, 0)
) -> Camera:
    """A camera turned about one of its axes, and moved along the floor, metres."""
    turn = scipy.spatial.transform.Rotation.from_euler(axis, turn_deg, degrees=True).as_matrix()
    rotation = turn @ camera.rotation
    centre = camera_centre(camera) + [*away, 0.0]
    return replace(camera, rotation=rotation, translation=-rotation @ centre)


def _same_shape(first: Camera, second: Camera) -> bool:
    """Whether pictures have the same ratio of sides."""
    (a, b), (c, d) = first.image_size, second.image_size
    return a * d == b * c


def _resize(camera: Camera, size: tuple[int, int]) -> Camera:
    """A camera whose pictures have another size of the same shape."""
    grow = size[0] / camera.image_size[0]
    return replace(camera, matrix=np.diag([grow, grow, 1.0]) @ camera.matrix, image_size=size)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.court_files", description=__doc__.splitlines()[0]
    )
    parser.add_argument("--count", type=int, default=24)
    parser.add_argument("--first", type=int, default=7000)
    parser.add_argument("--split", default="test", choices=("train", "tune", "test"))
    options = parser.parse_args()
    stills = [
        draw_still(seed, options.split)
        for seed in range(options.first, options.first + options.count)
    ]
    rng = np.random.default_rng(0)
    trials = [trial for still in stills for trial in list_trials(still, stills, rng)]
    answers: dict[str, Counter[str]] = {}
    seen: dict[str, list[float]] = {}
    off: dict[str, list[float]] = {}
    for trial in trials:
        agreement = measure_agreement(trial.camera, trial.still.picture)
        answer = judge(trial, agreement)
        answers.setdefault(trial.kind, Counter())[answer] += 1
        seen.setdefault(trial.kind, []).append(agreement.seen)
        if answer in ("agrees", "unseen"):
            error = measure_lead_error(trial.camera, trial.still.camera)
            off.setdefault(trial.kind, []).append(error)
    titles = " | ".join(ANSWERS.values())
    print(
        f"| court file | n | lines seen: least, median, most | {titles} "
        "| lead angle off with those taken: median, most, degrees |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for kind, counts in answers.items():
        parts = np.percentile(seen[kind], [0, 50, 100])
        shown = " | ".join(str(counts[answer]) for answer in ANSWERS)
        known = [error for error in off.get(kind, []) if np.isfinite(error)]
        error = f"{np.median(known):.1f}, {np.max(known):.1f}" if known else ""
        print(
            f"| {kind} | {counts.total()} | {', '.join(f'{p:.2f}' for p in parts)} | {shown} "
            f"| {error} |"
        )


if __name__ == "__main__":
    main()
