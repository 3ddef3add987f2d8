"""The result of one clip, as dataclasses."""

import math
from dataclasses import dataclass, field
from typing import Any, Literal

from stance.runtime.language import gettext as _
from stance.types import (
    CLASS_NAMES,
    NOT_ASSESSED,
    RACKET_FOOT_LEADING,
    CourtSource,
    FilmedFrom,
    Half,
    Hand,
    StanceClass,
    View,
)

Pair = tuple[float, float]

UNKNOWN: Pair = (math.nan, math.nan)

KnownBy = Literal["seen", "heard", "moved"]
"""How a stroke faced is known: by the attacker's swing in the picture, by the sound of the racket
on the shuttle, by the defender's own split or stillness."""

Met = Literal["set", "on_the_move", "not_seen"]
"""How a stroke faced was met; `not_seen` where the feet could not be seen well enough."""


@dataclass(frozen=True)
class Notice:
    """A warning for the coach: a short code for machines and a sentence for people."""

    code: str
    text: str


@dataclass(frozen=True)
class ClipSummary:
    """The clip as it was read: decoded frames and true presentation times, not header values.

    `frame_rate` is one over the median time between frames; `size` is (width, height) of the
    upright picture in pixels.
    """

    file: str
    sha256: str
    duration_s: float
    frames: int
    frame_rate: float
    size: tuple[int, int]


@dataclass(frozen=True)
class CourtCamera:
    """The camera, court frame, metres: `pixel ~ K (R X + t)`; K and R (3, 3), t (3,).

    What shows at radius r, in focal lengths, a pinhole would show at r / (1 + distortion r^2).
    """

    K: tuple[tuple[float, ...], ...]
    R: tuple[tuple[float, ...], ...]
    t: tuple[float, ...]
    distortion: float = 0.0


@dataclass(frozen=True)
class CourtSummary:
    """Where the camera model comes from, its error on the marked points or lines, and the camera.

    `camera` is None where no court was given and no player was found to assume one from.
    `filmed_from` is where the phone stood as somebody says, which an assumed camera rests on; None
    where nobody said, and where the court is known.
    """

    source: CourtSource
    error_px: float | None
    camera: CourtCamera | None
    filmed_from: FilmedFrom | None = None

    @property
    def in_words(self) -> str:
        """Where it comes from, in words: "assumed, filmed from rear-left"."""
        return f"{self.source}, filmed from {self.filmed_from}" if self.filmed_from else self.source


@dataclass(frozen=True)
class Filming:
    """Where the phone stood, seen from the player; unknown numbers are NaN.

    Attributes
    ----------
    view
        from which side of the player
    height_m
        of the phone above the floor
    distance_m
        from the phone to the player, along the floor
    """

    view: View
    height_m: float
    distance_m: float


@dataclass(frozen=True)
class FloorContact:
    """Where one foot stands, court frame, metres on the floor: heel (x, y) and toe (x, y)."""

    heel_m: Pair
    toe_m: Pair


