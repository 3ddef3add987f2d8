"""A screening as `screening.csv`, for a spreadsheet."""

from typing import Any

import numpy as np

from stance.academy.flags import FLAG_NAMES
from stance.academy.model import ScreenedPlayer, Screening
from stance.academy.statement import name_leg_in_front
from stance.comparison.words import TREND_WORDS
from stance.results.csv_format import csv_table
from stance.results.measures_table import COMPARED

_HEADINGS = (
    "player",
    "flag",
    "ready positions assessed",
    "not assessed",
    "over-side-on",
    "share of over-side-on",
    "interval from",
    "interval to",
    "leg in front",
    "racket side leading where over-side-on",
    "racket foot leading",
    "share of racket foot leading",
    "strokes faced",
    "met set",
    "met on the move",
    "not seen well enough",
    "serves faced",
    *(f"mean {measure.name} in {measure.unit}" for measure in COMPARED),
    "p-value",
    "q-value",
    "over the dates",
    "age group",
    "dates",
    "sessions",
    "clips",
)


def screening_csv(screening: Screening) -> str:
    """The text of the table: a heading row, then a row per player."""
    return csv_table(_HEADINGS, (_list_cells(player) for player in screening.players))


def _list_cells(player: ScreenedPlayer) -> list[Any]:
    """The row of a player, in the order of the headings."""
    over, strokes = player.shares["over_side_on"], player.pool.strokes
    return [
        player.player,
        FLAG_NAMES[player.flag],
        player.assessed,
        player.not_assessed,
        over.count,
        _format(over.share, 3),
        _format(over.interval[0], 3),
        _format(over.interval[1], 3),
        name_leg_in_front(player),
        player.pool.racket_side_leading,
        player.racket_foot_leading.count,
        _format(player.racket_foot_leading.share, 3),
        strokes.in_play,
        strokes.met_set,
        strokes.on_the_move,
        strokes.not_seen,
        strokes.serves,
        *(_format(player.means[measure.field].value, measure.digits) for measure in COMPARED),
        _format(player.p_value, 5),
        _format(player.q_value, 5),
        "" if player.trend is None else TREND_WORDS[player.trend.verdict],
        player.age_group,
        "; ".join(sorted({clip.date for clip in player.clips if clip.date})),
        "; ".join(dict.fromkeys(clip.session for clip in player.clips if clip.session)),
        "; ".join(clip.file for clip in player.clips),
    ]


def _format(value: float | None, decimals: int) -> str:
    """A number for a cell; empty where it is not known."""
    return "" if value is None or not np.isfinite(value) else f"{value:.{decimals}f}"
