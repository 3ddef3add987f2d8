"""The whole way of the data: a clip in, a result with its pictures out."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from stance.body import metres_per_pixel
from stance.camera import Camera, turned_180
from stance.classes import DEFAULT_LIMITS, Limits, class_probabilities, classify
from stance.court import CalibratedCourt, assumed_camera, calibrate, read_court_file
from stance.court_finding import FoundCourt, find_court, moving_feet
from stance.drawing import key_picture, overlay_caption, overlay_picture
from stance.hands import seen_hand
from stance.measures import Measures, average, measure
from stance.players import FEET, Track, box_around, follow
from stance.poses import (
    LEFT_SHOULDER,
    NOSE,
    RIGHT_SHOULDER,
    Landmarker,
    Look,
    look_closely,
)
from stance.ready import Spell, find_spells
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
from stance.shares import class_shares, plain_statement
from stance.video import (
    ClipDescription,
    Frame,
    VideoWriter,
    describe_clip,
    read_frames,
    read_frames_at,
    summarise,
)

FloatArray = npt.NDArray[np.float64]
ImageArray = npt.NDArray[np.uint8]

# Called with the name of the stage, frames done and frames in all.
Progress = Callable[[str, int, int], None]

# Thorough looks at each ready position. The pose model errs the same way on all frames of a
# spell (scatter under 1 degree; docs/accuracy.md), so more looks gain nothing.
LOOKS = 5

# Frames a second followed at most; the shortest ready position, 0.2 s, then has twelve.
FOLLOWED_RATE = 60.0

# Pictures whose median is the still background in which the court is searched.
STILL_FRAMES = 9

# A half on which a player is seen in less than this part of the frames is taken as empty.
_LEAST_SEEN = 0.2


@dataclass(frozen=True)
class Analysis:
    """A result, and what is needed to draw it.

    Attributes
    ----------
    result : Result
    pictures : key picture (height, width, 3) RGB by (player, number of the ready position)
    tracks : track of each player by letter
    cameras : camera in the frame of each player's half by letter
    """

    result: Result
    pictures: dict[tuple[str, int], ImageArray]
    tracks: dict[str, Track]
    cameras: dict[str, Camera]


def no_progress(stage: str, done: int, total: int) -> None:
    """Tell nobody."""


def analyse(
    clip: str | Path, court: str | Path | None = None, hand: str | None = None,
    limits: Limits = DEFAULT_LIMITS, progress: Progress = no_progress,
) -> Analysis:
    """Measure the ready positions of a defender in a clip.

    Parameters
    ----------
    clip : path of the video
    court : path of the court file; without it the court is searched, and a camera is assumed
        where it is not found
    hand : "right", "left" or None to see it from the clip
    limits : limits of the classes
    progress : told how far the work is

    Returns
    -------
    Analysis; without players or ready positions it says why in its warnings

    Raises
    ------
    InputError
        If the clip or the court file can't be read or is not what it says it is.
    """
    description = describe_clip(clip)
    notices = list(description.notices)
    if court is None:
        found = _searched(clip, description)
        marked = found.court
        notices.append(_court_searched(found))
    else:
        marked = calibrate(read_court_file(court, description.size))
    half, track, frame_times = _followed(clip, description, marked, progress)
    summary, timing_notices = summarise(description, frame_times)
    notices += timing_notices
    if not track.seen.any():
        notices.append(_nobody(summary, None if marked is None else marked.source))
        court_summary = (CourtSummary("assumed", None, (), (), ()) if marked is None
                         else _court_summary(marked))
        return Analysis(Result(summary, court_summary, (), tuple(notices)), {}, {}, {})
    calibrated = _assumed(track, description.size) if marked is None else marked
    camera = calibrated.camera if half == "near" else turned_180(calibrated.camera)
    scale = metres_per_pixel(camera, track.pixels)
    racket_hand, sure = (hand, True) if hand else seen_hand(track, scale)
    if not sure:
        notices.append(_hand_unsure(racket_hand))
    spells = find_spells(track, scale, racket_hand)
    positions, pictures = [], {}
    for position, picture in _positions(
            clip, camera, track, spells, racket_hand, limits, progress):
        positions.append(position)
        pictures["A", len(positions)] = picture
    if not positions:
        notices.append(_NEVER_WAITS)
    player = PlayerResult(
        player="A", half=half, hand=racket_hand, hand_source="given" if hand else "seen",
        ready_positions=tuple(positions), shares=class_shares(positions),
        frames_seen=int(track.seen.sum()))
    result = Result(summary, _court_summary(calibrated), (player,), tuple(notices),
                    plain_statement(player),
                    {"square_deg": limits.square_deg, "side_on_deg": limits.side_on_deg,
                     "confidence": limits.confidence})
    return Analysis(result, pictures, {"A": track}, {"A": camera})


def write_overlay(
    clip: str | Path, analysis: Analysis, path: str | Path, progress: Progress = no_progress,
) -> None:
    """Write the clip again with skeleton and state drawn on every frame.

    Parameters
    ----------
    clip : path of the video
    analysis : of this clip
    path : video to write, .mp4
    progress : told how far the work is

    Raises
    ------
    OutputError
        If the video can't be written.
    """
    summary = analysis.result.clip
    with VideoWriter(path, summary.size, summary.frame_rate) as writer:
        for frame in read_frames(clip):
            image = frame.image
            for player in analysis.result.players:
                image = _drawn(image, frame, player, analysis)
            writer.write(image, frame.time_s)
            progress("drawing", frame.index + 1, summary.frames)


def _drawn(
    image: ImageArray, frame: Frame, player: PlayerResult, analysis: Analysis,
) -> ImageArray:
    """Draw one player's pose and state on a frame."""
    track = analysis.tracks[player.player]
    look = int(np.searchsorted(track.frames, frame.index, side="right")) - 1
    landmarks = track.pixels[look] if look >= 0 and track.seen[look] else None
    number, position = next(
        ((i, p) for i, p in enumerate(player.ready_positions, 1)
         if p.start_frame <= frame.index <= p.end_frame), (None, None))
    return overlay_picture(image, landmarks, position, analysis.cameras[player.player],
                           player.hand, overlay_caption(frame.time_s, position, number))


