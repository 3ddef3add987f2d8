"""The whole way of the data: a clip in, a result with its pictures out."""

import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from stance.background import (
    CameraMotion,
    camera_motion,
    laid_frame,
    motion_notices,
    quick_pictures,
    still_pictures,
    without_people,
)
from stance.body import base_on_floor
from stance.camera import Camera, turned_180
from stance.certainty import calibrated_probabilities
from stance.classes import DEFAULT_LIMITS, Limits, class_probabilities, classify
from stance.court import CalibratedCourt, calibrate, read_court_file
from stance.court_finding import FoundCourt, find_court, moving_feet
from stance.drawing import key_picture, overlay_caption, overlay_picture
from stance.errors import InputError
from stance.hands import SURE, seen_hand
from stance.kept import POSES_FILE, Seen, key_of, read_poses, write_poses
from stance.measures import Measures, average, measure
from stance.memory import share_free_memory
from stance.passes import (
    QUICK,
    Effort,
    Progress,
    Timings,
    Waiting,
    Watched,
    assume,
    frames_seen,
    no_progress,
    watch,
)
from stance.players import Track
from stance.poses import prepare
from stance.ready import waits
from stance.report import write_report
from stance.result import (
    ClipSummary,
    CourtSummary,
    FloorContact,
    Notice,
    PlayerResult,
    ReadyPosition,
    Result,
    write_result,
)
from stance.shares import class_shares, clip_statement
from stance.video import (
    ClipDescription,
    Frame,
    VideoWriter,
    ahead,
    describe_clip,
    read_frames,
    summarise,
)

FloatArray = npt.NDArray[np.float64]
ImageArray = npt.NDArray[np.uint8]

LETTERS = "ABCD"

# Frames decoded ahead while the overlay is drawn.
_AHEAD = 6

# Median standard errors above these are worth a word on where to put the phone: about one still
# in twenty lies above.
_SURE_HIPS_DEG, _SURE_FEET_DEG = 8.0, 4.0


@dataclass(frozen=True)
class Analysis:
    """A result, and what is needed to draw it.

    Attributes
    ----------
    result : Result
    pictures : key picture (height, width, 3) RGB by (player, number of the ready position); drawn
        when asked for
    tracks : track of each player by letter
    cameras : camera in the frame of each player's half by letter
    poses_key : what the poses depend on
    seen : all that was seen in the clip; tracks and cameras are those of the reference picture of
        its camera's motion
    """

    result: Result
    pictures: Mapping[tuple[str, int], ImageArray]
    tracks: dict[str, Track]
    cameras: dict[str, Camera]
    poses_key: str
    seen: Seen


