"""The coach's court file: marked points of the court, read, checked and written."""

import json
import re
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Annotated, Any

import msgspec
import numpy as np

from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH
from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.runtime.regular_files import read_regular
from stance.types import FloatArray

SCHEMA = "stance-court/1"

# Points may be marked so far beyond the outermost lines, metres.
OFF_COURT_TOLERANCE = 0.15

# Points nearer to a line than this lie on it, metres.
_ON_LINE = 0.1

_Coordinate = Annotated[float, msgspec.Meta(gt=-1e9, lt=1e9)]

_Side = Annotated[int, msgspec.Meta(gt=0, le=1 << 16)]

# All crossings of a court take a hundredth of it.
MOST_BYTES = 1 << 20


class _Point(msgspec.Struct):
    """One marked point: metres in the court frame, and pixels."""

    court: tuple[_Coordinate, _Coordinate]
    pixel: tuple[_Coordinate, _Coordinate]


class _CourtFile(msgspec.Struct):
    """A court file of schema "stance-court/1"."""

    image_size: tuple[_Side, _Side]
    points: Annotated[list[_Point], msgspec.Meta(min_length=4, max_length=1000)]


@dataclass(frozen=True)
class MarkedCourt:
    """Floor points that a coach marked in the picture.

    Attributes
    ----------
    image_size
        (width, height) of the upright picture, pixels.
    court_points
        (points, 2) metres, court frame.
    pixels
        (points, 2).
    """

    image_size: tuple[int, int]
    court_points: FloatArray
    pixels: FloatArray


def court_file_beside(clip: str | Path) -> Path:
    """Where the court file of a clip is searched and saved: `<clip name>.court.json` beside it."""
    return Path(clip).with_suffix(".court.json")


def read_court_file(path: str | Path, image_size: tuple[int, int] | None = None) -> MarkedCourt:
    """Read the points that a coach marked, schema "stance-court/1".

    Parameters
    ----------
    path
        the court file, UTF-8 with or without a byte order mark.
    image_size
        (width, height) of the clip's upright picture, pixels; None where the clip is not known, so
        that any size will do.

    Raises
    ------
    InputError
        If the file can't be read, is no court file, belongs to a picture of another size, or
        if its points are too few, not numbers, outside the picture, off the court, the same
        twice, or on one line but for one.
    """
    return check_court(_read_json(Path(path)), path, image_size)


def check_court(
    content: object, path: str | Path, image_size: tuple[int, int] | None = None
) -> MarkedCourt:
    """Check what a court file holds, or is about to hold; the rest as for `read_court_file`."""
    if not isinstance(content, dict) or content.get("schema") != SCHEMA:
        raise InputError(
            _('"{path}" is not a court file: it does not begin with "schema": "{schema}".').format(
                path=path, schema=SCHEMA
            )
        )
    try:
        court = msgspec.convert(content, _CourtFile)
    except msgspec.ValidationError as error:
        raise InputError(_say_what_is_wrong(path, content, str(error), image_size)) from None
    if image_size is not None and court.image_size != image_size:
        raise InputError(_say_sizes_differ(path, court.image_size, image_size))
    marked = MarkedCourt(
        court.image_size,
        np.array([point.court for point in court.points]),
        np.array([point.pixel for point in court.points]),
    )
    _check_places(path, marked)
    _check_each_once(path, marked)
    if not span_a_plane(marked.court_points):
        raise InputError(
            _(
                'The points of the court file "{path}" lie on one line, all or all but one. '
                "Mark points that span the court, such as the four corners of one half."
            ).format(path=path)
        )
    return marked


def span_a_plane(court_points: FloatArray) -> bool:
    """Whether points determine the picture of the floor: four of them, no three on one line.

    In the plane there are four such points exactly where no line holds all points or all but one.
    Points that lie close together are left to `stance.court.floor_error.refuse_weak_layout`.

    Parameters
    ----------
    court_points
        (points, 2) metres, four or more, no two of them the same.
    """
    first, second = court_points[np.array(list(combinations(range(len(court_points)), 2))).T]
    along = second - first
    away = court_points[None] - first[:, None]
    off_line = np.abs(along[:, None, 0] * away[..., 1] - along[:, None, 1] * away[..., 0])
    off_line /= np.linalg.norm(along, axis=1)[:, None]
    return bool(np.sum(off_line < _ON_LINE, axis=1).max() < len(court_points) - 1)


def round_marks(marked: MarkedCourt) -> MarkedCourt:
    """The marks as a court file holds them: to a millimetre, and to a hundredth of a pixel."""
    return MarkedCourt(
        marked.image_size, np.round(marked.court_points, 3), np.round(marked.pixels, 2)
    )


