"""Names of the players, date and session of a result."""

from collections.abc import Mapping
from dataclasses import replace

from stance.court.viewpoint import filming_of
from stance.results.model import Result
from stance.runtime.plain_text import clean_name


def label_result(
    result: Result,
    names: Mapping[str, str],
    date: str = "",
    session: str = "",
) -> Result:
    """Return a result with its players' names, its date and session, and how it was filmed.

    Parameters
    ----------
    result
        of one clip
    names
        letter of a player in the clip to name; players without one stay nameless
    date
        year-month-day, or empty
    session
        or empty
    """
    players = tuple(replace(p, name=clean_name(names.get(p.player, ""))) for p in result.players)
    return replace(
        result,
        players=players,
        date=date,
        session=clean_name(session),
        filming=filming_of(result),
    )
