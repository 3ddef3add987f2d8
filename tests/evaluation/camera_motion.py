"""Clips filmed by a hand that sways, and how well the sway is taken out again.

Pictures of a rendered drill are turned as a camera that pans, tilts and rolls about its place
would show them (`pixel ~ K R K^-1 pixel`, Hartley and Zisserman, Multiple View Geometry, 2nd
edition, section 8.4), so the truth is known to the pixel.

    python -m tests.evaluation.camera_motion       prints what docs/accuracy.md says of the sway
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np
import numpy.typing as npt
from scipy.spatial.transform import Rotation

from stance.camera_motion.motion import CameraMotion, homography_to_reference
from stance.camera_motion.registration import apply_homography
from stance.camera_motion.segments import estimate_camera_motions
from stance.video.reader import read_frames
from stance.video.writer import VideoWriter
from tests.paths import DATA

FloatArray = npt.NDArray[np.float64]

SAMPLE = DATA / "rear_corner_drill.mp4"
# Of the sample clip, pixels: focal length, and what is cut off so that no edge comes into view.
FOCAL, MARGIN = 900.0, 80


@dataclass(frozen=True)
class Sway:
    """A hand's tremor: amplitudes of pan, tilt and roll in degrees, each at its rates in hertz."""

    amplitude_deg: tuple[float, float, float]
    seed: int
    rates: tuple[float, ...] = (0.3, 0.8, 2.1, 4.0)

    def turn(self, time_s: float) -> FloatArray:
        """The camera's turn (3, 3) at a time: sines of falling amplitude and random phase."""
        rng = np.random.default_rng(self.seed)
        phases = rng.uniform(0, 2 * np.pi, (len(self.rates), 3))
        rates = np.array(self.rates)[:, None]
        waves = np.sin(2 * np.pi * rates * time_s + phases) / (1 + rates)
        return turned(*(np.array(self.amplitude_deg) * waves.sum(axis=0)))


def turned(pan_deg: float, tilt_deg: float, roll_deg: float) -> FloatArray:
    """A camera's turn (3, 3)."""
    return Rotation.from_euler("yxz", [pan_deg, tilt_deg, roll_deg], degrees=True).as_matrix()


def picture_change(turn: FloatArray, size: tuple[int, int]) -> FloatArray:
    """The homography (3, 3) that turning the camera makes of a picture of (width, height)."""
    matrix = np.array([[FOCAL, 0, size[0] / 2], [0, FOCAL, size[1] / 2], [0, 0, 1]])
    return matrix @ turn @ np.linalg.inv(matrix)


def write_moved(
    path: Path,
    turn: Callable[[float], FloatArray],
    clip: Path = SAMPLE,
    seconds: float = 4.0,
    size: tuple[int, int] = (1120, 560),
) -> FloatArray:
    """Write a clip as a camera that turns films it; return the truth.

    Returns
    -------
    (frames, 3, 3) homographies from the pixel that a camera at rest would give to the clip's.
    """
    changes = []
    corner = np.array([[1.0, 0, -MARGIN], [0, 1, -MARGIN], [0, 0, 1]])
    centred = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    with VideoWriter(path, size, 30.0, crf=18) as video:
        for frame in read_frames(clip):
            if frame.time_s >= seconds:
                break
            change = picture_change(turn(frame.time_s), size)
            shown = np.linalg.inv(centred) @ change @ corner @ centred
            video.write(
                cv2.warpPerspective(frame.image, shown, size, flags=cv2.INTER_AREA), frame.time_s
            )
            changes.append(change)
    return np.array(changes)


def errors_px(motion: CameraMotion, changes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far content is off the reference picture's, (frames, points): as filmed, and after."""
    width, height = motion.image_size
    pixels = np.array(
        [
            [x, y]
            for x in np.linspace(0.1, 0.9, 5) * width
            for y in np.linspace(0.3, 0.95, 5) * height
        ]
    )
    shown = np.stack([_moved(changes[k], pixels) for k in motion.frames])
    wanted = _moved(changes[motion.reference_frame], pixels)
    steadied = shown
    if not motion.stands:
        steadied = np.stack(
            [
                apply_homography(homography_to_reference(motion, int(frame)), seen)
                for frame, seen in zip(motion.frames, shown, strict=True)
            ]
        )
    return (np.linalg.norm(shown - wanted, axis=-1), np.linalg.norm(steadied - wanted, axis=-1))


def _moved(change: FloatArray, pixels: FloatArray) -> FloatArray:
    moved = np.column_stack([pixels, np.ones(len(pixels))]) @ change.T
    return moved[:, :2] / moved[:, 2:]


def main() -> None:
    """Print the error before and after for sways of several sizes."""
    print("sway of a clip of 1120 x 560 pixels, over the floor's part of the picture; pixels")
    print(
        f"{'amplitude':>10} {'before rms':>11} {'largest':>8} {'after rms':>10} "
        f"{'95 %':>6} {'largest':>8}"
    )
    with TemporaryDirectory() as folder:
        for degrees in (0.0, 0.1, 0.3, 0.6, 1.2):
            path = Path(folder) / "sway.mp4"
            sway = Sway((degrees, 0.8 * degrees, 0.5 * degrees), seed=int(10 * degrees))
            changes = write_moved(path, sway.turn, seconds=8.0)
            motion, *_ = estimate_camera_motions(path, (1120, 560))
            before, after = errors_px(motion, changes)
            print(
                f"{degrees:>8.1f} ° {np.sqrt(np.mean(before**2)):>11.2f} {before.max():>8.1f} "
                f"{np.sqrt(np.mean(after**2)):>10.2f} {np.percentile(after, 95):>6.2f} "
                f"{after.max():>8.2f}{'  (stands)' if motion.stands else ''}"
            )


if __name__ == "__main__":
    main()