def analyse(
    clip: str | Path, court: str | Path | None = None, hand: str | None = None,
    limits: Limits = DEFAULT_LIMITS, progress: Progress = no_progress,
    half: str | None = None, player: str | None = None,
    names: Mapping[str, str] | None = None, effort: Effort = QUICK,
    kept_in: str | Path | None = None, timings: Timings | None = None,
    workers: int | None = None,
) -> Analysis:
    """Measure the ready positions of the defenders in a clip.

    Parameters
    ----------
    clip : path of the video
    court : path of the court file; without it a camera is assumed
    hand : "right", "left" or None to see it from the clip
    limits : limits of the classes
    progress : told how far the work is
    half : "near", "far" or "both"; None for the near half and, where that is empty, the far one
    player : letter of the only player to measure
    names : what the coach calls the players, by letter
    effort : how much to look at
    kept_in : folder in which the poses of an earlier run may be kept
    timings : adds up where the time goes
    workers : threads that decode, and that look at poses; the result does not depend on it

    Returns
    -------
    Analysis; without players or ready positions it says why in its warnings

    Raises
    ------
    InputError
        If the clip or the court file can't be read or is not what it says it is, the camera
        keeps moving, or the player asked for was not found.
    OutputError
        If there is no room for a temporary file.
    """
    timings = timings or Timings()
    share_free_memory()
    with ThreadPoolExecutor(1) as beside, timings.of("decode"):
        if kept_in is None or not os.path.exists(Path(kept_in) / POSES_FILE):
            # What fails fails again where it is needed. It is waited for, since the terminal is
            # silent meanwhile.
            beside.submit(prepare, effort.model)
        description = describe_clip(clip)
    notices = list(description.notices)
    marks = None if court is None else read_court_file(court, description.size)
    key = key_of(description.sha256, marks, half, hand, effort)
    seen = None if kept_in is None else read_poses(Path(kept_in) / POSES_FILE, key)
    if seen is None:
        marked = None if marks is None else calibrate(marks)
        seen = _seen(clip, description, marked, half, hand, effort, progress, timings, workers)
    known = seen.marked
    if seen.found is not None:
        known = seen.found.court
        notices.append(_court_searched(seen.found))
    watched = seen.players
    summary, timing_notices = summarise(description, seen.times)
    notices += [*timing_notices, *motion_notices(seen.motion)]
    if not watched:
        notices.append(_nobody(summary, None if known is None else known.source))
        court_summary = (CourtSummary("assumed", None, (), (), ()) if known is None
                         else _court_summary(known))
        result = Result(summary, court_summary, (), tuple(notices))
        return Analysis(result, {}, {}, {}, key, seen)
    calibrated = assume(watched[0].track, description.size) if known is None else known
    step = float(np.median(np.diff(seen.times)))
    with timings.of("measure"):
        measured = _lettered([
            _measured(one, calibrated.camera, *hand_of, limits, step)
            for one, hand_of in zip(watched, seen.hands, strict=True)])
    if player is not None:
        if player not in measured:
            raise InputError(
                f"There is no player {player} in {summary.file}: found "
                f"{' and '.join(measured)}, left to right.")
        measured = {player: measured[player]}
    results = []
    for letter, one in measured.items():
        notices += one.notices(letter)
        results.append(PlayerResult(
            player=letter, half=one.watched.half, hand=one.hand,
            hand_source="given" if hand else "seen", ready_positions=one.positions,
            shares=class_shares(one.positions), frames_seen=frames_seen(one.watched.track),
            name=(names or {}).get(letter, ""), hand_confidence=one.hand_confidence))
    result = Result(summary, _court_summary(calibrated), tuple(results), tuple(notices),
                    clip_statement(results),
                    {"square_deg": limits.square_deg, "side_on_deg": limits.side_on_deg,
                     "confidence": limits.confidence})
    return Analysis(
        result, _Pictures(measured),
        {letter: one.watched.track for letter, one in measured.items()},
        {letter: one.camera for letter, one in measured.items()}, key, seen)


def _seen(
    clip: str | Path, description: ClipDescription, marked: CalibratedCourt | None,
    half: str | None, hand: str | None, effort: Effort, progress: Progress, timings: Timings,
    workers: int | None,
) -> Seen:
    """Watch a clip; its court is searched first where none is marked.

    The camera is taken to stand, so that the clip is decoded once only; where it turns out not to,
    its motion is followed and all is done again.
    """
    def watched(motion: CameraMotion | None, found: FoundCourt | None) -> Seen | None:
        court = found.court if found is not None else marked
        seen = watch(clip, motion, description.size, description.packets,
                     None if court is None else court.camera, half, hand, effort, progress,
                     timings, workers)
        if seen is None:
            return None
        with timings.of("measure"):
            hands = _hands(seen[2], court, description.size, hand)
        return Seen(*seen, hands, marked, found)

    with timings.of("court"):
        pictures = quick_pictures(clip, description.size) if marked is None else []
        found = _searched(pictures) if pictures else None
    if marked is not None or found is not None:
        seen = watched(None, found)
        if seen is not None:
            return seen
    with timings.of("camera"):
        motion = camera_motion(clip, description.size)
    if marked is None:
        with timings.of("court"):
            found = _searched(still_pictures(clip, motion))
    seen = watched(motion, found)
    assert seen is not None
    return seen


