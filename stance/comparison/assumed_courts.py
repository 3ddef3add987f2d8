"""Clips whose court is not known stay out of shares, unless they are asked for."""

from collections.abc import Sequence
from dataclasses import dataclass

from stance.errors import InputError
from stance.results.model import Notice, Result

COUNT_ASSUMED = "--count-assumed"

# So many clips are named in a notice.
_CLIPS_NAMED = 5


@dataclass(frozen=True)
class CountedResults:
    """Results that count, and what to say of those measured with an assumed camera."""

    results: list[Result]
    notices: list[Notice]


def is_assumed(result: Result) -> bool:
    """Whether a clip's angles rest on an assumed camera."""
    return result.court.source == "assumed"


def choose_counted(results: Sequence[Result], when: str, count_assumed: bool) -> CountedResults:
    """The results that count in shares.

    Parameters
    ----------
    results
        of one set
    when
        "before" or "after"
    count_assumed
        whether those measured with an assumed camera are asked for

    Raises
    ------
    InputError
        None would be left.
    """
    assumed = [r.clip.file for r in results if is_assumed(r)]
    if not assumed:
        return CountedResults(list(results), [])
    more = f" and {len(assumed) - _CLIPS_NAMED} more" if len(assumed) > _CLIPS_NAMED else ""
    names = f"{', '.join(assumed[:_CLIPS_NAMED])}{more}"
    advice = "Mark the court (stance court CLIP) and analyse again"
    if count_assumed:
        notice = (
            f"The camera was assumed {when}, as asked, in {names}: the court is not known there, "
            f"so angles are all off the same way by 15 degrees or more. {advice}."
        )
        return CountedResults(list(results), [Notice("assumed_court", notice)])
    if len(assumed) == len(results):
        raise InputError(
            f"The court is not known in any of the clips {when}: {names}. Their shares do not "
            f"count. {advice}, or count them all the same with {COUNT_ASSUMED}."
        )
    notice = f"Left out {when}, for the court is not known: {names}. {advice}, or {COUNT_ASSUMED}."
    kept = [r for r in results if not is_assumed(r)]
    return CountedResults(kept, [Notice("assumed_court", notice)])
