"""The strokes of a clip: who strikes when, how exactly that is known, and from what."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stance.court.camera import Camera
from stance.people.track import Track, frames_seen
from stance.results.model import KnownBy
from stance.strokes.evidence import HALVES, Evidence, gather_evidence
from stance.strokes.motion import RATE, describe_motion, moments
from stance.strokes.network import StrokeNetwork, load_network
from stance.strokes.sequence import Candidate, likeliest_sequence
from stance.strokes.serves import find_serves, stands_and_strikes_low
from stance.types import FloatArray, Half

_SHOWN = -3.0
"""Log odds from which a player's motion alone shows a stroke, or that one is faced."""

_ERRORS_S: dict[KnownBy, float] = {"heard": 0.03, "seen": 0.05, "moved": 0.08}
"""Standard error of a stroke's time by the surest way in which it is known, seconds
(`python -m tests.evaluation.play_accuracy`)."""

_SOUND_DELAY_S = 0.035
"""What is heard is late by this: ten metres of air and the loudness' own window."""

_SOUND_IS_OURS = 1.5
"""What the sound must add, log odds in all, at the strokes of those who are seen to be of this
court rather than of the next one (`python -m tests.evaluation.whose_sound --split tune`)."""

_LEAST_CONFIRMED = 0.5
"""Share of a side's strokes that must be known in two ways. Somebody beyond the net who only walks
seems to strike now and then; nobody on this side moves as if they did."""

_CLEARLY_IMAGINED = -1.0
"""Log odds from which a player's motion alone shows that they act as if a stroke came, where nobody
beyond the net is seen or heard."""

_AROUND_S = 0.52
"""Around such a moment the player must be seen for so long to each side, seconds."""


@dataclass(frozen=True)
class Mover:
    """Somebody whose motion is read.

    Attributes
    ----------
    half
        on which they play
    track
        their poses
    camera
        in the frame of their half
    """

    half: Half
    track: Track
    camera: Camera


@dataclass(frozen=True)
class Stroke:
    """One stroke.

    Attributes
    ----------
    time_s, time_se_s
        of the contact in the clip, and its standard error, seconds
    half
        of the side that strikes
    striker
        number of the mover who strikes; None where nobody of that side is seen
    known_by
        how it is known, the surest way first
    serve
        whether it is a serve
    """

    time_s: float
    time_se_s: float
    half: Half
    striker: int | None
    known_by: tuple[KnownBy, ...]
    serve: bool = False


@dataclass(frozen=True)
class FoundStrokes:
    """The strokes of a clip.

    Attributes
    ----------
    strokes
        in the order of time
    imagined_s
        when players moved as if a stroke came, where nobody beyond the net is seen or heard to
        strike: a shadow drill, or an attacker out of the picture in a clip without sound, seconds
    """

    strokes: tuple[Stroke, ...]
    imagined_s: tuple[float, ...]


def find_strokes(
    movers: Sequence[Mover],
    times: FloatArray,
    onsets_s: FloatArray,
    network: StrokeNetwork | None = None,
) -> FoundStrokes:
    """Find the strokes of both sides.

    Parameters
    ----------
    movers
        players of both halves, as far as they are seen
    times
        (frames,) seconds of the clip's frames
    onsets_s
        (onsets,) when something sharp is heard, seconds
    network
        that reads motion; without one, that in `models/`

    Returns
    -------
    FoundStrokes
    """
    if not any(frames_seen(mover.track) for mover in movers) or len(times) < 2:
        return FoundStrokes((), ())
    grid = moments(float(times[0]), float(times[-1]))
    motions = [describe_motion(mover.track, mover.camera, grid) for mover in movers]
    by_half: dict[Half, list[FloatArray]] = {
        half: [motion for mover, motion in zip(movers, motions, strict=True) if mover.half == half]
        for half in HALVES
    }
    evidence = gather_evidence(network or load_network(), grid, by_half, onsets_s)
    sequence = likeliest_sequence(evidence.times, evidence.total)
    by_seen = [candidate for candidate in sequence if by_half[HALVES[candidate.side]]]
    added = sum(float(evidence.sound[candidate.moment]) for candidate in by_seen)
    is_heard = added >= _SOUND_IS_OURS
    strokes, imagined = [], []
    for candidate in sequence:
        facing = evidence.facing[candidate.moment, candidate.side]
        agrees = is_heard and evidence.heard[candidate.moment] and facing >= _SHOWN
        if by_half[HALVES[candidate.side]] or agrees:
            strokes.append(_stroke(candidate, evidence, movers, onsets_s if is_heard else None))
            continue
        shown = facing >= _CLEARLY_IMAGINED
        if shown and _is_seen_around(by_half[HALVES[1 - candidate.side]], candidate.moment):
            imagined.append(candidate.time_s)
    if all(by_half.values()):
        sides = {half for half in HALVES if _is_confirmed(strokes, half)}
        strokes = [stroke for stroke in strokes if stroke.half in sides]
    return FoundStrokes(_mark_serves(strokes, grid, motions), tuple(imagined))