def _hands(
    watched: Sequence[Watched], court: CalibratedCourt | None, size: tuple[int, int],
    hand: str | None,
) -> tuple[tuple[str, float], ...]:
    """The racket hand of each player, given or seen, and the confidence in it."""
    if hand is not None:
        return ((hand, 1.0),) * len(watched)
    if not watched:
        return ()
    near = (court or assume(watched[0].track, size)).camera
    return tuple(seen_hand(one.track, one.rackets, _own_camera(one, near)) for one in watched)


def _own_camera(watched: Watched, near: Camera) -> Camera:
    """The camera in the frame of a player's half, from that in the near half's."""
    return near if watched.half == "near" else turned_180(near)


@dataclass(frozen=True)
class _Measured:
    """One player's ready positions, in the frame of the player's half."""

    watched: Watched
    camera: Camera
    hand: str
    hand_confidence: float
    positions: tuple[ReadyPosition, ...]

    def notices(self, letter: str) -> list[Notice]:
        """What to warn of."""
        notices = []
        if self.hand_confidence < SURE:
            notices.append(_hand_unsure(letter, self.hand))
        if not self.positions:
            notices.append(_never_waits(letter))
        else:
            hips, feet = (float(np.median([getattr(p, name) for p in self.positions]))
                          for name in ("hip_yaw_se_deg", "lead_angle_se_deg"))
            if hips > _SURE_HIPS_DEG or feet > _SURE_FEET_DEG:
                notices.append(_seen_badly(letter, hips, feet))
        return notices

    def picture(self, position: ReadyPosition) -> ImageArray:
        """Draw a ready position on its key frame."""
        cut = self.watched.pictures[position.key_frame]
        look = self.watched.looks[position.key_frame]
        image = cut.image
        matrix = self.camera.matrix - np.array([[0, 0, cut.x], [0, 0, cut.y], [0, 0, 0]])
        camera = replace(self.camera, matrix=matrix, image_size=image.shape[1::-1])
        return key_picture(image, look.pose.pixels - (cut.x, cut.y), position, camera, self.hand)

    @property
    def across(self) -> float:
        """Where the player first waits, or else is on the whole, metres to the right."""
        if self.positions:
            return self.positions[0].base_m[0]
        track = self.watched.track
        return float(np.nanmedian(base_on_floor(self.camera, track.pixels)[:, 0]))


class _Pictures(Mapping[tuple[str, int], ImageArray]):
    """Key pictures by player and number, drawn when asked for: together they would fill memory."""

    def __init__(self, measured: Mapping[str, _Measured]) -> None:
        self._measured = measured
        self._positions = {(letter, number): position for letter, one in measured.items()
                           for number, position in enumerate(one.positions, 1)}

    def __getitem__(self, key: tuple[str, int]) -> ImageArray:
        return self._measured[key[0]].picture(self._positions[key])

    def __iter__(self) -> Iterator[tuple[str, int]]:
        return iter(self._positions)

    def __len__(self) -> int:
        return len(self._positions)


def _measured(
    watched: Watched, near: Camera, hand: str, hand_confidence: float, limits: Limits,
    step: float,
) -> _Measured:
    """Measure one player.

    Parameters
    ----------
    watched : Watched
    near : camera in the frame of the near half
    hand, hand_confidence : racket hand, and the confidence in it
    limits : limits of the classes
    step : time between frames, seconds
    """
    camera = _own_camera(watched, near)
    positions = [
        _ready_position(waiting, measures, limits, step)
        for waiting in watched.waiting[hand]
        if (measures := _averaged(camera, watched, waiting, hand)) is not None
        and waits(measures.knee_flexion[:, 0])]
    return _Measured(watched, camera, hand, hand_confidence, tuple(positions))


def _averaged(
    camera: Camera, watched: Watched, waiting: Waiting, hand: str,
) -> Measures | None:
    """Average the close looks at a spell; None where none shows the feet on the floor."""
    looks = [watched.looks[frame] for frame in waiting.looks]
    found = [measures for look in looks
             if (measures := measure(camera, look, hand)) is not None]
    return average(found) if found else None


