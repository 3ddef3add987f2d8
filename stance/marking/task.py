"""What is marked: the clip's background picture, and a court found in it."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stance.camera_motion.background import still_pictures, without_people
from stance.camera_motion.segments import camera_motion
from stance.court.camera import Camera, depth, project
from stance.court.court_file import MarkedCourt, read_court_file
from stance.court.detection.detect import find_court
from stance.court.detection.feet import moving_feet
from stance.court.dimensions import court_lines, court_points, net_points
from stance.court.floor_error import floor_direction_error
from stance.errors import InputError
from stance.types import FloatArray
from stance.video.probe import describe_clip

JPEG_QUALITY = 93

# A place on the floor in the middle of each half, where stances are measured, metres.
_HALF_MIDDLES = ((0.0, -4.0), (0.0, 4.0))


def court_file_beside(clip: str | Path) -> Path:
    """Where the court file of a clip is looked for and saved: `<clip name>.court.json`."""
    return Path(clip).with_suffix(".court.json")


def seen_lines(camera: Camera) -> tuple[list[FloatArray], list[FloatArray]]:
    """Where a camera sees the middles of the court's lines, and the top of the net.

    Returns
    -------
    Two lists, lines and net, of courses (points, 2) in pixels, that end where they leave the
    picture by more than its own size or pass behind the camera.
    """
    floor = []
    for line in court_lines():
        (left, right), (back, front) = line.x, line.y
        if right - left > front - back:
            ends = (left, (back + front) / 2, 0.0), (right, (back + front) / 2, 0.0)
        else:
            ends = ((left + right) / 2, back, 0.0), ((left + right) / 2, front, 0.0)
        floor += _courses(camera, *ends)
    posts = net_points()
    net = [
        *_courses(camera, posts["left post"], posts["middle"]),
        *_courses(camera, posts["middle"], posts["right post"]),
    ]
    return floor, net


def least_direction_error_deg(camera: Camera) -> float:
    """What the marking alone adds to a direction on the better known half, degrees."""
    return float(
        np.nanmin([floor_direction_error(camera, place).direction_deg for place in _HALF_MIDDLES])
    )


def marks_of(camera: Camera) -> MarkedCourt:
    """Crossings of lines, each at its middle, where a camera sees them in the picture."""
    places = np.array([place for name, place in court_points().items() if name.endswith("centre")])
    points = np.column_stack([places, np.zeros(len(places))])
    with np.errstate(invalid="ignore"):
        pixels = project(camera, points)
        margin = 0.005 * max(camera.image_size)
        shown = ((pixels > margin) & (pixels < np.array(camera.image_size) - margin)).all(axis=1)
    return MarkedCourt(camera.image_size, places[shown], pixels[shown])


def _courses(
    camera: Camera,
    start: tuple[float, float, float],
    end: tuple[float, float, float],
) -> list[FloatArray]:
    """A straight line of the court in the picture, as one or no course (points, 2)."""
    points = np.linspace(start, end, 25)
    points = points[depth(camera, points) > 0.2]
    pixels = project(camera, points)
    size = np.array(camera.image_size)
    near = ((pixels > -size) & (pixels < 2 * size)).all(axis=1)
    return [pixels[near]] if near.sum() > 1 else []


@dataclass(frozen=True, eq=False)
class MarkingTask:
    """What is marked, and where the marks go.

    Attributes
    ----------
    clip : name shown on the page.
    background : (height, width, 3) uint8 RGB, upright.
    court_file : file to save to.
    start : marks to begin with, or None.
    start_source : "marked" for those of an earlier court file, "found" for those of a court that
        was found in the picture, "" for none.
    """

    clip: str
    background: NDArray[np.uint8]
    court_file: Path
    start: MarkedCourt | None = None
    start_source: str = ""

    @property
    def image_size(self) -> tuple[int, int]:
        """(width, height) of the picture, pixels."""
        return self.background.shape[1], self.background.shape[0]


def marking_task(clip: str | Path, court_file: Path) -> MarkingTask:
    """What is needed to mark the court of a clip: its background, and marks to begin with.

    Raises
    ------
    InputError
        If the clip can't be read or its camera keeps moving; if there is a file of the court
        file's name that is no court file of this clip, since it would be overwritten.
    """
    size = describe_clip(clip).size
    start = None
    if court_file.exists():
        try:
            start = read_court_file(court_file, size)
        except InputError as error:
            raise InputError(
                f"{error} It would be overwritten; move it away, or name another file with --out."
            ) from error
    pictures = still_pictures(clip, camera_motion(clip, size))
    background = without_people(pictures)
    if start is not None:
        return MarkingTask(Path(clip).name, background, court_file, start, "marked")
    found = find_court(background, moving_feet(pictures, background)).court
    if found is None:
        return MarkingTask(Path(clip).name, background, court_file)
    return MarkingTask(Path(clip).name, background, court_file, marks_of(found.camera), "found")
