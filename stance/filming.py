"""How a clip was filmed, and who is in it: what is told of a result besides its measures."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from stance.camera import Camera, camera_centre, turned_180
from stance.hands import SURE
from stance.result import Filming, Notice, PlayerResult, Result

VIEWS = ("behind", "corner", "side", "front")
UNKNOWN_VIEW = "unknown"

# Where one view ends and the next begins: degrees between straight behind the player and the
# phone, seen from above.
_VIEW_ENDS_DEG = (20.0, 65.0, 125.0, 181.0)

# So many clips are named in a notice.
_CLIPS_NAMED = 5


def filming_of(result: Result) -> Filming:
    """Tell where the phone stood from the camera and the places of the ready positions.

    Parameters
    ----------
    result : the phone is told as seen from the middle of all its ready positions
    """
    if not result.court.K:
        return Filming(UNKNOWN_VIEW, math.nan, math.nan)
    offsets = []
    for player in result.players:
        phone = _phone(result, player)
        height = float(phone[2])
        offsets += [phone[:2] - p.base_m for p in player.ready_positions
                    if np.isfinite(p.base_m).all()]
    if not offsets:
        return Filming(UNKNOWN_VIEW, math.nan, math.nan)
    across, along = np.mean(offsets, axis=0)
    from_behind = abs(math.degrees(math.atan2(across, -along)))
    view = next(v for v, end in zip(VIEWS, _VIEW_ENDS_DEG, strict=True) if from_behind < end)
    return Filming(view, height, float(math.hypot(across, along)))


def labelled(
    result: Result, names: Mapping[str, str], date: str = "", session: str = "",
) -> Result:
    """The result with its players' names, its date and session, and how it was filmed.

    Parameters
    ----------
    result : Result
    names : letter of a player in the clip to name; players without one stay nameless
    date : year-month-day, or empty
    session : or empty
    """
    players = tuple(replace(p, name=names.get(p.player, "")) for p in result.players)
    return replace(result, players=players, date=date, session=session,
                   filming=filming_of(result))


def hands_unsure(players: Iterable[tuple[Result, PlayerResult]], advice: str) -> list[Notice]:
    """What to warn of where the racket hand of some players could not be seen for sure.

    Parameters
    ----------
    players : with the results of the clips they are in
    advice : how to give the hand
    """
    clips = list(dict.fromkeys(
        result.clip.file for result, player in players if player.hand_confidence < SURE))
    if not clips:
        return []
    more = f" and {len(clips) - _CLIPS_NAMED} more" if len(clips) > _CLIPS_NAMED else ""
    return [Notice(
        "hand_unsure",
        f"Which hand holds the racket could not be seen for sure in "
        f"{', '.join(clips[:_CLIPS_NAMED])}{more}. Where the wrong one was taken, all angles have "
        "the wrong sign and the leg in front is the other one; over-side-on counts whichever side "
        f"leads. {advice}")]


def _phone(result: Result, player: PlayerResult) -> np.ndarray:
    """Place of the phone in the frame of the player's own half, (3,) metres."""
    court = result.court
    camera = Camera(np.array(court.K), np.array(court.R), np.array(court.t), result.clip.size)
    return camera_centre(camera if player.half == "near" else turned_180(camera))
