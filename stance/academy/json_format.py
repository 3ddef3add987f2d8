"""A screening as `screening.json`, schema "stance-screening/1"."""

import msgspec

from stance.academy.flags import FALSE_DISCOVERIES, HABIT_SHARE, RULED_OUT_SHARE
from stance.academy.model import AgeGroup, ScreenedPlayer, Screening, UnusedClip
from stance.academy.pairs import list_pairs
from stance.academy.result_store import STORE_FOLDER
from stance.academy.statement import describe_screening
from stance.results.model import Notice, StrokeCounts
from stance.statistics.pooled import PooledMean, PooledShare
from stance.types import Flag, Verdict

SCHEMA = "stance-screening/1"


class SettingsContent(msgspec.Struct, frozen=True):
    """The limits that the flags follow from."""

    habit_share: float = HABIT_SHARE
    ruled_out_share: float = RULED_OUT_SHARE
    false_discoveries: float = FALSE_DISCOVERIES


class ShareContent(msgspec.Struct, frozen=True):
    """A class's share of a player's assessed ready positions."""

    count: int
    share: float | None
    interval: tuple[float, float]
    effective: float


class MeanContent(msgspec.Struct, frozen=True):
    """The mean of a player's measure, degrees."""

    mean: float | None
    interval: tuple[float, float]


class DateContent(msgspec.Struct, frozen=True):
    """A player's share of over-side-on on one date."""

    date: str
    count: int
    assessed: int
    share: float | None
    interval: tuple[float, float]


class TrendContent(msgspec.Struct, frozen=True):
    """Change from the earlier half of the dates to the later."""

    verdict: Verdict
    difference: float | None
    interval: tuple[float, float]


class PlayerContent(msgspec.Struct, frozen=True):
    """One player; fields as in `ScreenedPlayer`, `results` are folders beside the file."""

    player: str
    age_group: str
    flag: Flag
    assessed: int
    not_assessed: int
    square: ShareContent
    slightly_racket_leg_back: ShareContent
    over_side_on: ShareContent
    racket_foot_leading: ShareContent
    racket_side_leading: int
    strokes_faced: StrokeCounts
    measures: dict[str, MeanContent]
    leading: str | None
    p_value: float | None
    q_value: float | None
    dates: tuple[DateContent, ...]
    trend: TrendContent | None
    clips: tuple[str, ...]
    results: tuple[str, ...]


class PairedContent(msgspec.Struct, frozen=True):
    """One player of a pair, in the clips that show both."""

    player: str
    over_side_on: int
    assessed: int
    strokes_faced: StrokeCounts


class PairContent(msgspec.Struct, frozen=True):
    """Two players whom the roster names together in some clips."""

    clips: int
    players: tuple[PairedContent, ...]


class ScreeningContent(msgspec.Struct, frozen=True):
    """The whole file."""

    schema: str
    statement: str
    settings: SettingsContent
    players: tuple[PlayerContent, ...]
    pairs: tuple[PairContent, ...]
    age_groups: tuple[AgeGroup, ...]
    failed: tuple[UnusedClip, ...]
    warnings: tuple[Notice, ...]


def to_content(screening: Screening) -> ScreeningContent:
    """The screening as the file lays it out."""
    return ScreeningContent(
        schema=SCHEMA,
        statement=describe_screening(screening),
        settings=SettingsContent(),
        players=tuple(_player_content(p) for p in screening.players),
        pairs=tuple(
            PairContent(
                pair.clips,
                tuple(
                    PairedContent(p.player.player, p.over_side_on, p.assessed, p.strokes)
                    for p in pair.players
                ),
            )
            for pair in list_pairs(screening.players)
        ),
        age_groups=screening.groups,
        failed=screening.unused,
        warnings=screening.warnings,
    )


def _player_content(player: ScreenedPlayer) -> PlayerContent:
    trend = player.trend
    return PlayerContent(
        player=player.player,
        age_group=player.age_group,
        flag=player.flag,
        assessed=player.assessed,
        not_assessed=player.not_assessed,
        square=_share_content(player.shares["square"]),
        slightly_racket_leg_back=_share_content(player.shares["slightly_racket_leg_back"]),
        over_side_on=_share_content(player.shares["over_side_on"]),
        racket_foot_leading=_share_content(player.racket_foot_leading),
        racket_side_leading=player.pool.racket_side_leading,
        strokes_faced=player.pool.strokes,
        measures={name: _mean_content(mean) for name, mean in player.means.items()},
        leading=player.leading,
        p_value=player.p_value,
        q_value=player.q_value,
        dates=tuple(
            DateContent(d.date, d.share.count, d.share.assessed, d.share.share, d.share.interval)
            for d in player.dates
        ),
        trend=None
        if trend is None
        else TrendContent(trend.verdict, trend.difference, trend.interval),
        clips=tuple(c.file for c in player.clips),
        results=tuple(f"{STORE_FOLDER}/{c.key}" for c in player.clips),
    )


def _share_content(share: PooledShare) -> ShareContent:
    return ShareContent(share.count, share.share, share.interval, share.effective)


def _mean_content(mean: PooledMean) -> MeanContent:
    return MeanContent(mean.value, mean.interval)