def _followed(
    clip: str | Path, description: ClipDescription, marked: CalibratedCourt | None,
    progress: Progress,
) -> tuple[str, Track, FloatArray]:
    """Follow the defender on the near half or, where nobody stands there, on the far half.

    Returns
    -------
    half, track, and (frames,) seconds of all frames of the clip
    """
    best: tuple[str, Track, FloatArray] | None = None
    with Landmarker("full") as landmarker:
        for half in ("near", "far"):
            camera = None if marked is None else (
                marked.camera if half == "near" else turned_180(marked.camera))
            times: list[float] = []
            frames = _thinned(read_frames(clip), times, description.packets, progress)
            track = follow(frames, landmarker, camera, description.size)
            if best is None or track.seen.sum() > best[1].seen.sum():
                best = half, track, np.array(times)
            if camera is None or best[1].seen.mean() >= _LEAST_SEEN:
                break
    assert best is not None
    return best


def _thinned(
    frames: Iterator[Frame], times: list[float], expected: int, progress: Progress,
) -> Iterator[Frame]:
    """Pass on at most `FOLLOWED_RATE` frames a second; note the times of all."""
    due = -np.inf
    for frame in frames:
        times.append(frame.time_s)
        progress("following the player", frame.index + 1, max(expected, frame.index + 1))
        if frame.time_s >= due:
            # A tenth of a step of grace: 60 frames/s clips jitter by a tick or two.
            due = frame.time_s + 0.9 / FOLLOWED_RATE
            yield frame


def _positions(
    clip: str | Path, camera: Camera, track: Track, spells: Sequence[Spell], hand: str,
    limits: Limits, progress: Progress,
) -> Iterator[tuple[ReadyPosition, ImageArray]]:
    """Look closely at each spell; yield its ready position and key picture.

    Frames are read in the clip's order and only the key frame of the spell at hand is kept.
    """
    chosen = {int(track.frames[look]): (number, look)
              for number, spell in enumerate(spells) for look in _looks_of(track, spell)}
    looks: list[tuple[bool, Measures]] = []
    key: tuple[Frame, Look] | None = None
    last_of = {number: frame for frame, (number, _) in sorted(chosen.items())}
    with Landmarker("full") as full, Landmarker("heavy") as heavy:
        for done, frame in enumerate(read_frames_at(clip, tuple(chosen)), 1):
            number, index = chosen[frame.index]
            look = look_closely(full, heavy, frame.image, box_around(track.pixels[index]))
            found = None if look is None else measure(camera, look, hand)
            if look is not None and found is not None:
                looks.append((look.flipped, found))
                if key is None or len(looks) <= (LOOKS + 1) // 2:
                    key = frame, look
            progress("measuring ready positions", done, len(chosen))
            if last_of[number] != frame.index:
                continue
            if key is not None:
                # Looks in which the models disagree on left and right count only without others.
                agreed = [m for flipped, m in looks if not flipped] or [m for _, m in looks]
                position = _ready_position(track, spells[number], average(agreed), key[0], limits)
                yield position, key_picture(
                    key[0].image, key[1].heavy.pixels, position, camera, hand)
            looks, key = [], None