def _lettered(players: Sequence[_Measured]) -> dict[str, _Measured]:
    """Give letters: the near half first, each left to right at the first ready position."""
    ordered = sorted(players, key=lambda one: (one.watched.half != "near", one.across))
    return dict(zip(LETTERS, ordered, strict=False))


def write_overlay(
    clip: str | Path, analysis: Analysis, path: str | Path, progress: Progress = no_progress,
    timings: Timings | None = None,
) -> None:
    """Write the clip again with skeleton and state drawn on every frame.

    Parameters
    ----------
    clip : path of the video
    analysis : of this clip
    path : video to write, .mp4
    progress : told how far the work is
    timings : adds up where the time goes

    Raises
    ------
    OutputError
        If the video can't be written.
    """
    timings = timings or Timings()
    summary = analysis.result.clip
    with VideoWriter(path, summary.size, summary.frame_rate) as writer:
        for frame in ahead(timings.each(read_frames(clip), "decode"), _AHEAD):
            with timings.of("draw"):
                laid = laid_frame(frame, analysis.seen.motion)
                image = (laid or frame).image
                for player in analysis.result.players if laid else ():
                    image = _drawn(image, frame, player, analysis)
                writer.write(image, frame.time_s)
            progress("drawing", frame.index + 1, summary.frames)


def _drawn(
    image: ImageArray, frame: Frame, player: PlayerResult, analysis: Analysis,
) -> ImageArray:
    """Draw one player's pose and state on a frame."""
    here = analysis.tracks[player.player].between(
        np.array([frame.index]), np.array([frame.time_s]))
    landmarks = here.pixels[0] if here.seen[0] else None
    number, position = next(
        ((i, p) for i, p in enumerate(player.ready_positions, 1)
         if p.start_frame <= frame.index <= p.end_frame), (None, None))
    caption = (overlay_caption(frame.time_s, position, number)
               if len(analysis.result.players) == 1 else ())
    return overlay_picture(image, landmarks, position, analysis.cameras[player.player],
                           player.hand, caption)


def _ready_position(
    waiting: Waiting, measures: Measures, limits: Limits, step: float,
) -> ReadyPosition:
    """Put a ready position together from its spell and its averaged measures."""
    probabilities = calibrated_probabilities(class_probabilities(
        measures.lead_angle[0], measures.lead_angle[1],
        measures.hip_yaw[0], measures.hip_yaw[1], limits))
    name, remarks = classify(measures.lead_angle[0], probabilities, limits)
    width = measures.stance_width[0]
    feet = measures.feet
    return ReadyPosition(
        start_s=waiting.start_s, end_s=waiting.end_s + step,
        start_frame=waiting.start_frame, end_frame=waiting.end_frame,
        key_frame=waiting.key_frame,
        hip_yaw_deg=float(measures.hip_yaw[0]), hip_yaw_se_deg=float(measures.hip_yaw[1]),
        shoulder_yaw_deg=float(measures.shoulder_yaw[0]),
        shoulder_yaw_se_deg=float(measures.shoulder_yaw[1]),
        lead_angle_deg=float(measures.lead_angle[0]),
        lead_angle_se_deg=float(measures.lead_angle[1]),
        foot_stagger_m=float(measures.foot_stagger[0]),
        foot_stagger_se_m=float(measures.foot_stagger[1]),
        stance_width_m=float(width), stance_width_se_m=float(measures.stance_width[1]),
        stance_width_hips=float(width / measures.hip_width),
        stance_width_legs=float(width / measures.leg_length),
        knee_flexion_deg=_pair(measures.knee_flexion[:, 0]),
        knee_flexion_se_deg=_pair(measures.knee_flexion[:, 1]),
        base_m=_pair(measures.base[:, 0]), base_se_m=_pair(measures.base[:, 1]),
        stance_class=name, probabilities=probabilities,
        feet=(FloorContact(_pair(feet[0, 0]), _pair(feet[0, 1])),
              FloorContact(_pair(feet[1, 0]), _pair(feet[1, 1]))),
        hips_m=(_pair(measures.hips[0]), _pair(measures.hips[1])), remarks=remarks)