def court_file_text(marked: MarkedCourt) -> str:
    """The text of a court file, schema "stance-court/1", a point a line."""
    rounded = round_marks(marked)
    points = [
        json.dumps({"court": place.tolist(), "pixel": pixel.tolist()})
        for place, pixel in zip(rounded.court_points, rounded.pixels, strict=True)
    ]
    lines = ",\n  ".join(points)
    return (
        f'{{"schema": "{SCHEMA}", "image_size": {json.dumps(list(marked.image_size))},\n'
        f' "points": [\n  {lines}]}}\n'
    )


def _read_json(path: Path) -> Any:
    text = read_regular(path, _("court file"), MOST_BYTES)
    try:
        # Not `read_json`: Python reads NaN too, so that the sentence can name its point.
        content = json.loads(text.decode("utf-8-sig"))
        # Half a surrogate pair, which no text can hold, is no JSON text either.
        json.dumps(content, ensure_ascii=False).encode()
        return content
    except (ValueError, RecursionError):
        raise InputError(
            _('"{path}" is not a court file: it is not JSON text, or it is cut off.').format(
                path=path
            )
        ) from None


def _say_what_is_wrong(
    path: str | Path,
    content: dict[str, Any],
    problem: str,
    image_size: tuple[int, int] | None,
) -> str:
    """A coach's sentence for what msgspec found, such as "... at `$.points[1].court[0]`"."""
    point = re.search(r"`\$\.points\[(\d+)\]", problem)
    if point is None and "points" in problem:
        entries = content.get("points")
        found = len(entries) if isinstance(entries, list) else 0
        return _(
            'The court file "{path}" holds {found} points; mark at least four crossings of '
            "lines, better six or more."
        ).format(path=path, found=found)
    if point is None:
        width, height = image_size or (1280, 720)
        return _(
            'The court file "{path}" has no "image_size" of two whole numbers, such as '
            "[{width}, {height}]."
        ).format(path=path, width=width, height=height)
    index = int(point[1])
    key = "pixel" if "pixel" in problem else "court"
    if f".{key}[" in problem:
        return _(
            'Point {number} of the court file "{path}" has "{key}": {pair}; both must be plain '
            "numbers."
        ).format(
            number=index + 1, path=path, key=key, pair=json.dumps(content["points"][index][key])
        )
    return _('Point {number} of the court file "{path}" has no "{key}" of two numbers.').format(
        number=index + 1, path=path, key=key
    )


def _say_sizes_differ(path: str | Path, stated: tuple[int, int], clip: tuple[int, int]) -> str:
    sentence = _(
        'The court file "{path}" was marked in a picture of {stated} pixels, but the clip\'s is '
        "{clip}."
    ).format(path=path, stated=f"{stated[0]} x {stated[1]}", clip=f"{clip[0]} x {clip[1]}")
    if stated[::-1] == clip:
        advice = _("Mark the points again in the picture turned upright.")
    else:
        advice = _("Mark the points again in a picture of this clip.")
    return f"{sentence} {advice}"


def _check_places(path: str | Path, marked: MarkedCourt) -> None:
    """Refuse points off the court or outside the picture."""
    width, height = marked.image_size
    reach = np.array([COURT_WIDTH, COURT_LENGTH]) / 2 + OFF_COURT_TOLERANCE
    for number, (place, pixel) in enumerate(
        zip(marked.court_points, marked.pixels, strict=True), 1
    ):
        if np.any(np.abs(place) > reach):
            raise InputError(
                _(
                    'Point {number} of the court file "{path}" is off the court: court ({place}), '
                    "while the corners are at ({corner}) metres from under the middle of the net."
                ).format(
                    number=number,
                    path=path,
                    place=f"{place[0]:.2f}, {place[1]:.2f}",
                    corner=f"{COURT_WIDTH / 2:.2f}, {COURT_LENGTH / 2:.2f}",
                )
            )
        if np.any(pixel < 0) or np.any(pixel > [width, height]):
            raise InputError(
                _(
                    'Point {number} of the court file "{path}" is outside the picture: pixel '
                    "({pixel}), while the picture is {width} x {height}."
                ).format(
                    number=number,
                    path=path,
                    pixel=f"{pixel[0]:.0f}, {pixel[1]:.0f}",
                    width=width,
                    height=height,
                )
            )


def _check_each_once(path: str | Path, marked: MarkedCourt) -> None:
    """Refuse points that are the same place of the court or of the picture."""
    for first, second in combinations(range(len(marked.pixels)), 2):
        apart = np.abs(marked.court_points[first] - marked.court_points[second]).max()
        pixels_apart = np.abs(marked.pixels[first] - marked.pixels[second]).max()
        if apart < 0.005 or pixels_apart < 0.5:
            what = _("court place") if apart < 0.005 else _("pixel")
            raise InputError(
                _(
                    'Points {first} and {second} of the court file "{path}" have the same {what}; '
                    "mark each point once."
                ).format(first=first + 1, second=second + 1, path=path, what=what)
            )
