"""The result of one clip, as dataclasses."""

from dataclasses import dataclass, field
from typing import Any

from stance.types import NOT_ASSESSED


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
class CourtSummary:
    """Where the camera model comes from, and the camera (`pixel ~ K (R X + t)`, metres).

    Before K, what is at radius r in focal lengths moves to r (1 + distortion r^2).

    `K`, `R` and `t` are empty where there is no camera: no court was given and no player was
    found to assume one from.
    """

    source: str  # "marked" | "found" | "assumed"
    error_px: float | None
    K: tuple[tuple[float, ...], ...]
    R: tuple[tuple[float, ...], ...]
    t: tuple[float, ...]
    distortion: float = 0.0


@dataclass(frozen=True)
class Filming:
    """Where the phone stood, seen from the player; unknown numbers are NaN.

    Attributes
    ----------
    view : "behind", "corner", "side", "front" or "unknown"
    height_m : of the phone above the floor
    distance_m : from the phone to the player, along the floor
    """

    view: str
    height_m: float
    distance_m: float


@dataclass(frozen=True)
class FloorContact:
    """Where one foot stands, court frame, metres on the floor: heel (x, y) and toe (x, y)."""

    heel_m: tuple[float, float]
    toe_m: tuple[float, float]


@dataclass(frozen=True)
class ReadyPosition:
    """One ready position and its robust averages; angles in degrees, lengths in metres.

    Pairs such as `knee_flexion_deg` are (racket side, other side). `se` is a standard error
    that contains the pose model's error for the view. `hip_to_shuttle_deg` is the hip yaw
    against the direction the attack comes from, where that is known. `key_frame` is the frame
    shown in the report; `hips_m` the hip joints' floor positions for the view from above,
    (racket side, other side).
    """

    start_s: float
    end_s: float
    start_frame: int
    end_frame: int
    key_frame: int
    hip_yaw_deg: float
    hip_yaw_se_deg: float
    shoulder_yaw_deg: float
    shoulder_yaw_se_deg: float
    lead_angle_deg: float
    lead_angle_se_deg: float
    foot_stagger_m: float
    foot_stagger_se_m: float
    stance_width_m: float
    stance_width_se_m: float
    stance_width_hips: float
    stance_width_legs: float
    knee_flexion_deg: tuple[float, float]
    knee_flexion_se_deg: tuple[float, float]
    base_m: tuple[float, float]
    base_se_m: tuple[float, float]
    stance_class: str
    probabilities: dict[str, float]
    feet: tuple[FloorContact, FloorContact]
    hips_m: tuple[tuple[float, float], tuple[float, float]]
    remarks: tuple[str, ...] = ()

    @property
    def duration_s(self) -> float:
        """Length of the spell in seconds."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Share:
    """Share of one class among assessed ready positions, never without its count.

    `share` and `time_share` are None where nothing was assessed; the intervals are 95 %.
    """

    count: int
    share: float | None
    interval: tuple[float, float]
    time_share: float | None
    time_interval: tuple[float, float]


@dataclass(frozen=True)
class PlayerResult:
    """One player's ready positions and shares; `shares` is keyed by class.

    `name` is what the coach calls the player, empty where not given; `hand_confidence` is 1 where
    the hand was given.
    """

    player: str
    half: str  # "near" | "far"
    hand: str
    hand_source: str  # "given" | "seen"
    ready_positions: tuple[ReadyPosition, ...]
    shares: dict[str, Share]
    frames_seen: int = 0
    name: str = ""
    hand_confidence: float = 1.0

    @property
    def title(self) -> str:
        """What to call the player."""
        return f"{self.name} ({self.player})" if self.name else f"Player {self.player}"

    @property
    def assessed(self) -> int:
        """Number of ready positions with a class."""
        return sum(p.stance_class != NOT_ASSESSED for p in self.ready_positions)

    @property
    def not_assessed(self) -> int:
        """Number of ready positions where no class reached the confidence asked for."""
        return len(self.ready_positions) - self.assessed


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
