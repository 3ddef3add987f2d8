"""Names of the players, date and session of a result."""

from collections.abc import Mapping
from dataclasses import replace

from stance.court.viewpoint import filming_of
from stance.results.model import Result


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
    players = tuple(replace(p, name=names.get(p.player, "")) for p in result.players)
    return replace(result, players=players, date=date, session=session, filming=filming_of(result))