def _looks_of(track: Track, spell: Spell) -> list[int]:
    """Choose the looks of a spell to look at closely: `LOOKS` spread evenly over it."""
    seen = np.flatnonzero(track.seen[spell.start:spell.end + 1]) + spell.start
    places = (np.arange(LOOKS) + 0.5) / LOOKS * len(seen)
    return sorted({int(seen[int(place)]) for place in places})


def _ready_position(
    track: Track, spell: Spell, measures: Measures, key: Frame, limits: Limits,
) -> ReadyPosition:
    """Put a ready position together from its spell and its averaged measures."""
    step = float(np.median(np.diff(track.times)))
    probabilities = class_probabilities(
        measures.lead_angle[0], measures.lead_angle[1],
        measures.hip_yaw[0], measures.hip_yaw[1], limits)
    name, remarks = classify(measures.lead_angle[0], probabilities, limits)
    width = measures.stance_width[0]
    feet = measures.feet
    return ReadyPosition(
        start_s=float(track.times[spell.start]), end_s=float(track.times[spell.end]) + step,
        start_frame=int(track.frames[spell.start]), end_frame=int(track.frames[spell.end]),
        key_frame=key.index,
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


def _assumed(track: Track, size: tuple[int, int]) -> CalibratedCourt:
    """Assume a camera from the place and size of the player in the middle of what was seen."""
    seen = np.flatnonzero(track.seen)
    pixels = track.pixels[seen]
    feet = pixels[:, FEET].mean(axis=1)
    middle = int(np.argmin(np.abs(feet - np.median(feet, axis=0)).sum(axis=-1)))
    away = np.median(pixels[:, RIGHT_SHOULDER, 0] - pixels[:, LEFT_SHOULDER, 0]) > 0
    # The crown of the head is above the nose by about a seventh of the height nose to feet.
    nose = pixels[middle, NOSE]
    head = nose + (nose - feet[middle]) / 7.0
    return assumed_camera(feet[middle], head, size, facing="away" if away else "towards")


def _court_summary(calibrated: CalibratedCourt) -> CourtSummary:
    """Return what the result says of the court."""
    camera = calibrated.camera
    return CourtSummary(
        calibrated.source, calibrated.error_px,
        K=tuple(tuple(map(float, row)) for row in camera.matrix),
        R=tuple(tuple(map(float, row)) for row in camera.rotation),
        t=tuple(map(float, camera.translation)), distortion=camera.distortion)


def _searched(clip: str | Path, description: ClipDescription) -> FoundCourt:
    """Search the court in the clip's still background."""
    wanted = np.linspace(0, max(description.packets - 1, 0), STILL_FRAMES).astype(int)
    images = [frame.image for frame in read_frames_at(clip, tuple(sorted(set(wanted.tolist()))))]
    if not images:
        return FoundCourt(None, 0.0, "No picture of the clip could be read for it.")
    middle = len(images) // 2
    still = np.partition(np.stack(images), middle, axis=0)[middle]
    return find_court(still, moving_feet(images, still))


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

_NEVER_WAITS = Notice(
    "no_ready_position",
    "The player was found but never waits: no spell of 0.2 seconds or more with both feet down "
    "and still, knees bent. Film a drill in which the player gets set for each stroke.")


def _nobody(summary: ClipSummary, court: str | None) -> Notice:
    """Return the notice that nobody was found on a "marked" or "found" court, or at all."""
    where = f"on the {court} court" if court else "in the picture"
    return Notice(
        "no_player",
        f"No player was found {where} in {summary.file}. Film so that the player's whole body "
        "is in view, at least 70 pixels tall"
        + (", and check that the court file belongs to this clip." if court == "marked" else "."))


def _hand_unsure(hand: str) -> Notice:
    """Return the notice that the racket hand is a guess."""
    return Notice(
        "hand_unsure",
        f"Which hand holds the racket could not be seen for sure; {hand} was taken. If that is "
        "wrong, all angles have the wrong sign: run again with --hand right or --hand left.")


def write_all(
    analysis: Analysis, clip: str | Path, folder: str | Path, overlay: bool,
    progress: Progress = no_progress,
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

    Raises
    ------
    OutputError
        If the folder can't be made or written to.
    """
    write_result(analysis.result, folder)
    write_report(analysis.result, analysis.pictures, folder, overlay)
    if overlay:
        write_overlay(clip, analysis, Path(folder) / "overlay.mp4", progress)
