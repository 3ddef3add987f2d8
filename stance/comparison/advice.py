"""What to do after a comparison: it follows from the call that was made, and from nothing else.

The rules stand in docs/comparing.md.
"""

import math
from collections.abc import Sequence

from stance.assessment.advice import advise as advise_clips
from stance.assessment.tendencies import gather_tendencies
from stance.comparison.model import Change, ShareChange
from stance.runtime.language import gettext as _
from stance.runtime.language import ngettext
from stance.statistics.pooled import Pool, PooledShare
from stance.types import LEADING

# A minute of a drill or of rallies gives about so many ready positions.
_POSITIONS_A_MINUTE = 20

# More minutes than this nobody films to tell a change.
_MOST_MINUTES = 30


def advise(
    over: ShareChange,
    filmed_differently: bool,
    one_clip: bool = False,
    players: int = 1,
    work_on: str = "",
) -> str:
    """What to do next, in two or three sentences.

    Parameters
    ----------
    over
        change of the share of over-side-on
    filmed_differently
        whether filming differs between the sets
    one_clip
        whether a set is a single clip
    players
        how many were compared together
    work_on
        what a report of the clips after would work on in over-side-on stances, a sentence; empty
        where it would not
    """
    if over.before.share is None or over.after.share is None:
        return _(
            "Look in the clips' reports why nothing could be assessed, mend that and film again "
            "from the same place."
        )
    if over.verdict == "too_few":
        return _advise_filming(over.more_needed) if players == 1 else _advise_filming_more()
    if over.verdict == "steady":
        return " ".join(filter(None, (_advise_on_no_change(over.after), work_on)))
    sentences = (
        [_advise_on_better(over.after)] if over.verdict == "down" else [_advise_on_worse(), work_on]
    )
    if filmed_differently or one_clip:
        sentences.append(
            _("Before you build on this, film another day from the same place as before.")
        )
    return " ".join(filter(None, sentences))


def advise_group(over: ShareChange, changes: Sequence[Change], filmed_differently: bool) -> str:
    """What to do next with a group; where its players went different ways, each by itself.

    Parameters
    ----------
    over
        the group's change of the share of over-side-on
    changes
        of its players
    filmed_differently
        whether filming differs between the sets
    """
    verdicts = {change.classes["over_side_on"].verdict for change in changes}
    if {"up", "down"} <= verdicts:
        return _(
            "The players went different ways: go by what to do with each, below, and ask what the "
            "better ones did."
        )
    return advise(over, filmed_differently, players=len(changes))


def find_work_on(after: Pool, over: PooledShare, leading: PooledShare) -> str:
    """What a report of the clips after would work on, where it is over-side-on; else nothing.

    Parameters
    ----------
    after
        one player's clips
    over, leading
        shares of over-side-on and of a racket foot in front in them
    """
    clips = list(zip(after.results, after.players, strict=True))
    advice = advise_clips(
        gather_tendencies(clips, {"over_side_on": over, LEADING: leading}, over.effective)
    )
    return advice.work_on if advice is not None and advice.kind == "over_side_on" else ""


def _advise_filming_more() -> str:
    return _(
        "Do not judge the block by this yet. More players, or more clips of each, would tell: film "
        "on other days from the same place."
    )


def _advise_filming(more: int | None) -> str:
    """What to film where too little is there to tell; `more` ready positions in each set would."""
    if more is None or more > _POSITIONS_A_MINUTE * _MOST_MINUTES:
        return _(
            "Do not judge the block by this yet. So small a change can hardly be told by filming "
            "more; clips of several days on each side help most."
        )
    minutes = math.ceil(more / _POSITIONS_A_MINUTE)
    return ngettext(
        "Do not judge the block by this yet. About {more} more ready positions in each set would "
        "tell (a minute of rallies or of a drill): film on other days from the same place, and add "
        "older clips if there are any.",
        "Do not judge the block by this yet. About {more} more ready positions in each set would "
        "tell (some {minutes} minutes of rallies or of a drill): film on other days from the same "
        "place, and add older clips if there are any.",
        minutes,
    ).format(more=more, minutes=minutes)


def _advise_on_no_change(after: PooledShare) -> str:
    if after.count == 0:
        return _("Nothing to mend in how side-on they stand. Keep it so.")
    return _(
        "If the block was meant to change how side-on they stand, train it in another way. If it "
        "was not, leave it."
    )


def _advise_on_better(after: PooledShare) -> str:
    if after.count == 0:
        return _("Keep what the block trained. Film again in a month to see that it lasts.")
    return _(
        "Keep what the block trained: {count} of {assessed} were still over-side-on, and the "
        "clips' reports show which. Film again in a month to see that it lasts."
    ).format(count=after.count, assessed=after.assessed)


def _advise_on_worse() -> str:
    return _(
        "Look at the pictures after beside those before, and ask for the stance of before. Film "
        "again in two weeks."
    )
