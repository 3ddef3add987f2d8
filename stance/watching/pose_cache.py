"""Poses kept beside the result, so that the same clip is not watched twice.

The file is a plain archive of arrays (`numpy.savez`, no pickles): tracks, close observations and
crops, with a key made of the clip's content, the version of the tool and all else they depend on. A
file of another key, or one that can't be read, counts as none.
"""

import dataclasses
import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from stance.camera_motion.motion import CameraMotion, Part
from stance.court.calibration import CalibratedCourt, FoundCourt
from stance.court.camera import Camera
from stance.court.court_file import MarkedCourt
from stance.measures.orientation import Observation
from stance.people.track import Track
from stance.results.temporary import name_temporary, open_private
from stance.runtime.regular_files import open_regular
from stance.runtime.version import results_version
from stance.watching.options import WatchOptions
from stance.watching.watched_clip import (
    CompressedCrop,
    ObservedSpell,
    Opponent,
    RacketHand,
    WatchedClip,
    WatchedPlayer,
)

Arrays = dict[str, npt.NDArray[Any]]

Decoded = TypeVar("Decoded")

POSES_FILE = "poses.npz"


def poses_key(clip_sha256: str, marks: MarkedCourt | None, options: WatchOptions) -> str:
    """Return what poses depend on, in short.

    Parameters
    ----------
    clip_sha256
        of the clip
    marks
        the court's marks; None where the court is searched
    options
        whom to watch, and how; poses do not depend on the workers
    """
    marked = (
        None
        if marks is None
        else [marks.image_size, marks.court_points.tolist(), marks.pixels.tolist()]
    )
    parts = [
        results_version(),
        clip_sha256,
        marked,
        options.half,
        options.hand,
        dataclasses.astuple(options.effort),
    ]
    return hashlib.sha256(json.dumps(parts).encode()).hexdigest()


def read_poses(path: str | Path, key: str) -> WatchedClip | None:
    """Read kept poses; None where there are none of this key."""
    try:
        with open_regular(path) as file, np.load(file, allow_pickle=False) as data:
            if str(data["key"]) != key:
                return None
            arrays: Arrays = dict(data)
        players = tuple(_player(arrays, f"{n}.") for n in range(int(arrays["players"])))
        courts = json.loads(str(arrays["courts"]))
        hands = zip(arrays["hands"].tolist(), arrays["confidences"].tolist(), strict=True)
        return WatchedClip(
            _motion(arrays),
            arrays["times"],
            players,
            tuple(RacketHand(*hand) for hand in hands),
            _court(courts["marked"]),
            _found(courts["found"]),
            tuple(
                Opponent(half, _full(Track, arrays, f"opponent{n}.track.", 0))
                for n, half in enumerate(arrays["opponents"].tolist())
            ),
            arrays["onsets"],
            courts["marked_fit"],
        )
    except Exception:  # whatever zipfile, NumPy and the dataclasses say of damaged bytes
        return None


def write_poses(path: str | Path, key: str, clip: WatchedClip) -> None:
    """Write poses, whole or not at all; without them the next run only takes longer."""
    courts: dict[str, Any] = {
        name: None if court is None else dataclasses.asdict(court)
        for name, court in (("marked", clip.marked), ("found", clip.found))
    }
    courts["marked_fit"] = clip.marked_fit
    arrays: Arrays = {
        "key": np.array(key),
        "times": clip.times,
        "players": np.array(len(clip.players)),
        "hands": np.array([racket.hand for racket in clip.racket_hands], str),
        "confidences": np.array([racket.confidence for racket in clip.racket_hands], float),
        "courts": np.array(json.dumps(courts, default=lambda array: array.tolist())),
    }
    arrays["opponents"] = np.array([opponent.half for opponent in clip.opponents], str)
    arrays["onsets"] = clip.onsets_s
    for number, opponent in enumerate(clip.opponents):
        arrays |= _flat((opponent.track,), f"opponent{number}.track.")
    arrays |= _motion_arrays(clip.motion)
    for number, player in enumerate(clip.players):
        arrays |= _player_arrays(player, f"{number}.")
    part = Path(path).with_name(name_temporary(Path(path).name))
    try:
        with open_private(part) as file:
            np.savez(file, **arrays)  # type: ignore[arg-type]
        os.replace(part, path)
    finally:
        part.unlink(missing_ok=True)


def _found(plain: dict[str, Any] | None) -> FoundCourt | None:
    """The court searched, from JSON."""
    return None if plain is None else FoundCourt(**plain | {"court": _court(plain["court"])})


def _court(plain: dict[str, Any] | None) -> CalibratedCourt | None:
    """A court and its camera, from JSON."""
    if plain is None:
        return None
    camera = plain["camera"] | {"image_size": tuple(plain["camera"]["image_size"])}
    for name in ("matrix", "rotation", "translation", "covariance"):
        camera[name] = None if camera[name] is None else np.array(camera[name])
    return CalibratedCourt(**plain | {"camera": Camera(**camera)})


