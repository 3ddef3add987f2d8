"""Which player before is which after: by name, by letter, or the only one of each set."""

from collections.abc import Sequence
from dataclasses import dataclass

from stance.errors import InputError
from stance.results.model import Notice, PlayerResult, Result
from stance.runtime.language import gettext as _

ClipsByPlayer = dict[str, list[tuple[Result, PlayerResult]]]


@dataclass(frozen=True)
class MatchedPlayers:
    """Clips of the players who are in both sets, and what the coach must know of the matching.

    Attributes
    ----------
    before, after
        by name or letter, each clip with its player; the same keys in both
    notices
        players left out, and those who were matched without a name
    """

    before: ClipsByPlayer
    after: ClipsByPlayer
    notices: tuple[Notice, ...]


def match_players(
    before: Sequence[Result], after: Sequence[Result], wanted: str | None = None
) -> MatchedPlayers:
    """Find the players who are in both sets.

    Parameters
    ----------
    before, after
        results of the two sets
    wanted
        name or letter of the only player to match; None for all

    Raises
    ------
    InputError
        No player is in both.
    """
    sets = [_group_by_player(results, wanted) for results in (before, after)]
    notices = _rename_only_player(sets)
    shared = [name for name in sets[0] if name in sets[1]]
    if not shared:
        raise InputError(_describe_no_match(sets, wanted))
    for index, sentence in enumerate(
        (
            _("Only in the set before, so left out: {names}."),
            _("Only in the set after, so left out: {names}."),
        )
    ):
        left_out = [name for name in sets[index] if name not in sets[1 - index]]
        if left_out:
            notices.append(Notice("one_side_only", sentence.format(names=", ".join(left_out))))
    if any(len(r.players) > 1 and not all(p.name for p in r.players) for r in (*before, *after)):
        notices.append(
            Notice(
                "nameless",
                _(
                    "Some clips show several players without names, so they are matched by their "
                    "letters, which may change from clip to clip. Name the players when analysing, "
                    "or compare one with --player."
                ),
            )
        )
    matched = [{name: clips_of[name] for name in shared} for clips_of in sets]
    return MatchedPlayers(matched[0], matched[1], tuple(notices))


def _group_by_player(results: Sequence[Result], wanted: str | None) -> ClipsByPlayer:
    """Clips by the player's name, or letter where there is none; only of the wanted player."""
    by_player: ClipsByPlayer = {}
    for result in results:
        for player in result.players:
            if wanted is None or wanted in (player.name, player.player):
                name = wanted or player.name or player.player
                by_player.setdefault(name, []).append((result, player))
    return by_player


def _rename_only_player(sets: list[ClipsByPlayer]) -> list[Notice]:
    """Where both sets hold one player and only one of the sets names theirs, give it to the other.

    Two letters are never taken for one player: A and B may be the two defenders of one clip.
    """
    if len(sets[0]) != 1 or len(sets[1]) != 1 or set(sets[0]) == set(sets[1]):
        return []
    named = [_has_name(clips_of) for clips_of in sets]
    if named[0] == named[1]:
        return []
    (name,), (letter,) = sets if named[0] else reversed(sets)
    nameless = sets[1] if named[0] else sets[0]
    nameless[name] = nameless.pop(letter)
    return [
        Notice(
            "nameless",
            _("One set carries no name; its player is taken to be {name}.").format(name=name),
        )
    ]


def _has_name(clips_of: ClipsByPlayer) -> bool:
    """Whether some player of a set is named."""
    return any(player.name for clips in clips_of.values() for _, player in clips)


def _describe_no_match(sets: Sequence[ClipsByPlayer], wanted: str | None) -> str:
    """Why nobody is in both sets, and what to do."""
    if not sets[0] or not sets[1]:
        clips = _("the clips before") if not sets[0] else _("the clips after")
        whom = _("the player {name}").format(name=wanted) if wanted else _("a player")
        return _(
            "None of {clips} shows {whom}, so there is nothing to compare. Give results in which "
            "the player was found."
        ).format(clips=clips, whom=whom)
    names = [", ".join(clips_of) for clips_of in sets]
    players = [
        player for clips_of in sets for clips in clips_of.values() for _clip, player in clips
    ]
    if all(player.name for player in players):
        sentence = _(
            "No player is in both sets: before, {before}; after, {after}. Give results of the same "
            "player or players."
        )
    else:
        sentence = _(
            "No player is in both sets: before, {before}; after, {after}. Give results of the same "
            "player or players, and name them when analysing (--name), since letters may change "
            "from clip to clip."
        )
    return sentence.format(before=names[0], after=names[1])
