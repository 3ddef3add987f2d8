"""What makes two sets of clips hard to compare: filming that differs, and unsure racket hands."""

from collections.abc import Iterable, Sequence

import numpy as np

from stance.measures.handedness import SURE
from stance.results.model import Filming, Notice, PlayerResult, Result
from stance.runtime.language import format_number, join_words
from stance.runtime.language import gettext as _
from stance.statistics.pooled import Pool
from stance.types import N_, CourtSource, View

VIEW_WORDS: dict[View, str] = {
    "behind": N_("behind"),
    "corner": N_("a corner"),
    "side": N_("the side"),
    "front": N_("in front"),
    "unknown": N_("a place not known"),
}
"""Where the phone stood, as it follows "filmed from"."""

COURT_WORDS: dict[CourtSource, str] = {
    "marked": N_("marked by hand"),
    "found": N_("found in the picture"),
    "assumed": N_("not known"),
}
"""Where the court comes from."""

# Phones that stand closer in height than this are called the same height.
_SAME_HEIGHT_M = 0.5

# So many clips are named in a notice.
_CLIPS_NAMED = 5


def note_filming_differences(before: Pool, after: Pool) -> list[Notice]:
    """Name what differs in filming between the two sets: view, height, and source of the court.

    Parameters
    ----------
    before, after
        one player's ready positions
    """
    notices = []
    views = [_name_views(side.filmings) for side in (before, after)]
    if views[0] != views[1]:
        notices.append(
            Notice(
                "filming_view",
                _(
                    "Filmed from {before} before and from {after} after. The measuring errs "
                    "differently from place to place; the likely ranges allow for that, and the "
                    "same place on both days would make them narrower."
                ).format(before=views[0], after=views[1]),
            )
        )
    heights = [[f.height_m for f in side.filmings] for side in (before, after)]
    if abs(_median_height(heights[0]) - _median_height(heights[1])) > _SAME_HEIGHT_M:
        notices.append(
            Notice(
                "filming_height",
                _(
                    "The phone stood {before} m high before and {after} m after. Put it at the "
                    "same height to compare."
                ).format(before=_name_heights(heights[0]), after=_name_heights(heights[1])),
            )
        )
    sources = [
        join_words([_(COURT_WORDS[s]) for s in sorted({r.court.source for r in side.results})])
        for side in (before, after)
    ]
    if sources[0] != sources[1]:
        notices.append(
            Notice(
                "filming_court",
                _(
                    "The court was {before} before and {after} after. Measure both sets in the "
                    "same way to compare."
                ).format(before=sources[0], after=sources[1]),
            )
        )
    return notices


def note_unsure_hands(players: Iterable[tuple[Result, PlayerResult]], advice: str) -> list[Notice]:
    """What to warn of where the racket hand of some players could not be seen for sure.

    Parameters
    ----------
    players
        with the results of the clips they are in
    advice
        how to give the hand, a sentence
    """
    clips = list(
        dict.fromkeys(
            result.clip.file for result, player in players if player.hand_confidence < SURE
        )
    )
    if not clips:
        return []
    text = _(
        "Which hand holds the racket could not be seen for sure in {clips}. Where the wrong one "
        "was taken, back and in front are exchanged; over-side-on counts whichever side is in "
        "front. {advice}"
    )
    return [Notice("hand_unsure", text.format(clips=name_some(clips), advice=advice))]


def name_some(names: Sequence[str]) -> str:
    """Names as a list in a sentence; the first ones and how many more where they are many."""
    if len(names) <= _CLIPS_NAMED:
        return join_words(names)
    return _("{names} and {number} more").format(
        names=", ".join(names[:_CLIPS_NAMED]), number=len(names) - _CLIPS_NAMED
    )


def _name_views(filmings: Sequence[Filming]) -> str:
    """From where some clips were filmed: "behind and a corner"."""
    return join_words([_(VIEW_WORDS[view]) for view in sorted({f.view for f in filmings})])


def _median_height(heights: Sequence[float]) -> float:
    """Median height of the phone in metres; NaN where no height is known."""
    known = [height for height in heights if np.isfinite(height)]
    return float(np.median(known)) if known else float("nan")


def _name_heights(heights: Sequence[float]) -> str:
    """Heights as the table of clips has them: "1.6", or "1.5 to 1.6"."""
    known = sorted(height for height in heights if np.isfinite(height))
    ends = [format_number(height, 1) for height in (known[0], known[-1])]
    return ends[0] if ends[0] == ends[1] else _("{low} to {high}").format(low=ends[0], high=ends[1])
