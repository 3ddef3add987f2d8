"""Print the errors of each camera alone, or build the reference again.

python -m tests.evaluation.real_recording          errors of each camera alone, model by model
python -m tests.evaluation.real_recording build    triangulate the reference again
"""

import argparse
import itertools
from collections.abc import Iterator, Sequence

import numpy as np

from stance.people.landmarker import Landmarker
from stance.runtime.model_files import Model
from tests.evaluation.real_recording.bones import BONES, bone_lengths
from tests.evaluation.real_recording.building import build_reference
from tests.evaluation.real_recording.errors import (
    TURNS_ASIDE,
    against,
    bias_and_mean,
    difference,
    error_text,
    errors,
    feet_reference_error,
    holds,
    network_errors,
    turned_aside_errors,
)
from tests.evaluation.real_recording.observing import mean_pose, observe_person
from tests.evaluation.real_recording.recording import CAMERAS, read_cameras
from tests.evaluation.real_recording.reference import (
    JOINT_NAMES,
    Reference,
    read_reference,
    write_reference,
)

MODELS: tuple[Model, ...] = ("lite", "full", "heavy")
BIAS_AND_MEAN = "(bias, mean absolute)"


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table, or build the reference again."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.evaluation.real_recording",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "task",
        nargs="?",
        choices=("print", "build"),
        default="print",
        help="print the errors (default), or build the reference again",
    )
    if parser.parse_args(arguments).task == "build":
        write_reference(build_reference())
    reference = read_reference()
    for part in (reference_quality, network_table, accuracy_table, turned_aside_table):
        for line in part(reference):
            print(line, flush=True)


def reference_quality(reference: Reference) -> Iterator[str]:
    """Yield lines that say what the reference is worth."""
    yield f"reference: {len(reference.frames)} frames, {reference.swapped} left/right swaps undone"
    shifts = "  ".join(f"({x:+.0f}, {y:+.0f})" for x, y in reference.shifts)
    yield f"pictures off their published calibration, pixels: {shifts}"
    named = "  ".join(
        f"{name} {value:.1f}"
        for name, value in zip(JOINT_NAMES, np.median(reference.error, axis=0), strict=True)
    )
    yield f"reprojection error, median, pixels: {named}"
    lengths = 100 * bone_lengths(reference.positions)
    yield "lengths over all frames, cm: " + "; ".join(
        f"{first} to {second} {length.mean():.1f} (SD {length.std():.1f})"
        for (first, second), length in zip(BONES, lengths.T, strict=True)
    )
    apart = 100 * np.linalg.norm(np.diff(reference.markers, axis=1)[:, 0], axis=-1)
    yield (
        f"markers on the pelvis: {apart.mean():.1f} cm apart (SD {apart.std():.2f}), "
        f"reprojection error at most {reference.marker_error.max():.1f} pixels"
    )
    landmarks = reference.landmark_directions
    yield (
        "hips by landmarks against the markers, degrees "
        + BIAS_AND_MEAN
        + ": {:+.1f} {:.1f}".format(
            *bias_and_mean(difference(landmarks.hips, reference.directions.hips))
        )
    )
    yield "landmarks triangulated in other ways, against the same, degrees " + BIAS_AND_MEAN
    others = [(f"without camera {view + 1}", part) for view, part in enumerate(reference.without)]
    for name, other in [*others, ("bones of equal length", reference.equal_bones)]:
        yield f"  {name:28}" + error_text(against(reference, other, landmarks))


def accuracy_table(reference: Reference) -> Iterator[str]:
    """Yield the errors of each camera alone, model by model."""
    cameras = read_cameras()
    rows = range(len(reference.frames))
    frames = [int(frame) for frame in reference.frames]
    yield (
        f"errors of one camera alone, degrees {BIAS_AND_MEAN}; feet in the "
        f"{int(reference.standing.sum())} frames where both stand"
    )
    for model in MODELS:
        with Landmarker(model) as landmarker:
            poses = observe_person(landmarker, frames, reference.hips_middle)
        for view, camera in enumerate(cameras):
            single = [pair[0] for pair in poses[view]]
            mean = [mean_pose(pair) for pair in poses[view]]
            found = sum(pose is not None for pose in single)
            yield f"{model}, camera {view + 1}: found in {found} of {len(frames)} frames"
            for name, chosen, viewing_ray in (
                ("camera only (naive)", single, False),
                ("viewing ray + camera", single, True),
                ("the same, with mirror image", mean, True),
            ):
                yield f"  {name:28}" + error_text(
                    errors(camera, chosen, reference, rows, reference.directions, viewing_ray)
                )
            for name, truth in (
                ("... hips by landmarks", reference.landmark_directions),
                ("... of the other three", reference.without[view]),
                ("... of equal bones", reference.equal_bones),
            ):
                yield f"  {name:28}" + error_text(errors(camera, mean, reference, rows, truth))


def network_table(reference: Reference) -> Iterator[str]:
    """Yield the errors of the tool's own network, camera by camera."""
    yield f"the tool's network on the rectified crop, degrees {BIAS_AND_MEAN}"
    found = [
        network_errors(view, range(len(reference.frames)), reference) for view in range(CAMERAS)
    ]
    for view, made in enumerate(found):
        yield f"  camera {view + 1}                    " + error_text(made.errors)
    of_reference = feet_reference_error(reference)
    hips = [(made.errors.hips, made.sizes.hips) for made in found]
    feet = [(made.errors.feet, np.hypot(made.sizes.feet, of_reference)) for made in found]
    for name, pairs in (("hips", hips), ("feet, with the reference's own error", feet)):
        errors, sizes = (np.concatenate(part) for part in zip(*pairs, strict=True))
        yield (
            f"  95 % intervals hold, {name}: {holds(errors, sizes):.1f} % of "
            f"{np.isfinite(errors).sum()}"
        )


def turned_aside_table(reference: Reference) -> Iterator[str]:
    """Yield what the viewing ray is worth when the person is far off the picture's middle."""
    rows = range(0, len(reference.frames), 5)
    yield f"heavy with mirror image, phone turned aside, {len(rows)} frames"
    with Landmarker("heavy") as landmarker:
        for view, degrees in itertools.product(range(CAMERAS), TURNS_ASIDE):
            made = turned_aside_errors(landmarker, view, rows, reference, degrees)
            for name, errors_of_way in zip(("with viewing ray", "without"), made, strict=True):
                yield f"  camera {view + 1} {degrees:+4.0f}  {name:18}" + error_text(errors_of_way)


if __name__ == "__main__":
    main()