def _is_seen_around(motions: Sequence[FloatArray], moment: int) -> bool:
    """Whether some player is seen all along around a moment.

    At the edge of a gap or of the clip only half a motion is read.
    """
    first, last = moment - round(_AROUND_S * RATE), moment + round(_AROUND_S * RATE)
    return any(
        first >= 0 and last < len(motion) and np.isfinite(motion[first : last + 1, 0]).all()
        for motion in motions
    )


def _is_confirmed(strokes: Sequence[Stroke], half: Half) -> bool:
    """Whether enough of a side's strokes are known in two ways."""
    twice = [len(stroke.known_by) > 1 for stroke in strokes if stroke.half == half]
    return bool(twice) and float(np.mean(twice)) >= _LEAST_CONFIRMED


def _mark_serves(
    strokes: Sequence[Stroke], grid: FloatArray, motions: Sequence[FloatArray]
) -> tuple[Stroke, ...]:
    """Mark the strokes that are serves; who is not seen to strike is not seen to serve."""
    serves = find_serves(
        np.array([stroke.time_s for stroke in strokes]),
        [HALVES.index(stroke.half) for stroke in strokes],
        [
            stroke.striker is not None
            and stands_and_strikes_low(motions[stroke.striker], grid, stroke.time_s)
            for stroke in strokes
        ],
    )
    return tuple(
        replace(stroke, serve=bool(serve)) for stroke, serve in zip(strokes, serves, strict=True)
    )


def _stroke(
    candidate: Candidate,
    evidence: Evidence,
    movers: Sequence[Mover],
    onsets_s: FloatArray | None,
) -> Stroke:
    """Say how a stroke is known and who strikes; its time is that of the sound where it is heard.

    Sound is None where it is not of this court.
    """
    moment, side = candidate.moment, candidate.side
    time_s, known_by = candidate.time_s, list[KnownBy]()
    if onsets_s is not None and evidence.heard[moment]:
        hits = onsets_s - _SOUND_DELAY_S
        time_s = float(hits[np.argmin(np.abs(hits - time_s))])
        known_by.append("heard")
    own, theirs = (part[moment, side] for part in (evidence.striking, evidence.facing))
    if own >= _SHOWN:
        known_by.append("seen")
    if theirs >= _SHOWN:
        known_by.append("moved")
    if not known_by:
        known_by.append("seen" if np.nan_to_num(own, nan=-np.inf) >= theirs else "moved")
    return Stroke(
        time_s,
        _ERRORS_S[known_by[0]],
        HALVES[side],
        _striker(evidence.strikers[side][moment], movers, HALVES[side]),
        tuple(known_by),
    )


def _striker(odds: FloatArray, movers: Sequence[Mover], half: Half) -> int | None:
    """Number of the mover of a half for whom most speaks; None where none of them is seen."""
    numbers = [number for number, mover in enumerate(movers) if mover.half == half]
    if not numbers or np.isnan(odds).all():
        return None
    return numbers[int(np.nanargmax(odds))]
