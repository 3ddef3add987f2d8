"""Whether a marked court lies on the lines that are painted in a picture."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stance.court.camera import Camera, floor_point
from stance.court.detection.edges import Edges, locate_edges
from stance.court.detection.line_samples import LINE_EDGES, find_places_without_line
from stance.court.detection.net_tape import is_behind_tape
from stance.court.detection.pictures import convert_to_lab
from stance.court.detection.stripes import (
    SAMPLES_PER_STRIPE,
    Stripes,
    find_line_colours,
    find_stripes,
    sample_stripes,
)
from stance.court.detection.turning import measure_turn, turn_onto_lines
from stance.types import FloatArray, ImageArray

AGREES = 0.5
"""A court whose lines are seen to such a part beyond chance lies on the painted one."""

DISAGREES = 0.25
"""One whose lines are seen to a smaller part does not, where other lines show."""

MOST_TURNED_DEG = 1.5
"""A court by which lead angles are off by more on the mean is not taken before another is searched:
courts marked with a scatter of 1.5 pixels are off by 0.9 degrees at most."""

STRAY_LENGTH = 0.3
"""Stripes that are so long together, in long sides of the picture, where the court has no line,
speak against it."""

# The picture's long side is made so many pixels.
_WORKING_SIDE = 1280

# Marks made by eye miss by two pixels, and their camera knows of no bent lens: an edge counts as
# seen within so many of 1280 pixels.
_REACH = 4.5

# Smallest step in brightness, of 100, that counts as the edge of a line.
_LEAST_STEP = 2.5

# Lines along and across the court are judged apart where so much of them shows: long sides of the
# picture, and samples on edges. What shows of one way alone would agree with a court pushed along.
_LEAST_LENGTH, _LEAST_SAMPLES = 0.1, 8

# Where the court would be by chance: pushed (m) and turned (radians) on the floor, from line to
# beside line.
_ELSEWHERE = (
    (0.25, 0.3, 0.05),
    (-0.25, 0.3, -0.05),
    (0.3, -0.35, 0.08),
    (-0.3, -0.35, -0.08),
    (0.2, 0.25, 0.0),
    (-0.2, -0.25, 0.0),
    (0.0, 0.3, 0.1),
    (0.25, 0.0, -0.1),
)


@dataclass(frozen=True)
class LineAgreement:
    """How far a court's lines and a picture's agree.

    Attributes
    ----------
    seen
        part of the court's lines that is seen where it should be, beyond what is seen by chance, of
        the lines along or across, whichever are seen less; 1 for all, 0 or less for a court
        anywhere
    stray
        length of stripes in the picture where the court has no line, in the picture's long sides
    turned_deg
        how far lead angles are off by it, as far as a turn about the camera's centre puts it onto
        the painted lines, degrees
    """

    seen: float
    stray: float
    turned_deg: float = 0.0

    @property
    def agrees(self) -> bool:
        """Whether the court lies on the painted one."""
        return self.seen >= AGREES

    @property
    def is_straight(self) -> bool:
        """Whether a court that agrees gives the direction of the net, too."""
        return self.turned_deg <= MOST_TURNED_DEG

    @property
    def disagrees(self) -> bool:
        """Whether lines are painted on the floor, and the court lies beside them."""
        return self.seen < DISAGREES and self.stray >= STRAY_LENGTH


def measure_agreement(camera: Camera, picture: ImageArray) -> LineAgreement:
    """Measure whether a court lies on the painted lines of a picture.

    Parameters
    ----------
    camera
        that the court's marks give
    picture
        (height, width, 3) RGB, best without people
    """
    shrink = min(1.0, _WORKING_SIDE / max(camera.image_size))
    lab = convert_to_lab(picture, shrink)
    stripes = find_stripes(lab)
    small = replace(
        camera,
        matrix=np.diag([shrink, shrink, 1.0]) @ camera.matrix,
        image_size=(lab.shape[1], lab.shape[0]),
    )
    lights = list(_list_pictures(lab, stripes))
    seen = [_measure_seen(small, light) for light in lights]
    turned = turn_onto_lines(small, lights[int(np.argmax(seen))], _LEAST_STEP)
    return LineAgreement(max(seen), _measure_stray(small, stripes), measure_turn(small, turned))


def _list_pictures(lab: NDArray[np.float32], stripes: Stripes) -> Iterator[NDArray[np.float32]]:
    """Pictures in which lines are brighter than the floor: the light, and by each line colour."""
    yield np.ascontiguousarray(lab[..., 0])
    for colour in find_line_colours(stripes) if len(stripes) else ():
        contrast = np.median(
            stripes.inside[colour.members] - stripes.outside[colour.members], axis=0
        )
        direction = contrast / max(float(np.linalg.norm(contrast)), 1e-9)
        yield (lab @ direction).astype(np.float32)


def _measure_seen(camera: Camera, light: NDArray[np.float32]) -> float:
    """The part of the lines that is seen beyond chance; lines are bright in the picture `light`."""
    here = _rate_families(camera, light)
    if not here:
        return 0.0
    elsewhere = [_rate_families(_push(camera, *push), light) for push in _ELSEWHERE]
    beyond = []
    for family, share in here.items():
        chances = [other[family] for other in elsewhere if family in other]
        chance = min(float(np.median(chances)), 0.9) if chances else 0.0
        beyond.append((share - chance) / (1.0 - chance))
    return min(beyond)


def _rate_families(camera: Camera, light: NDArray[np.float32]) -> dict[str, float]:
    """The part seen of the lines along and of those across, of which enough should show."""
    long_side = max(camera.image_size)
    reach = _REACH * long_side / 1280
    edges = locate_edges(camera, light, reach + 1.0, _LEAST_STEP)
    with np.errstate(invalid="ignore"):
        found = np.abs(edges.offset) < reach
    along = np.abs(LINE_EDGES.directions[edges.sample, 0]) > 0.5
    shares = {}
    for family, own in (("along", along), ("across", ~along)):
        length = _sum_length(edges, own)
        if length > _LEAST_LENGTH * long_side and own.sum() >= _LEAST_SAMPLES:
            shares[family] = _sum_length(edges, own & found) / length
    return shares


def _sum_length(edges: Edges, chosen: NDArray[np.bool_]) -> float:
    return float(edges.length[chosen].sum())


def _push(camera: Camera, across: float, along: float, turn: float) -> Camera:
    """The camera that sees the court pushed (m) and turned (radians) on the floor."""
    cosine, sine = np.cos(turn), np.sin(turn)
    turned: FloatArray = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    moved = camera.rotation @ np.array([across, along, 0.0])
    return replace(
        camera, rotation=camera.rotation @ turned, translation=camera.translation + moved
    )


def _measure_stray(camera: Camera, stripes: Stripes) -> float:
    """Length of stripes where the court has no line, in the picture's long sides."""
    if not len(stripes):
        return 0.0
    length = np.repeat(stripes.length / SAMPLES_PER_STRIPE, SAMPLES_PER_STRIPE)
    places = floor_point(camera, sample_stripes(stripes).reshape(-1, 2))
    stray = find_places_without_line(places[:, :2], 0.08, 0.12) & ~is_behind_tape(camera, places)
    return float(length[stray].sum()) / max(camera.image_size)
