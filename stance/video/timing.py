"""Times of a clip's pictures: length, rate, gaps, slow motion."""

import numpy as np

from stance.errors import InputError
from stance.results.model import ClipSummary, Notice
from stance.runtime.language import format_number, ngettext
from stance.runtime.language import gettext as _
from stance.video.probe import ClipDescription

STRETCHED = 1.5
"""Capture rate over played rate from which the clip's clock is called stretched."""

RAMP = 3.0
"""Ratio of two rates in one clip from which it is called partly slow motion. Phones halve their
rate in poor light, so only a larger ratio counts."""

RAMP_FASTEST_S = 1 / 45
"""Time between pictures below which filming is faster than normal, seconds; the faster of the two
rates of a ramp must be."""

RAMP_PICTURES = 12
"""A slow-motion ramp holds each of two rates for this many pictures."""

UNSTEADY = 1.5
"""Ratio of the 95th to the 5th percentile of the time between pictures."""

GAP_S = 0.2
"""Shortest time without a picture that is called a gap, seconds."""

GAP_MEDIANS = 5.0
"""A gap is longer than so many median times between pictures, too."""

READABLE_SHARE = 0.98
"""Where a smaller share of the pictures can be read, the clip is called damaged."""

_SLOW_MOTION_ADVICE = _(
    "Angles and classes hold, but seconds and shares of time do not. Film at "
    "normal speed, without slow motion."
)


def summarise(
    description: ClipDescription, frame_times: np.ndarray
) -> tuple[ClipSummary, tuple[Notice, ...]]:
    """Sum up a clip after all its pictures were read.

    The time between pictures is the median one; the last picture is taken to last as long.

    Parameters
    ----------
    description
        from `describe_clip`
    frame_times
        ndarray (frames,) seconds, the `time_s` of all pictures, strictly increasing.

    Returns
    -------
    summary : ClipSummary
        For the result.
    notices : tuple of Notice
        `slow_motion`, `variable_frame_rate`, `gap` and `damaged`, where they apply; those of the
        description are not repeated.

    Raises
    ------
    InputError
        Where fewer than two pictures were read.
    """
    times = np.asarray(frame_times, dtype=float)
    if len(times) < 2:
        raise InputError(
            _(
                "Only one picture of {file} can be read. A clip of one frame shows no waiting; "
                "film at least a few seconds."
            ).format(file=description.file)
        )
    intervals = np.diff(times)
    median_s = float(np.median(intervals))
    summary = ClipSummary(
        file=description.file,
        sha256=description.sha256,
        duration_s=float(times[-1] - times[0]) + median_s,
        frames=len(times),
        frame_rate=1 / median_s,
        size=description.size,
    )
    notices = (
        *_rate_notices(description.capture_rate, intervals, median_s),
        *_gap_notices(times, max(GAP_S, GAP_MEDIANS * median_s)),
        *_damage_notices(len(times), description.packets),
    )
    return summary, notices


def _gap_notices(times: np.ndarray, shortest_s: float) -> list[Notice]:
    """Say where pictures are missing, from (frames,) seconds."""
    intervals = np.diff(times)
    gaps = np.flatnonzero(intervals > shortest_s)
    if not len(gaps):
        return []
    longest = gaps[np.argmax(intervals[gaps])]
    return [
        Notice(
            "gap",
            ngettext(
                "Pictures are missing in one place of the clip; the longest gap is {length} s, "
                "from {start} s on. Nothing is known of the player there.",
                "Pictures are missing in {number} places of the clip; the longest gap is {length} "
                "s, from {start} s on. Nothing is known of the player there.",
                len(gaps),
            ).format(
                number=len(gaps),
                length=format_number(intervals[longest], 1),
                start=format_number(times[longest], 1),
            ),
        )
    ]


def _damage_notices(readable: int, packets: int) -> list[Notice]:
    """Say how many pictures of a damaged file could be read."""
    if readable >= READABLE_SHARE * packets:
        return []
    return [
        Notice(
            "damaged",
            _(
                "Only {readable} of {packets} pictures in the file could be read; the others "
                "are damaged and were left out. Copy the clip from the phone again."
            ).format(readable=readable, packets=packets),
        )
    ]


def _rate_notices(
    capture_rate: float | None, intervals: np.ndarray, median_s: float
) -> list[Notice]:
    """Judge the clip's clock from the times between pictures, (frames - 1,) seconds."""
    if capture_rate is not None and capture_rate * median_s > STRETCHED:
        return [
            Notice(
                "slow_motion",
                _(
                    "The clip is slow motion: filmed at {capture_rate} pictures a second, played "
                    "at {played_rate}, so its clock is stretched about {stretch} times. {advice}"
                ).format(
                    capture_rate=format_number(capture_rate),
                    played_rate=format_number(1 / median_s),
                    stretch=format_number(capture_rate * median_s),
                    advice=_SLOW_MOTION_ADVICE,
                ),
            )
        ]
    if len(intervals) >= 2 * RAMP_PICTURES:
        held = np.median(
            np.lib.stride_tricks.sliding_window_view(intervals, RAMP_PICTURES), axis=-1
        )
        fastest, slowest = held.min(), held.max()
        if slowest > RAMP * fastest and fastest < RAMP_FASTEST_S:
            return [
                Notice(
                    "slow_motion",
                    _(
                        "The clip seems to be partly slow motion: it plays {fastest} pictures a "
                        "second in some parts and {slowest} in others. {advice}"
                    ).format(
                        fastest=format_number(1 / fastest),
                        slowest=format_number(1 / slowest),
                        advice=_SLOW_MOTION_ADVICE,
                    ),
                )
            ]
    short, long = np.percentile(intervals, (5, 95))
    if long > UNSTEADY * short:
        return [
            Notice(
                "variable_frame_rate",
                _(
                    "The phone did not film at a steady rate (between {long} and {short} pictures "
                    "a second). The time of every picture is known, so the measures are not "
                    "affected."
                ).format(long=format_number(1 / long), short=format_number(1 / short)),
            )
        ]
    return []
