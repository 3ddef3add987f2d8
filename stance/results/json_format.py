"""The result as `result.json`."""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stance.errors import InputError
from stance.results.model import (
    ClipSummary,
    CourtSummary,
    Filming,
    FloorContact,
    Notice,
    PlayerResult,
    ReadyPosition,
    Result,
    Share,
)
from stance.types import CLASS_NAMES

SCHEMA = "stance-result/1"

RESULT_FILE = "result.json"


def to_json(result: Result) -> dict[str, Any]:
    """The result as schema "stance-result/1" lays it out, ready for `json.dumps`.

    Unknown numbers (NaN, infinite) become None; tuples become lists.
    """
    court = result.court
    camera: dict[str, Any] | None = {"K": court.K, "R": court.R, "t": court.t} if court.K else None
    if camera and court.distortion:
        camera["distortion"] = court.distortion
    return {
        name: _plain(value)
        for name, value in {
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
        }.items()
    }


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
            file=str(clip["file"]),
            sha256=str(clip["sha256"]),
            duration_s=_number(clip["duration_s"]),
            frames=int(clip["frames"]),
            frame_rate=_number(clip["frame_rate"]),
            size=(int(width), int(height)),
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
        date=str(data.get("date", "")),
        session=str(data.get("session", "")),
        filming=_filming_from_json(data.get("filming")),
    )


def _filming_from_json(data: Mapping[str, Any] | None) -> Filming | None:
    if data is None:
        return None
    return Filming(str(data["view"]), _number(data["height_m"]), _number(data["distance_m"]))


def _player_from_json(data: Mapping[str, Any]) -> PlayerResult:
    return PlayerResult(
        player=str(data["player"]),
        half=str(data["half"]),
        hand=str(data["hand"]),
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
        start_s=float(data["start_s"]),
        end_s=float(data["end_s"]),
        start_frame=first,
        end_frame=last,
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
