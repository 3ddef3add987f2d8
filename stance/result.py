"""The result of one clip: what `result.json` and `positions.csv` hold.

Names, signs and units are those of docs/definitions.md; the layout of the files is
schema "stance-result/1". Fields may be added, none may be renamed. What is unknown is NaN in
these classes, `null` in JSON and an empty cell in CSV.
"""

import csv
import io
import json
import math
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from stance.errors import InputError, OutputError

SCHEMA = "stance-result/1"
RESULT_FILE = "result.json"
POSITIONS_FILE = "positions.csv"

CLASSES = ("square", "slightly_racket_leg_back", "over_side_on")
NOT_ASSESSED = "not_assessed"
CLASS_NAMES = {
    "square": "square",
    "slightly_racket_leg_back": "slightly racket-leg-back",
    "over_side_on": "over-side-on",
    NOT_ASSESSED: "not assessed",
}

Hand = str  # "right" | "left"


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


def to_json(result: Result) -> dict[str, Any]:
    """The result as schema "stance-result/1" lays it out, ready for `json.dumps`.

    Unknown numbers (NaN, infinite) become None; tuples become lists.
    """
    court = result.court
    camera: dict[str, Any] | None = (
        {"K": court.K, "R": court.R, "t": court.t} if court.K else None
    )
    if camera and court.distortion:
        camera["distortion"] = court.distortion
    return {name: _plain(value) for name, value in {
        "schema": SCHEMA,
        "statement": result.statement,
        "date": result.date,
        "session": result.session,
        "filming": None if result.filming is None else vars(result.filming),
        "clip": vars(result.clip),
        "court": {"source": court.source, "error_px": court.error_px, "camera": camera},
        "players": [_player_to_json(player) for player in result.players],
        "warnings": [vars(notice) for notice in result.warnings],
        "settings": result.settings,
    }.items()}


def from_json(data: Mapping[str, Any]) -> Result:
    """The result that `to_json` wrote; fields that the schema does not ask for may be missing.

    Parameters
    ----------
    data : the parsed file.

    Raises
    ------
    InputError
        The data are of another schema, or a field is missing or of the wrong kind.
    """
    schema = data.get("schema") if isinstance(data, Mapping) else None
    if schema != SCHEMA:
        raise InputError(
            f"This is not a stance result: its schema is {schema!r}, and {SCHEMA!r} is needed."
        )
    try:
        return _result_from_json(data)
    except KeyError as missing:
        raise InputError(f"The stance result has no field {missing}.") from None
    except (AttributeError, TypeError, ValueError, IndexError):
        raise InputError("A field of the stance result is not of the right kind.") from None


def read_result(path: str | Path) -> Result:
    """Read a result file, or the result file in a result folder.

    Raises
    ------
    InputError
        There is no such file, or it is no stance result.
    """
    file = Path(path)
    if file.is_dir():
        file = file / RESULT_FILE
    try:
        data = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise InputError(
            f"There is no result file {file}. Name a result.json or the folder that holds one."
        ) from None
    except OSError as problem:
        raise InputError(f"The result file {file} can't be read: {problem.strerror}.") from None
    except ValueError:
        raise InputError(
            f"{file} is not a stance result: it is no JSON file. Analyse the clip again."
        ) from None
    try:
        return from_json(data)
    except InputError as problem:
        raise InputError(f"{file} can't be used. {problem} Analyse the clip again.") from None


def json_text(result: Result) -> str:
    """The text of `result.json`."""
    return json_file_text(to_json(result))


def json_file_text(content: Mapping[str, Any]) -> str:
    """The text of a JSON file as all of this tool's are laid out."""
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def positions_csv(result: Result) -> str:
    """A table for a spreadsheet: a heading row, then a row per ready position.

    Numbers have a decimal point; what is unknown is an empty cell.
    """
    rows = [
        _csv_row(player, number, position)
        for player in result.players
        for number, position in enumerate(player.ready_positions, start=1)
    ]
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=_CSV_HEADINGS)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def write_result(result: Result, folder: str | Path) -> None:
    """Write `result.json` and `positions.csv` into a folder, whole or not at all.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    # Spreadsheets take a file for UTF-8 only where it starts with a byte order mark.
    write_files(folder, {
        RESULT_FILE: json_text(result),
        POSITIONS_FILE: "\ufeff" + positions_csv(result),
    })


def check_folder(folder: str | Path) -> None:
    """Find out, before a long run, whether files can be written to a folder; make nothing.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    place = Path(folder)
    existing = next(p for p in (place.absolute(), *place.absolute().parents) if p.exists())
    try:
        with tempfile.TemporaryFile(dir=existing):
            pass
    except OSError as problem:
        raise _cannot_write(place, problem) from None


def _cannot_write(place: Path, problem: OSError) -> OutputError:
    return OutputError(
        f"The results can't be written to the folder {place}: {problem.strerror}. "
        "Name another folder, or make room."
    )


