"""What is true of a clip of play: strokes, planted spells, measures, joints."""

from typing import Any

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.measures import Measures, measure
from tests.rendering.play.attacker import NOBODY
from tests.rendering.play.clip import ANKLES, WRISTS, Play, in_picture
from tests.rendering.play.rally import Exchange
from tests.rendering.skeleton import JOINT_NAMES
from tests.rendering.truth import TRUTH_SCHEMA

BEFORE_S, AFTER_S = 0.15, 0.30  # the window about a contact in which a set defender is planted
SHORTEST_PLANTED_S = 0.1
FEET = ("racket", "other")
DIGITS = {"foot_stagger_m": 4, "stance_width_m": 4, "base_m": 4}


def play_truth(play: Play) -> dict[str, Any]:
    """The truth of a clip of play, schema "stance-truth/1" with `strokes` besides.

    `ready_positions` are the planted spells of strokes faced, or, where nobody strikes, of the
    strokes that the defender imagines; measures are means over a spell's frames next to the
    contact.
    """
    camera = play.camera
    joints = play.defender.joints(play.frame_times)
    faced = [_faced(play, exchange, joints) for exchange in play.rally.exchanges]
    strokes = [] if play.opposite == NOBODY else list(faced)
    strokes += [_own(play, time_s, kind) for time_s, kind in _own_strokes(play)]
    strokes.sort(key=lambda stroke: stroke["time_s"])
    return {
        "schema": TRUTH_SCHEMA,
        "image_size": list(camera.size),
        "frame_rate": play.frame_rate,
        "camera": {
            "K": camera.matrix.tolist(),
            "R": camera.rotation.tolist(),
            "t": camera.translation.tolist(),
        },
        "view": play.view,
        "play": play.rally.kind,
        "opposite": play.opposite,
        "shutter_s": round(play.shutter_s, 6),
        "sound": not play.silent,
        "player": {
            "hand": play.defender.hand,
            "height_m": round(_stature(play), 3),
        },
        "joint_names": list(JOINT_NAMES),
        "joints": np.round(joints, 3).tolist(),
        "strokes": strokes,
        "ready_positions": [_ready_position(stroke) for stroke in faced if stroke["set"]],
    }


def play_arrays(play: Play) -> dict[str, Any]:
    """Per-frame truth of both players as arrays, for NAME.joints.npz.

    `defender` and `attacker` (frames, 17, 3) metres, court frame, empty where there is nobody;
    `..._planted` (frames, 2) of racket foot and other foot; `stroke_s`, `stroke_faced`,
    `stroke_serve`, `stroke_kind` (strokes,); `planted_s` (strokes, 2), NaN where not set.
    """
    times = play.frame_times
    truth = play_truth(play)
    strokes = truth["strokes"]
    nobody = np.empty((0, len(JOINT_NAMES), 3), np.float32)
    attacker = play.attacker
    spells = [
        (s["planted_start_s"], s["planted_end_s"]) if s.get("set") else (np.nan, np.nan)
        for s in strokes
    ]
    return {
        "times": times,
        "joint_names": np.array(JOINT_NAMES),
        "defender": play.defender.joints(times).astype(np.float32),
        "defender_planted": play.defender.planted(times),
        "attacker": nobody if attacker is None else attacker.joints(times).astype(np.float32),
        "attacker_planted": (
            np.empty((0, 2), bool) if attacker is None else attacker.planted(times)
        ),
        "hands": np.array([play.defender.hand, "" if attacker is None else attacker.hand]),
        "stature_m": _stature(play),
        "frame_rate": play.frame_rate,
        "camera_K": play.camera.matrix,
        "camera_R": play.camera.rotation,
        "camera_t": play.camera.translation,
        "camera_distortion": play.camera.distortion,
        "image_size": np.array(play.camera.size),
        "stroke_s": np.array([s["time_s"] for s in strokes]),
        "stroke_faced": np.array([s["side"] == "faced" for s in strokes], bool),
        "stroke_serve": np.array([s["serve"] for s in strokes], bool),
        "stroke_kind": np.array([s["kind"] for s in strokes]),
        "planted_s": np.array(spells).reshape(-1, 2),
    }


def planted_spell(play: Play, exchange: Exchange) -> tuple[float, float] | None:
    """From when to when the defender is planted for a stroke faced; None where on the move.

    The last spell with both feet down that touches the window about the contact, before the
    player's own stroke.
    """
    contact_s = exchange.contact_s
    spells = [
        (float(start), float(end))
        for start, end in play.defender.motion.both_planted()
        if start <= contact_s + AFTER_S
        and end >= contact_s - BEFORE_S
        and end - start >= SHORTEST_PLANTED_S
        and start < exchange.own_contact_s - SHORTEST_PLANTED_S
    ]
    return spells[-1] if spells else None