@dataclass(frozen=True, kw_only=True)
class ReadyPosition:
    """One ready position and its robust averages; angles in degrees, lengths in metres.

    It lasts from the landing, when both feet are down, to the first foot's leaving. The measures
    are declared in `measures_table.MEASURES`. Pairs such as `knee_flexion_deg` are (racket side,
    other side), `base_m` is (x, y). `se` is a standard error that contains the pose model's error
    for the view. `key_frame` is the frame shown in the report, the spell's middle where none is
    given; `hips_m` are the hip joints' floor positions for the view from above, (racket side, other
    side). `racket_foot_leading` is the probability that the remark of that name is true. Fields
    with a default came later than the first result files.
    """

    start_s: float
    end_s: float
    start_frame: int
    end_frame: int
    key_frame: int = -1
    hip_yaw_deg: float
    hip_yaw_se_deg: float
    shoulder_yaw_deg: float
    shoulder_yaw_se_deg: float = math.nan
    lead_angle_deg: float
    lead_angle_se_deg: float
    foot_stagger_m: float
    foot_stagger_se_m: float
    stance_width_m: float
    stance_width_se_m: float = math.nan
    stance_width_hips: float = math.nan
    stance_width_legs: float = math.nan
    knee_flexion_deg: Pair
    knee_flexion_se_deg: Pair = UNKNOWN
    base_m: Pair
    base_se_m: Pair = UNKNOWN
    stance_class: StanceClass
    probabilities: dict[StanceClass, float]
    feet: tuple[FloorContact, FloorContact] = (FloorContact(UNKNOWN, UNKNOWN),) * 2
    hips_m: tuple[Pair, Pair] = (UNKNOWN, UNKNOWN)
    remarks: tuple[str, ...] = ()
    racket_foot_leading: float = math.nan

    def __post_init__(self) -> None:
        if self.key_frame < 0:
            object.__setattr__(self, "key_frame", (self.start_frame + self.end_frame) // 2)

    @property
    def duration_s(self) -> float:
        """Length of the spell in seconds."""
        return self.end_s - self.start_s

    @property
    def turned_deg(self) -> float:
        """How far feet or hips are turned, the larger, degrees."""
        return max(abs(self.lead_angle_deg), abs(self.hip_yaw_deg))

    @property
    def has_leading_foot(self) -> bool:
        """Whether it carries the remark that the racket foot leads."""
        return RACKET_FOOT_LEADING in self.remarks

    @property
    def racket_side_leads(self) -> bool:
        """Whether the racket side leads, by the larger of lead angle and hip yaw.

        The limit of over-side-on is the same for both, so the larger is farther beyond it.
        """
        known = [a for a in (self.lead_angle_deg, self.hip_yaw_deg) if math.isfinite(a)]
        return max(known, key=abs, default=0.0) > 0

    @property
    def side_in_words(self) -> str:
        """Which side leads where the class is over-side-on; empty in the other classes."""
        if self.stance_class != "over_side_on":
            return ""
        return "racket side leading" if self.racket_side_leads else "racket side back"

    @property
    def class_name(self) -> str:
        """The class in words: "over-side-on, racket side back"."""
        return ", ".join(filter(None, (CLASS_NAMES[self.stance_class], self.side_in_words)))


@dataclass(frozen=True)
class StrokeFaced:
    """One stroke by the other side while the player defends; docs/definitions.md says when.

    Attributes
    ----------
    time_s, time_se_s
        of the racket's contact with the shuttle in the clip, and its standard error, seconds
    known_by
        one or more of the ways to know it, the surest first
    serve
        whether it is a serve, which counts in no share
    met
        whether the player was set for it
    ready_position
        index into the player's `ready_positions`; None where there is none
    frame
        nearest in time to the contact; -1 where not known
    attacker_m
        where the attacker stands at the contact, court frame of the defender's half, so y is
        positive; unknown where the attacker or the court is not seen
    """

    time_s: float
    time_se_s: float
    known_by: tuple[KnownBy, ...] = ()
    serve: bool = False
    met: Met = "not_seen"
    ready_position: int | None = None
    frame: int = -1
    attacker_m: Pair = UNKNOWN


@dataclass(frozen=True)
class OwnStroke:
    """One stroke of the player's own: its time in the clip and its standard error, seconds."""

    time_s: float
    time_se_s: float


@dataclass(frozen=True)
class StrokeCounts:
    """How many strokes were faced in play, by how they were met, and how many serves beside them.

    Attributes
    ----------
    met_set, on_the_move, not_seen
        strokes in play
    serves
        faced, however they were met
    """

    met_set: int = 0
    on_the_move: int = 0
    not_seen: int = 0
    serves: int = 0

    @property
    def in_play(self) -> int:
        """Number of strokes faced but for serves."""
        return self.met_set + self.on_the_move + self.not_seen

    def __add__(self, other: "StrokeCounts") -> "StrokeCounts":
        return StrokeCounts(
            self.met_set + other.met_set,
            self.on_the_move + other.on_the_move,
            self.not_seen + other.not_seen,
            self.serves + other.serves,
        )


@dataclass(frozen=True)
class Share:
    """Share of one class among assessed ready positions, never without its count.

    `share` and `time_share` are None where nothing was assessed; the intervals are 95 %.
    """

    count: int
    share: float | None
    interval: Pair
    time_share: float | None
    time_interval: Pair = (0.0, 1.0)


@dataclass(frozen=True)
class PlayerResult:
    """One player's ready positions and shares; `shares` is keyed by class.

    `name` is what the coach calls the player, empty where not given; `hand_confidence` is 1 where
    the hand was given. `strokes_faced` and `own_strokes` are in the order of time; empty where no
    stroke could be told, and each wait is then a ready position of its own. A ready position for a
    serve counts in no share. `racket_foot_leading` is the share of the remark of that name; None in
    results from before it was counted.
    """

    player: str
    half: Half
    hand: Hand
    hand_source: Literal["given", "seen"]
    ready_positions: tuple[ReadyPosition, ...]
    shares: dict[StanceClass, Share]
    frames_seen: int = 0
    name: str = ""
    hand_confidence: float = 1.0
    strokes_faced: tuple[StrokeFaced, ...] = ()
    own_strokes: tuple[OwnStroke, ...] = ()
    racket_foot_leading: Share | None = None

    @property
    def title(self) -> str:
        """What to call the player: the name, or the letter where none was given."""
        return self.name or _("Player {letter}").format(letter=self.player)

    @property
    def stroke_counts(self) -> StrokeCounts:
        """How many strokes the player faced, by how they were met."""
        met = [stroke.met for stroke in self.strokes_faced if not stroke.serve]
        return StrokeCounts(
            met.count("set"),
            met.count("on_the_move"),
            met.count("not_seen"),
            len(self.strokes_faced) - len(met),
        )

    @property
    def stroke_of(self) -> dict[int, StrokeFaced]:
        """The stroke faced of each ready position that has one, by the position's index."""
        return {
            stroke.ready_position: stroke
            for stroke in self.strokes_faced
            if stroke.ready_position is not None
        }

    def position_of(self, stroke: StrokeFaced) -> ReadyPosition | None:
        """The ready position in which a stroke was met; None where there is none."""
        index = stroke.ready_position
        known = index is not None and index < len(self.ready_positions)
        return self.ready_positions[index] if index is not None and known else None

    @property
    def counted_indices(self) -> tuple[int, ...]:
        """Indices of the ready positions that the shares are of: all but those for a serve."""
        serves = {stroke.ready_position for stroke in self.strokes_faced if stroke.serve}
        return tuple(i for i in range(len(self.ready_positions)) if i not in serves)

    @property
    def counted_positions(self) -> tuple[ReadyPosition, ...]:
        """The ready positions that the shares are of."""
        return tuple(self.ready_positions[index] for index in self.counted_indices)

    @property
    def assessed(self) -> int:
        """Number of counted ready positions with a class."""
        return sum(p.stance_class != NOT_ASSESSED for p in self.counted_positions)

    @property
    def not_assessed(self) -> int:
        """Number of counted ready positions where no class reached the confidence asked for."""
        return len(self.counted_positions) - self.assessed


@dataclass(frozen=True)
class Result:
    """Everything measured in one clip.

    `date` (year-month-day) and `session` are as the coach gave them, empty where not.
    """

    clip: ClipSummary
    court: CourtSummary
    players: tuple[PlayerResult, ...]
    warnings: tuple[Notice, ...] = ()
    statement: str = ""
    settings: dict[str, Any] = field(default_factory=dict)
    date: str = ""
    session: str = ""
    filming: Filming | None = None