def write_files(folder: str | Path, files: Mapping[str, str]) -> None:
    """Write text files into a folder, which is made where needed; whole or not at all.

    Each file is written under a temporary name first; only when all are complete do they take
    their places. Whatever stops the writing, Ctrl-C included, leaves what was there before.

    Parameters
    ----------
    folder : path
    files : file name to text, written as UTF-8.

    Raises
    ------
    OutputError
        The folder can't be made or written to.
    """
    _write_whole(Path(folder), {name: text.encode() for name, text in files.items()})


def write_bytes(path: Path, content: bytes) -> None:
    """Write one file whole or not at all, as `write_files` does."""
    _write_whole(path.parent, {path.name: content})


def _write_whole(place: Path, files: Mapping[str, bytes]) -> None:
    temporary = {place / f".{name}.{os.getpid()}.part": place / name for name in files}
    try:
        place.mkdir(parents=True, exist_ok=True)
        for part, content in zip(temporary, files.values(), strict=True):
            part.write_bytes(content)
        for part, final in temporary.items():
            os.replace(part, final)
    except OSError as problem:
        raise _cannot_write(place, problem) from None
    finally:
        for part in temporary:
            with suppress(OSError):
                part.unlink()


def _plain(value: Any) -> Any:
    """The value in JSON's own kinds: NumPy numbers and arrays, tuples and NaN are replaced."""
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


def _player_to_json(player: PlayerResult) -> dict[str, Any]:
    return {
        "player": player.player,
        "name": player.name,
        "half": player.half,
        "hand": player.hand,
        "hand_source": player.hand_source,
        "frames_seen": player.frames_seen,
        "hand_confidence": player.hand_confidence,
        "ready_positions": [_position_to_json(p) for p in player.ready_positions],
        "assessed": player.assessed,
        "not_assessed": player.not_assessed,
        "shares": {name: vars(share) for name, share in player.shares.items()},
    }


def _position_to_json(position: ReadyPosition) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for name, value in vars(position).items():
        if name == "stance_class":
            fields["class"] = value
        elif name == "feet":
            fields["feet"] = [vars(foot) for foot in value]
        else:
            fields[name] = value
    return fields


def _result_from_json(data: Mapping[str, Any]) -> Result:
    clip, court = data["clip"], data["court"]
    camera = court["camera"] or {"K": (), "R": (), "t": ()}
    width, height = clip["size"]
    return Result(
        clip=ClipSummary(
            file=str(clip["file"]), sha256=str(clip["sha256"]),
            duration_s=_number(clip["duration_s"]), frames=int(clip["frames"]),
            frame_rate=_number(clip["frame_rate"]), size=(int(width), int(height)),
        ),
        court=CourtSummary(
            source=str(court["source"]),
            error_px=None if court["error_px"] is None else float(court["error_px"]),
            K=tuple(_numbers(row) for row in camera["K"]),
            R=tuple(_numbers(row) for row in camera["R"]),
            t=_numbers(camera["t"]),
            distortion=float(camera.get("distortion", 0.0)),
        ),
        players=tuple(_player_from_json(player) for player in data["players"]),
        warnings=tuple(Notice(str(w["code"]), str(w["text"])) for w in data["warnings"]),
        statement=str(data.get("statement", "")),
        settings=dict(data.get("settings", {})),
        date=str(data.get("date", "")), session=str(data.get("session", "")),
        filming=_filming_from_json(data.get("filming")),
    )


def _filming_from_json(data: Mapping[str, Any] | None) -> Filming | None:
    if data is None:
        return None
    return Filming(str(data["view"]), _number(data["height_m"]), _number(data["distance_m"]))


def _player_from_json(data: Mapping[str, Any]) -> PlayerResult:
    return PlayerResult(
        player=str(data["player"]), half=str(data["half"]), hand=str(data["hand"]),
        hand_source=str(data["hand_source"]),
        ready_positions=tuple(_position_from_json(p) for p in data["ready_positions"]),
        shares={name: _share_from_json(share) for name, share in data["shares"].items()},
        frames_seen=int(data.get("frames_seen", 0)),
        name=str(data.get("name", "")),
        hand_confidence=float(data.get("hand_confidence", 1.0)),
    )


def _share_from_json(data: Mapping[str, Any]) -> Share:
    share, time_share = data["share"], data["time_share"]
    return Share(
        count=int(data["count"]),
        share=None if share is None else float(share),
        interval=_pair(data["interval"]),
        time_share=None if time_share is None else float(time_share),
        time_interval=_pair(data.get("time_interval", (0.0, 1.0))),
    )


