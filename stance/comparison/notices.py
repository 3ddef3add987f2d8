"""What makes two sets of clips hard to compare: filming that differs, and unsure racket hands."""

from collections.abc import Iterable, Sequence

import numpy as np

from stance.measures.handedness import SURE
from stance.results.model import Filming, Notice, PlayerResult, Result
from stance.statistics.pooled import Pool

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
    views = [sorted({f.view for f in side.filmings}) for side in (before, after)]
    if views[0] != views[1]:
        notices.append(
            Notice(
                "filming_view",
                f"Filmed from {_list_words(views[0])} before and from {_list_words(views[1])} "
                "after. The pose model errs differently from view to view; the intervals allow for "
                "that, and the same view on both days would make them narrower.",
            )
        )
    heights = [_median_height(side.filmings) for side in (before, after)]
    if abs(heights[0] - heights[1]) > _SAME_HEIGHT_M:
        notices.append(
            Notice(
                "filming_height",
                f"The phone stood {heights[0]:.1f} m high before and {heights[1]:.1f} m after. "
                "Put it at the same height to compare.",
            )
        )
    sources = [sorted({r.court.source for r in side.results}) for side in (before, after)]
    if sources[0] != sources[1]:
        notices.append(
            Notice(
                "filming_court",
                f"The court was {_list_words(sources[0])} before and {_list_words(sources[1])} "
                "after. Measure both sets in the same way to compare.",
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
    more = f" and {len(clips) - _CLIPS_NAMED} more" if len(clips) > _CLIPS_NAMED else ""
    return [
        Notice(
            "hand_unsure",
            "Which hand holds the racket could not be seen for sure in "
            f"{', '.join(clips[:_CLIPS_NAMED])}{more}. Where the wrong one was taken, all angles "
            "have the wrong sign and the leg in front is the other one; over-side-on counts "
            f"whichever side leads. {advice}",
        )
    ]


def _median_height(filmings: Sequence[Filming]) -> float:
    """Median height of the phone in metres; NaN where no height is known."""
    known = [f.height_m for f in filmings if np.isfinite(f.height_m)]
    return float(np.median(known)) if known else float("nan")


def _list_words(words: Sequence[str]) -> str:
    """Words as a list in a sentence: "a, b and c"."""
    return " and ".join(", ".join(words).rsplit(", ", 1))
