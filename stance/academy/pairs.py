"""Pairs: players whom the roster names together in a clip."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

from stance.academy.model import ScreenedClip, ScreenedPlayer
from stance.results.model import StrokeCounts


@dataclass(frozen=True)
class PairedPlayer:
    """One player of a pair, in the clips that show both.

    Attributes
    ----------
    player
        with all clips
    over_side_on, assessed
        ready positions in the shared clips
    strokes
        faced in them
    """

    player: ScreenedPlayer
    over_side_on: int
    assessed: int
    strokes: StrokeCounts


@dataclass(frozen=True)
class Pair:
    """Two players and how many clips show both."""

    players: tuple[PairedPlayer, PairedPlayer]
    clips: int


def list_pairs(players: Sequence[ScreenedPlayer]) -> list[Pair]:
    """The pairs of an academy, by their names; each with what the shared clips hold.

    Parameters
    ----------
    players
        screened, with their clips
    """
    # A clip is analysed once for each racket hand that the roster gives.
    by_clip = [{c.result.clip.sha256: c for c in player.clips} for player in players]
    pairs = []
    for (one, clips), (other, others) in combinations(zip(players, by_clip, strict=True), 2):
        shared = [clip for clip in clips if clip in others]
        if shared:
            both = (
                _describe(one, [clips[clip] for clip in shared]),
                _describe(other, [others[clip] for clip in shared]),
            )
            first, second = sorted(both, key=lambda paired: paired.player.player)
            pairs.append(Pair((first, second), len(shared)))
    return sorted(pairs, key=lambda pair: [paired.player.player for paired in pair.players])


def _describe(player: ScreenedPlayer, clips: Sequence[ScreenedClip]) -> PairedPlayer:
    """What some clips hold of a player."""
    return PairedPlayer(
        player,
        sum(clip.player.shares["over_side_on"].count for clip in clips),
        sum(clip.player.assessed for clip in clips),
        sum((clip.player.stroke_counts for clip in clips), StrokeCounts()),
    )