def _position_from_json(data: Mapping[str, Any]) -> ReadyPosition:
    unknown_pair = (None, None)
    unknown_foot = {"heel_m": unknown_pair, "toe_m": unknown_pair}
    first, last = int(data["start_frame"]), int(data["end_frame"])
    racket_foot, other_foot = data.get("feet", (unknown_foot, unknown_foot))
    racket_hip, other_hip = data.get("hips_m", (unknown_pair, unknown_pair))
    return ReadyPosition(
        start_s=float(data["start_s"]), end_s=float(data["end_s"]),
        start_frame=first, end_frame=last,
        key_frame=int(data.get("key_frame", (first + last) // 2)),
        hip_yaw_deg=_number(data["hip_yaw_deg"]),
        hip_yaw_se_deg=_number(data["hip_yaw_se_deg"]),
        shoulder_yaw_deg=_number(data["shoulder_yaw_deg"]),
        shoulder_yaw_se_deg=_number(data.get("shoulder_yaw_se_deg")),
        lead_angle_deg=_number(data["lead_angle_deg"]),
        lead_angle_se_deg=_number(data["lead_angle_se_deg"]),
        foot_stagger_m=_number(data["foot_stagger_m"]),
        foot_stagger_se_m=_number(data["foot_stagger_se_m"]),
        stance_width_m=_number(data["stance_width_m"]),
        stance_width_se_m=_number(data.get("stance_width_se_m")),
        stance_width_hips=_number(data.get("stance_width_hips")),
        stance_width_legs=_number(data.get("stance_width_legs")),
        knee_flexion_deg=_pair(data["knee_flexion_deg"]),
        knee_flexion_se_deg=_pair(data.get("knee_flexion_se_deg", unknown_pair)),
        base_m=_pair(data["base_m"]),
        base_se_m=_pair(data.get("base_se_m", unknown_pair)),
        stance_class=_class_name(data["class"]),
        probabilities={str(k): _number(v) for k, v in data["probabilities"].items()},
        feet=(_foot_from_json(racket_foot), _foot_from_json(other_foot)),
        hips_m=(_pair(racket_hip), _pair(other_hip)),
        remarks=tuple(str(remark) for remark in data["remarks"]),
    )


def _foot_from_json(data: Mapping[str, Any]) -> FloorContact:
    return FloorContact(heel_m=_pair(data["heel_m"]), toe_m=_pair(data["toe_m"]))


def _class_name(name: Any) -> str:
    if name not in CLASS_NAMES:
        raise ValueError(f"unknown class {name!r}")
    return str(name)


def _number(value: Any) -> float:
    return math.nan if value is None else float(value)


def _numbers(values: Any) -> tuple[float, ...]:
    return tuple(_number(value) for value in values)


def _pair(values: Any) -> tuple[float, float]:
    first, second = values
    return _number(first), _number(second)


def _csv_row(player: PlayerResult, number: int, position: ReadyPosition) -> dict[str, str]:
    p = position
    cells: list[str] = [
        player.player, player.half, player.hand, str(number),
        _cell(p.start_s, 3), _cell(p.end_s, 3), _cell(p.duration_s, 3),
        str(p.start_frame), str(p.end_frame), str(p.key_frame),
        CLASS_NAMES[p.stance_class],
        *(_cell(p.probabilities.get(name, math.nan), 3) for name in CLASSES),
        _cell(p.lead_angle_deg, 1), _cell(p.lead_angle_se_deg, 1),
        _cell(p.hip_yaw_deg, 1), _cell(p.hip_yaw_se_deg, 1),
        _cell(p.shoulder_yaw_deg, 1), _cell(p.shoulder_yaw_se_deg, 1),
        _cell(p.foot_stagger_m, 3), _cell(p.foot_stagger_se_m, 3),
        _cell(p.stance_width_m, 3), _cell(p.stance_width_se_m, 3),
        _cell(p.stance_width_hips, 2), _cell(p.stance_width_legs, 2),
        _cell(p.knee_flexion_deg[0], 1), _cell(p.knee_flexion_se_deg[0], 1),
        _cell(p.knee_flexion_deg[1], 1), _cell(p.knee_flexion_se_deg[1], 1),
        _cell(p.base_m[0], 3), _cell(p.base_se_m[0], 3),
        _cell(p.base_m[1], 3), _cell(p.base_se_m[1], 3),
        "; ".join(p.remarks),
    ]
    return dict(zip(_CSV_HEADINGS, cells, strict=True))


def _cell(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else ""


_CSV_HEADINGS = (
    "player", "half of the court", "racket hand", "ready position",
    "start in seconds", "end in seconds", "duration in seconds",
    "first frame", "last frame", "frame shown in the report",
    "class",
    "probability of square", "probability of slightly racket-leg-back",
    "probability of over-side-on",
    "lead angle in degrees (negative: racket foot back)",
    "standard error of the lead angle in degrees",
    "hip yaw in degrees (negative: racket hip back)",
    "standard error of the hip yaw in degrees",
    "shoulder yaw in degrees (negative: racket shoulder back)",
    "standard error of the shoulder yaw in degrees",
    "foot stagger in metres (negative: racket foot back)",
    "standard error of the foot stagger in metres",
    "stance width in metres", "standard error of the stance width in metres",
    "stance width in hip widths", "stance width in leg lengths",
    "knee flexion of the racket leg in degrees",
    "standard error of the racket leg's knee flexion in degrees",
    "knee flexion of the other leg in degrees",
    "standard error of the other leg's knee flexion in degrees",
    "base across the court in metres (0: middle, positive: to the right)",
    "standard error of the base across the court in metres",
    "base along the court in metres (0: net, negative: behind it)",
    "standard error of the base along the court in metres",
    "remarks",
)
