"""Which player before is which after."""

from collections.abc import Mapping, Sequence

from stance.results.model import Notice, PlayerResult, Result


def matched_players(
    results: Sequence[Result],
    wanted: str | None,
) -> dict[str, list[tuple[Result, PlayerResult]]]:
    """Results by name, or by letter where a player has none."""
    by_player: dict[str, list[tuple[Result, PlayerResult]]] = {}
    for result in results:
        for player in result.players:
            name = player.name or player.player
            if wanted is None or wanted in (player.name, player.player):
                by_player.setdefault(wanted or name, []).append((result, player))
    return by_player


def match_nameless(
    sets: Sequence[dict[str, list[tuple[Result, PlayerResult]]]],
    warnings: list[Notice],
) -> None:
    """Take two sets of one player each for the same player where one set has no name."""
    if len(sets[0]) != 1 or len(sets[1]) != 1 or set(sets[0]) == set(sets[1]):
        return
    (first,), (second,) = sets
    named = [
        [bool(p.name) for _, p in one[name]]
        for one, name in zip(sets, (first, second), strict=True)
    ]
    if all(map(any, named)):
        return
    name, nameless = (first, 1) if any(named[0]) else (second, 0)
    sets[nameless][name] = sets[nameless].pop(second if nameless else first)
    warnings.append(
        Notice("nameless", f"One set carries no name; its player is taken to be {name}.")
    )


def nobody_in_both(sets: Sequence[Mapping[str, object]], player: str | None) -> str:
    if not sets[0] or not sets[1]:
        when = "before" if not sets[0] else "after"
        whom = f"the player {player}" if player else "a player"
        return (
            f"None of the clips {when} shows {whom}, so there is nothing to compare. Give "
            "results in which the player was found."
        )
    return (
        f"No player is in both sets: before, {', '.join(sets[0])}; after, "
        f"{', '.join(sets[1])}. Give results of the same player or players."
    )
