"""What is true of a clip of play: strokes, planted spells, measures, joints."""

from typing import Any

import numpy as np

from tests.rendering.arrays import FloatArray
from tests.rendering.measures import Measures, measure
from tests.rendering.play.attacker import NOBODY
from tests.rendering.play.clip import ANKLES, WRISTS, Person, Play, in_picture
from tests.rendering.play.rally import Exchange, Rally
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
    contact. The first defender's truth lies at the top level, the partner's under "partner". Of
    the own strokes each has those that they play themselves.
    """
    camera = play.camera
    truths = [_defender_truth(play, person) for person in play.defenders]
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
        **truths[0],
        **({"partner": truths[1]} if len(truths) > 1 else {}),
    }


def _defender_truth(play: Play, person: Person) -> dict[str, Any]:
    """What is true of one defender."""
    joints = person.joints(play.frame_times)
    faced = [_faced(play, person, exchange, joints) for exchange in person.rally.exchanges]
    strokes = [] if play.opposite == NOBODY else list(faced)
    strokes += [_own(play, time_s, kind) for time_s, kind in _own_strokes(person.rally)]
    strokes.sort(key=lambda stroke: stroke["time_s"])
    return {
        "player": {"hand": person.hand, "height_m": round(_stature(person), 3)},
        "joint_names": list(JOINT_NAMES),
        "joints": np.round(joints, 3).tolist(),
        "strokes": strokes,
        "ready_positions": [_ready_position(stroke) for stroke in faced if stroke["set"]],
    }


def play_arrays(play: Play) -> dict[str, Any]:
    """Per-frame truth of both players as arrays, for NAME.joints.npz.

    `defender`, `partner` and `attacker` (frames, 17, 3) metres, court frame, empty where there is
    nobody; `..._planted` (frames, 2) of racket foot and other foot. Of the defender: `stroke_s`,
    `stroke_faced`, `stroke_serve`, `stroke_kind` (strokes,); `planted_s` (strokes, 2), NaN where
    not set.
    """
    times = play.frame_times
    strokes = play_truth(play)["strokes"]
    spells = [
        (s["planted_start_s"], s["planted_end_s"]) if s.get("set") else (np.nan, np.nan)
        for s in strokes
    ]
    return {
        "times": times,
        "joint_names": np.array(JOINT_NAMES),
        **_tracks("defender", play.defender, times),
        **_tracks("partner", play.partner, times),
        **_tracks("attacker", play.attacker, times),
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


def _tracks(name: str, person: Person | None, times: FloatArray) -> dict[str, Any]:
    """Joints, planted feet, hand and stature of a player, empty where there is nobody."""
    if person is None:
        joints, planted = np.empty((0, len(JOINT_NAMES), 3)), np.empty((0, 2), bool)
    else:
        joints, planted = person.joints(times), person.planted(times)
    return {
        name: joints.astype(np.float32),
        f"{name}_planted": planted,
        f"{name}_hand": "" if person is None else person.hand,
        f"{name}_stature_m": np.nan if person is None else _stature(person),
    }


def planted_spell(person: Person, exchange: Exchange) -> tuple[float, float] | None:
    """From when to when the defender is planted for a stroke faced; None where on the move.

    The last spell with both feet down that touches the window about the contact, before the
    player's own stroke.
    """
    contact_s = exchange.contact_s
    spells = [
        (float(start), float(end))
        for start, end in person.motion.both_planted()
        if start <= contact_s + AFTER_S
        and end >= contact_s - BEFORE_S
        and end - start >= SHORTEST_PLANTED_S
        and start < exchange.own_contact_s - SHORTEST_PLANTED_S
    ]
    return spells[-1] if spells else None


def _faced(play: Play, person: Person, exchange: Exchange, joints: FloatArray) -> dict[str, Any]:
    """One stroke faced with what the defender did about it."""
    entry: dict[str, Any] = {
        "side": "faced",
        "time_s": round(exchange.contact_s, 4),
        "frame": round(exchange.contact_s * play.frame_rate),
        "serve": exchange.serve,
        "kind": exchange.kind,
        "in_picture": _attacker_in_picture(play, exchange.contact_s),
    }
    spell = planted_spell(person, exchange)
    if spell is None:
        return {**entry, "set": False}
    start_s, end_s = spell
    landings, leaving = _landings(person, spell)
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
        **_mean_measures(person, joints[min(near, last) : last + 1]),
    }


def _frames_of(play: Play, start_s: float, end_s: float, count: int) -> tuple[int, int]:
    """First and last frame in a time span, at least one."""
    first = int(np.ceil(start_s * play.frame_rate - 1e-6))
    last = min(int(np.ceil(end_s * play.frame_rate - 1e-6)) - 1, count - 1)
    return first, max(first, last)


def _landings(person: Person, spell: tuple[float, float]) -> tuple[dict[str, float | None], str]:
    """When each foot landed before a planted spell, and which one leaves first after it."""
    landings: dict[str, float | None] = {}
    leaving = {}
    for name, foot in zip(FEET, person.motion.feet, strict=True):
        moving = foot.moving()
        before = moving[moving[:, 1] <= spell[0] + 1e-9, 1]
        after = moving[moving[:, 0] >= spell[1] - 1e-9, 0]
        landings[name] = round(float(before[-1]), 4) if len(before) else None
        leaving[name] = float(after[0]) if len(after) else np.inf
    return landings, min(FEET, key=lambda name: leaving[name])


def _mean_measures(person: Person, joints: FloatArray) -> dict[str, Any]:
    """Means of each measure over frames (frames, 17, 3), and the class that follows from them."""
    found = [measure(frame, person.hand) for frame in joints]
    means = {
        name: np.round(
            np.mean([getattr(m, name) for m in found], axis=0), DIGITS.get(name, 2)
        ).tolist()
        for name in Measures.__dataclass_fields__
    }
    width = round(means["stance_width_m"] / _stature(person), 4)
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


def _own_strokes(rally: Rally) -> list[tuple[float, str]]:
    """Times and kinds of a defender's own strokes; a serve is the one of that kind."""
    own = [(e.own_contact_s, e.own_kind) for e in rally.exchanges if e.plays]
    return own if rally.own_serve_s is None else [(rally.own_serve_s, "serve"), *own]


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


def _stature(person: Person) -> float:
    return float(person.skeleton.body.phenotype.stature_m)