def _motion_arrays(motion: CameraMotion) -> Arrays:
    arrays = {"motion.frames": motion.frames, "motion.to_reference": motion.to_reference}
    plain = dataclasses.asdict(motion)
    for name in arrays:
        del plain[name.removeprefix("motion.")]
    return {**arrays, "motion": np.array(json.dumps(plain))}


def _motion(arrays: Mapping[str, npt.NDArray[Any]]) -> CameraMotion:
    plain = json.loads(str(arrays["motion"]))
    return CameraMotion(
        **plain
        | {
            "image_size": tuple(plain["image_size"]),
            "used": tuple(Part(**part) for part in plain["used"]),
            "parts": tuple(Part(**part) for part in plain["parts"]),
            "frames": arrays["motion.frames"],
            "to_reference": arrays["motion.to_reference"],
        }
    )


def _player_arrays(player: WatchedPlayer, name: str) -> Arrays:
    arrays: Arrays = {f"{name}half": np.array(player.half)}
    arrays |= _flat((player.track,), f"{name}track.")
    arrays[f"{name}hands"] = np.array(list(player.spells), str)
    for kind, some in (*player.spells.items(), ("planted", player.planted)):
        plain = [dataclasses.asdict(spell) for spell in some]
        arrays[f"{name}spells.{kind}"] = np.array(json.dumps(plain))
    arrays[f"{name}observations"] = np.array(list(player.observations), int)
    arrays |= _flat(tuple(player.observations.values()), f"{name}observation.")
    arrays[f"{name}racket frames"] = np.array(list(player.racket_log_odds), int)
    arrays[f"{name}rackets"] = np.array(list(player.racket_log_odds.values()), float)
    arrays[f"{name}pictures"] = np.array(list(player.key_crops), int)
    cuts = tuple(player.key_crops.values())
    arrays[f"{name}corners"] = np.array([(cut.x, cut.y) for cut in cuts], int)
    arrays[f"{name}jpeg sizes"] = np.array([len(cut.jpeg) for cut in cuts], int)
    arrays[f"{name}jpegs"] = np.frombuffer(b"".join(cut.jpeg for cut in cuts), np.uint8)
    return arrays


def _player(arrays: Mapping[str, npt.NDArray[Any]], name: str) -> WatchedPlayer:
    spells = {str(hand): _spells(arrays, f"{name}spells.{hand}") for hand in arrays[f"{name}hands"]}
    jpegs = arrays[f"{name}jpegs"].tobytes()
    ends = np.cumsum(arrays[f"{name}jpeg sizes"]).tolist()
    return WatchedPlayer(
        arrays[f"{name}half"].item(),
        _full(Track, arrays, f"{name}track.", 0),
        spells,
        {
            frame: _full(Observation, arrays, f"{name}observation.", number)
            for number, frame in enumerate(arrays[f"{name}observations"].tolist())
        },
        dict(
            zip(
                arrays[f"{name}racket frames"].tolist(),
                arrays[f"{name}rackets"].tolist(),
                strict=True,
            )
        ),
        {
            frame: CompressedCrop(jpegs[end - size : end], *corner)
            for frame, size, end, corner in zip(
                arrays[f"{name}pictures"].tolist(),
                arrays[f"{name}jpeg sizes"].tolist(),
                ends,
                arrays[f"{name}corners"].tolist(),
                strict=True,
            )
        },
        _spells(arrays, f"{name}spells.planted"),
    )


def _spells(arrays: Mapping[str, npt.NDArray[Any]], name: str) -> tuple[ObservedSpell, ...]:
    return tuple(
        ObservedSpell(**{**entry, "observed_frames": tuple(entry["observed_frames"])})
        for entry in json.loads(str(arrays[name]))
    )


def _flat(values: Sequence[Any], name: str) -> Arrays:
    """Lay dataclasses of arrays and of further such dataclasses out as arrays, one of each field.

    One array for all is read far faster than one for each.
    """
    arrays: Arrays = {}
    for field in dataclasses.fields(values[0]) if values else ():
        parts = [getattr(value, field.name) for value in values]
        if dataclasses.is_dataclass(parts[0]):
            arrays |= _flat(parts, f"{name}{field.name}.")
        else:
            arrays[name + field.name] = np.array(parts)
    return arrays


def _full(
    kind: type[Decoded], arrays: Mapping[str, npt.NDArray[Any]], name: str, number: int
) -> Decoded:
    """Put one of the dataclasses together again that `_flat` laid out."""
    parts: dict[str, Any] = {}
    for field in dataclasses.fields(kind):  # type: ignore[arg-type]
        if isinstance(field.type, type) and dataclasses.is_dataclass(field.type):
            parts[field.name] = _full(field.type, arrays, f"{name}{field.name}.", number)
        else:
            value = arrays[name + field.name][number]
            parts[field.name] = value if value.ndim else value.item()
    return kind(**parts)
