"""The badminton court: its painted lines, their crossings and the net, by the Laws."""

from dataclasses import dataclass

# Law 1 and Diagram A. Metres; distances run to the outer edge of a line (Law 1.3: a line is part
# of the area it bounds), the short service line's to its edge on the net side.
COURT_LENGTH = 13.40

COURT_WIDTH = 6.10

LINE_WIDTH = 0.04

SHORT_SERVICE_DISTANCE = 1.98

LONG_SERVICE_INSET = 0.76

SIDE_TRAMLINE = 0.46

NET_HEIGHT_POST = 1.55

NET_HEIGHT_MIDDLE = 1.524


@dataclass(frozen=True)
class PaintedLine:
    """One painted line: a rectangle on the floor.

    Attributes
    ----------
    name
        such as "near short service line".
    x, y
        (smallest, largest), metres, court frame.
    """

    name: str
    x: tuple[float, float]
    y: tuple[float, float]


def court_lines() -> tuple[PaintedLine, ...]:
    """All painted lines of both halves.

    "near" is the half with y < 0, "left" the side with x < 0. The side lines run through under
    the net; the centre lines run from the short service line to the back line.
    """
    half_length, half_width = COURT_LENGTH / 2, COURT_WIDTH / 2
    lines = [PaintedLine(name, x, (-half_length, half_length)) for name, x in _SIDE_LINES.items()]
    for half, sign in HALVES.items():
        for name, (net_edge, back_edge) in _CROSS_LINES.items():
            y = _order(sign * net_edge, sign * back_edge)
            lines.append(PaintedLine(f"{half} {name}", (-half_width, half_width), y))
        y = _order(sign * SHORT_SERVICE_DISTANCE, sign * half_length)
        lines.append(PaintedLine(f"{half} centre line", _CENTRE_LINE, y))
    return tuple(lines)


def court_points() -> dict[str, tuple[float, float]]:
    """Where the lines cross, by name: (x, y) metres, court frame.

    A name is "<half> <line across>, <line along>, <which point>", for example "near back line,
    left doubles side line, left back corner", the outermost corner (-3.05, -6.70). The point is
    "centre" (of both lines) or one of the four corners of the crossing's square: left or right,
    on the side of the net or of the back line.
    """
    along = {**_SIDE_LINES, "centre line": _CENTRE_LINE}
    points = {}
    for half, sign in HALVES.items():
        for across_name, (net_edge, back_edge) in _CROSS_LINES.items():
            for along_name, (left, right) in along.items():
                crossing = f"{half} {across_name}, {along_name}"
                middle = ((left + right) / 2, sign * (net_edge + back_edge) / 2)
                points[f"{crossing}, centre"] = middle
                points[f"{crossing}, left net corner"] = (left, sign * net_edge)
                points[f"{crossing}, right net corner"] = (right, sign * net_edge)
                points[f"{crossing}, left back corner"] = (left, sign * back_edge)
                points[f"{crossing}, right back corner"] = (right, sign * back_edge)
    return points


def net_points() -> dict[str, tuple[float, float, float]]:
    """Top of the net's tape: (x, y, z) metres, court frame.

    Law 1.10: 1.524 m over the middle of the court, 1.55 m over the doubles side lines, which
    are taken at the middle of the line.
    """
    side = (COURT_WIDTH - LINE_WIDTH) / 2
    return {
        "left post": (-side, 0.0, NET_HEIGHT_POST),
        "middle": (0.0, 0.0, NET_HEIGHT_MIDDLE),
        "right post": (side, 0.0, NET_HEIGHT_POST),
    }


# Sign of y in each half of the court frame.
HALVES = {"near": -1.0, "far": 1.0}

_DOUBLES = COURT_WIDTH / 2

_SINGLES = COURT_WIDTH / 2 - SIDE_TRAMLINE

# (left edge, right edge), metres.
_SIDE_LINES = {
    "left doubles side line": (-_DOUBLES, -_DOUBLES + LINE_WIDTH),
    "left singles side line": (-_SINGLES, -_SINGLES + LINE_WIDTH),
    "right singles side line": (_SINGLES - LINE_WIDTH, _SINGLES),
    "right doubles side line": (_DOUBLES - LINE_WIDTH, _DOUBLES),
}

_CENTRE_LINE = (-LINE_WIDTH / 2, LINE_WIDTH / 2)

# (edge on the side of the net, edge on the side of the back line), metres from the net.
_CROSS_LINES = {
    "short service line": (SHORT_SERVICE_DISTANCE, SHORT_SERVICE_DISTANCE + LINE_WIDTH),
    "long service line": (
        COURT_LENGTH / 2 - LONG_SERVICE_INSET - LINE_WIDTH,
        COURT_LENGTH / 2 - LONG_SERVICE_INSET,
    ),
    "back line": (COURT_LENGTH / 2 - LINE_WIDTH, COURT_LENGTH / 2),
}


def _order(first: float, second: float) -> tuple[float, float]:
    return min(first, second), max(first, second)