def _pair(values: FloatArray) -> tuple[float, float]:
    """Return two numbers as a tuple."""
    return float(values[0]), float(values[1])


def _court_summary(calibrated: CalibratedCourt) -> CourtSummary:
    """Return what the result says of the court."""
    camera = calibrated.camera
    return CourtSummary(
        calibrated.source, calibrated.error_px,
        K=tuple(tuple(map(float, row)) for row in camera.matrix),
        R=tuple(tuple(map(float, row)) for row in camera.rotation),
        t=tuple(map(float, camera.translation)))


def _searched(pictures: Sequence[ImageArray]) -> FoundCourt:
    """Search the court in what stands still in pictures of the clip."""
    still = without_people(pictures)
    return find_court(still, moving_feet(pictures, still))


def _court_searched(found: FoundCourt) -> Notice:
    """Return the notice that the court was found, or why the camera is assumed."""
    if found.court is not None:
        return Notice(
            "court_found",
            f"The court was found by its lines, to {found.court.error_px:.1f} pixels, with a "
            f"confidence of {100 * found.confidence:.0f} %. Check that the drawn court lies on the "
            "painted one; if it does not, mark it with: stance court CLIP")
    return Notice(
        "court_assumed",
        f"The court was not found. {found.reason} Or mark it with: stance court CLIP. Until then "
        "the camera is assumed to be level and to look square at the net: angles are several "
        "degrees less sure, and places on the court are not shown.")


def _never_waits(letter: str) -> Notice:
    """Return the notice that a player never waits."""
    return Notice(
        "no_ready_position",
        f"Player {letter} was found but never waits: no spell of 0.2 seconds or more with both "
        "feet down and still, knees bent. Film a drill in which the player gets set for each "
        "stroke.")


def _nobody(summary: ClipSummary, court: str | None) -> Notice:
    """Return the notice that nobody was found on a "marked" or "found" court, or at all."""
    where = f"on the {court} court" if court else "in the picture"
    return Notice(
        "no_player",
        f"No player was found {where} in {summary.file}. Film so that the player's whole body "
        "is in view, at least 70 pixels tall"
        + (", and check that the court file belongs to this clip." if court == "marked" else "."))


def _seen_badly(letter: str, hips: float, feet: float) -> Notice:
    """Return the notice that from where the phone stood the angles are not sure."""
    return Notice(
        "phone_place",
        f"From where the phone stood, player {letter}'s hips are known to {hips:.0f} degrees and "
        f"the feet to {feet:.0f} (one standard error). Both are seen best from a rear corner, with "
        "the phone 2 metres up or higher and 4 to 7 metres away, the whole body in the picture "
        "(docs/filming.md).")


def _hand_unsure(letter: str, hand: str) -> Notice:
    """Return the notice that the racket hand is a guess."""
    return Notice(
        "hand_unsure",
        f"Which hand of player {letter} holds the racket could not be seen for sure; {hand} was "
        f"taken. If that is wrong, all angles have the wrong sign: run again with --player "
        f"{letter} and --hand right or --hand left.")


def write_all(
    analysis: Analysis, clip: str | Path, folder: str | Path, overlay: bool,
    progress: Progress = no_progress, timings: Timings | None = None,
) -> None:
    """Write the result, the report and, if wanted, the overlay video into a folder.

    The result comes first and the video last; each file takes its place only when complete.

    Parameters
    ----------
    analysis : of the clip
    clip : path of the video
    folder : made where needed
    overlay : whether to write overlay.mp4
    progress : told how far the work is
    timings : adds up where the time goes

    Raises
    ------
    OutputError
        If the folder can't be made or written to.
    """
    timings = timings or Timings()
    with timings.of("draw"):
        write_result(analysis.result, folder)
        write_report(analysis.result, analysis.pictures, folder, overlay)
    with suppress(OSError):
        write_poses(Path(folder) / POSES_FILE, analysis.poses_key, analysis.seen)
    if overlay:
        write_overlay(clip, analysis, Path(folder) / "overlay.mp4", progress, timings)
