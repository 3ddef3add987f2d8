"""A clip watched whole: its court searched where none is marked, its camera's motion followed."""

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from stance.camera_motion.background import median_picture, read_quick_pictures
from stance.camera_motion.motion import CameraMotion
from stance.court.calibration import CalibratedCourt
from stance.measures.handedness import estimate_racket_hand
from stance.runtime.progress import Progress, Timings, no_progress
from stance.types import FloatArray, Hand
from stance.video.probe import ClipDescription
from stance.video.sound import read_onsets
from stance.watching.assumed_court import assume_court_or_refuse
from stance.watching.court_place import find_court_place, search_court
from stance.watching.marked_check import KnownCourt, agrees_at_once, check_marked
from stance.watching.options import DEFAULT_OPTIONS, ClipContext, WatchOptions
from stance.watching.pipeline import CameraMoved, WatchResult, watch
from stance.watching.watched_clip import RacketHand, WatchedClip, WatchedPlayer


def watch_clip(
    path: str | Path,
    description: ClipDescription,
    marked: CalibratedCourt | None = None,
    options: WatchOptions = DEFAULT_OPTIONS,
    progress: Progress = no_progress,
    timings: Timings | None = None,
) -> WatchedClip:
    """Watch a clip; its court is searched first where none is marked, and else checked.

    The camera is taken to stand, so that the clip is decoded once only; where it turns out not to,
    its motion is followed and all is done again.

    Parameters
    ----------
    path
        of the video
    description
        what its head tells
    marked
        the marked court; None to search it in the picture
    options
        whom to watch, and how
    progress
        told how far the work is
    timings
        adds up where the time goes

    Raises
    ------
    InputError
        If the clip can't be read, the camera keeps moving, or the marked court does not fit.
    """
    timings = timings or Timings()
    size = description.size

    def watch_with(motion: CameraMotion | None, known: KnownCourt) -> WatchedClip:
        camera = None if known.court is None else known.court.camera
        clip = ClipContext(path, size, description.packets, camera)
        seen = watch(clip, motion, options, progress, timings)
        with timings.of("measure"):
            hands = find_racket_hands(seen.players, known.court, size, options.hand)
        with timings.of("sound"):
            onsets = read_onsets(path)
        return _put_together(seen, hands, known, onsets)

    with timings.of("court"):
        known = _know_court_at_once(path, size, marked)
    if known is not None:
        with suppress(CameraMoved):
            return watch_with(None, known)
    with timings.of("camera"):
        # A marked court is marked in that place too.
        place = find_court_place(path, size)
        known = KnownCourt(None, place.found) if marked is None else check_marked(marked, place)
    return watch_with(place.motion, known)


def _put_together(
    seen: WatchResult,
    hands: tuple[RacketHand, ...],
    known: KnownCourt,
    onsets_s: FloatArray,
) -> WatchedClip:
    """All that was seen in a clip, and when something sharp was heard, seconds."""
    return WatchedClip(
        seen.motion,
        seen.times,
        seen.players,
        hands,
        known.marked,
        known.found,
        seen.opponents,
        onsets_s,
        known.marked_fit,
    )


def _know_court_at_once(
    path: str | Path, image_size: tuple[int, int], marked: CalibratedCourt | None
) -> KnownCourt | None:
    """The court in key pictures of a camera that stands; None where they do not tell."""
    if marked is not None:
        fits = agrees_at_once(marked, path, image_size)
        return KnownCourt(marked, None) if fits else None
    pictures = read_quick_pictures(path, image_size)
    if not pictures:
        return None
    return KnownCourt(None, search_court(pictures, median_picture(pictures)))


def find_racket_hands(
    players: Sequence[WatchedPlayer],
    court: CalibratedCourt | None,
    image_size: tuple[int, int],
    given: Hand | None,
) -> tuple[RacketHand, ...]:
    """Find the racket hand of each player, and the confidence in it.

    Parameters
    ----------
    players
        of one clip
    court
        marked or found; None where a camera is assumed from the first player
    image_size
        (width, height), pixels
    given
        the hand of all players, where it need not be seen

    Raises
    ------
    InputError
        There is no court, and the player does not stand upright.
    """
    if given is not None:
        return (RacketHand(given, 1.0),) * len(players)
    if not players:
        return ()
    near = (court or assume_court_or_refuse(players[0].track, image_size)).camera
    return tuple(
        RacketHand(
            *estimate_racket_hand(player.track, player.racket_log_odds, player.own_camera(near))
        )
        for player in players
    )