def _faced(play: Play, exchange: Exchange, joints: FloatArray) -> dict[str, Any]:
    """One stroke faced with what the defender did about it."""
    entry: dict[str, Any] = {
        "side": "faced",
        "time_s": round(exchange.contact_s, 4),
        "frame": round(exchange.contact_s * play.frame_rate),
        "serve": exchange.serve,
        "kind": exchange.kind,
        "in_picture": _attacker_in_picture(play, exchange.contact_s),
    }
    spell = planted_spell(play, exchange)
    if spell is None:
        return {**entry, "set": False}
    start_s, end_s = spell
    landings, leaving = _landings(play, spell)
    first, last = _frames_of(play, start_s, end_s, len(joints))
    from_s = max(start_s, exchange.contact_s - BEFORE_S)
    near, _ = _frames_of(play, from_s, end_s, len(joints))
    return {
        **entry,
        "set": True,
        "landing_s": landings,
        "planted_start_s": round(start_s, 4),
        "planted_end_s": round(end_s, 4),
        "planted_start_frame": first,
        "planted_end_frame": last,
        "first_foot_leaving": leaving,
        **_mean_measures(play, joints[min(near, last) : last + 1]),
    }


def _frames_of(play: Play, start_s: float, end_s: float, count: int) -> tuple[int, int]:
    """First and last frame in a time span, at least one."""
    first = int(np.ceil(start_s * play.frame_rate - 1e-6))
    last = min(int(np.ceil(end_s * play.frame_rate - 1e-6)) - 1, count - 1)
    return first, max(first, last)


def _landings(play: Play, spell: tuple[float, float]) -> tuple[dict[str, float | None], str]:
    """When each foot landed before a planted spell, and which one leaves first after it."""
    landings: dict[str, float | None] = {}
    leaving = {}
    for name, foot in zip(FEET, play.defender.motion.feet, strict=True):
        moving = foot.moving()
        before = moving[moving[:, 1] <= spell[0] + 1e-9, 1]
        after = moving[moving[:, 0] >= spell[1] - 1e-9, 0]
        landings[name] = round(float(before[-1]), 4) if len(before) else None
        leaving[name] = float(after[0]) if len(after) else np.inf
    return landings, min(FEET, key=lambda name: leaving[name])


def _mean_measures(play: Play, joints: FloatArray) -> dict[str, Any]:
    """Means of each measure over frames (frames, 17, 3), and the class that follows from them."""
    found = [measure(frame, play.defender.hand) for frame in joints]
    means = {
        name: np.round(
            np.mean([getattr(m, name) for m in found], axis=0), DIGITS.get(name, 2)
        ).tolist()
        for name in Measures.__dataclass_fields__
    }
    width = round(means["stance_width_m"] / _stature(play), 4)
    return {
        "class": Measures(**means).stance_class,
        **means,
        "stance_width_of_height": width,
    }


def _ready_position(stroke: dict[str, Any]) -> dict[str, Any]:
    """The ready position of a stroke faced, as the truth of drills has it."""
    left_out = ("side", "frame", "serve", "kind", "in_picture", "set", "time_s")
    rest = {name: value for name, value in stroke.items() if name not in left_out}
    return {
        "start_frame": rest.pop("planted_start_frame"),
        "end_frame": rest.pop("planted_end_frame"),
        "start_s": rest.pop("planted_start_s"),
        "end_s": rest.pop("planted_end_s"),
        "contact_s": stroke["time_s"],
        **rest,
    }


def _own_strokes(play: Play) -> list[tuple[float, str]]:
    """Times and kinds of the defender's own strokes; a serve is the one of that kind."""
    own = [(exchange.own_contact_s, exchange.own_kind) for exchange in play.rally.exchanges]
    serve = play.rally.own_serve_s
    return own if serve is None else [(serve, "serve"), *own]


def _own(play: Play, time_s: float, kind: str) -> dict[str, Any]:
    """One stroke of the defender's own."""
    return {
        "side": "own",
        "time_s": round(time_s, 4),
        "frame": round(time_s * play.frame_rate),
        "serve": kind == "serve",
        "kind": kind,
        "in_picture": True,
    }


def _attacker_in_picture(play: Play, time_s: float) -> bool:
    """Whether hands and feet of the attacker are in the picture at a time."""
    if play.attacker is None:
        return False
    joints = play.attacker.joints(np.array([time_s]))[0]
    return bool(in_picture(play.camera, joints[WRISTS + ANKLES]).all())


def _stature(play: Play) -> float:
    return float(play.defender.skeleton.body.phenotype.stature_m)
