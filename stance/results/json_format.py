"""The result as `result.json`."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from stance.errors import InputError
from stance.results.checking import find_fault
from stance.results.model import (
    CourtCamera,
    OwnStroke,
    PlayerResult,
    ReadyPosition,
    Result,
    StrokeFaced,
)
from stance.results.schema import NAMES_IN_FILES, json_text, read_json
from stance.runtime.language import gettext as _

SCHEMA = "stance-result/1"

RESULT_FILE = "result.json"


def to_json(result: Result) -> dict[str, Any]:
    """The result as schema "stance-result/1" lays it out, ready for `json_text`.

    Unknown numbers (NaN, infinite) become None; tuples become lists.
    """
    return {
        name: _plain(value)
        for name, value in {
            "schema": SCHEMA,
            "statement": result.statement,
            "date": result.date,
            "session": result.session,
            "filming": None if result.filming is None else vars(result.filming),
            "clip": vars(result.clip),
            "court": {**vars(result.court), "camera": _camera_to_json(result.court.camera)},
            "players": [_player_to_json(player) for player in result.players],
            "warnings": [vars(notice) for notice in result.warnings],
            "settings": result.settings,
        }.items()
    }


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
    if not file.exists():
        raise InputError(
            _(
                "There is no result file {file}. Name a result.json or the folder that holds one."
            ).format(file=file)
        )
    try:
        result = read_json(file, Result, _("result file"), SCHEMA)
        if fault := find_fault(result):
            raise InputError(
                _("The result file {file} can't be used: {fault}.").format(file=file, fault=fault)
            )
    except InputError as problem:
        raise InputError(_("{problem} Analyse the clip again.").format(problem=problem)) from None
    return result


def result_text(result: Result) -> str:
    """The text of `result.json`."""
    return json_text(to_json(result))


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


def _camera_to_json(camera: CourtCamera | None) -> dict[str, Any] | None:
    if camera is None:
        return None
    return {name: value for name, value in vars(camera).items() if name != "distortion" or value}


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
        "strokes_faced": [_stroke_to_json(stroke) for stroke in player.strokes_faced],
        "own_strokes": [_named_as_in_files(stroke) for stroke in player.own_strokes],
        "assessed": player.assessed,
        "not_assessed": player.not_assessed,
        "shares": {name: vars(share) for name, share in player.shares.items()},
        "racket_foot_leading": vars(player.racket_foot_leading)
        if player.racket_foot_leading
        else None,
    }


def _position_to_json(position: ReadyPosition) -> dict[str, Any]:
    return {
        **_named_as_in_files(position),
        "side": position.side_in_words,
        "feet": [vars(foot) for foot in position.feet],
    }


def _stroke_to_json(stroke: StrokeFaced) -> dict[str, Any]:
    surest = stroke.known_by[0] if stroke.known_by else None
    return {**_named_as_in_files(stroke), "known_by": surest}


def _named_as_in_files(content: ReadyPosition | StrokeFaced | OwnStroke) -> dict[str, Any]:
    return {NAMES_IN_FILES.get(name, name): value for name, value in vars(content).items()}
