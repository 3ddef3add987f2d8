"""Clips whose court is not known stay out of shares, unless they are asked for."""

from collections.abc import Sequence
from dataclasses import dataclass

from stance.errors import InputError
from stance.results.model import Notice, Result
from stance.runtime.language import gettext as _
from stance.runtime.language import join_words
from stance.types import N_

COUNT_ASSUMED = "--count-assumed"

# So many clips are named in a notice.
_CLIPS_NAMED = 5

_SENTENCES = {
    ("counted", "before"): N_(
        "The camera was assumed before, as asked, in {names}: the court is not known there, so "
        "angles are all off the same way by 20 degrees or more. Mark the court (stance court CLIP) "
        "and analyse again."
    ),
    ("counted", "after"): N_(
        "The camera was assumed after, as asked, in {names}: the court is not known there, so "
        "angles are all off the same way by 20 degrees or more. Mark the court (stance court CLIP) "
        "and analyse again."
    ),
    ("none", "before"): N_(
        "The court is not known in any of the clips before: {names}. Their shares do not count. "
        "Mark the court (stance court CLIP) and analyse again, or count them all the same with "
        "{option}."
    ),
    ("none", "after"): N_(
        "The court is not known in any of the clips after: {names}. Their shares do not count. "
        "Mark the court (stance court CLIP) and analyse again, or count them all the same with "
        "{option}."
    ),
    ("left_out", "before"): N_(
        "Left out before, for the court is not known: {names}. Mark the court (stance court CLIP) "
        "and analyse again, or {option}."
    ),
    ("left_out", "after"): N_(
        "Left out after, for the court is not known: {names}. Mark the court (stance court CLIP) "
        "and analyse again, or {option}."
    ),
}


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
    named = assumed[:_CLIPS_NAMED]
    if len(assumed) > _CLIPS_NAMED:
        named.append(_("{number} more").format(number=len(assumed) - _CLIPS_NAMED))
    names = join_words(named) if len(assumed) > _CLIPS_NAMED else ", ".join(named)
    kept = [r for r in results if not is_assumed(r)]
    kind = "counted" if count_assumed else "left_out" if kept else "none"
    words = _(_SENTENCES[kind, when]).format(names=names, option=COUNT_ASSUMED)
    if kind == "none":
        raise InputError(words)
    notices = [Notice("assumed_court", words)]
    return CountedResults(list(results) if count_assumed else kept, notices)
