"""Invented results of players whose habits are known, for tests and commands."""

from dataclasses import replace

import numpy as np

from stance.results.model import Filming, PlayerResult, Result
from stance.statistics.shares import class_shares
from stance.statistics.statement import plain_statement
from tests.evaluation.coverage import drawn_position
from tests.unit.results.test_results import invented_result


def drawn_result(
    random: np.random.Generator,
    side_on: int,
    positions: int,
    name: str = "",
    shared: tuple[float, float] = (0.0, 0.0),
    certain: bool = False,
    view: str = "corner",
    feet_too: bool = False,
    **fields,
) -> Result:
    """A clip with so many ready positions, of which so many are truly over-side-on.

    Parameters as for `drawn_position`; `fields` go into the result.
    """
    truths = random.permutation(np.arange(positions) < side_on)
    drawn = [drawn_position(random, bool(truth), shared, certain, feet_too) for truth in truths]
    spells = tuple(replace(p, start_s=3.0 * i, end_s=3.0 * i + 1.0) for i, p in enumerate(drawn))
    player = PlayerResult("A", "near", "right", "seen", spells, class_shares(spells), 900, name)
    result = invented_result(player)
    number = int(random.integers(1 << 60))
    clip = replace(result.clip, file=f"{name or 'clip'}_{number}.mp4", sha256=f"{number:064x}")
    return replace(
        result,
        clip=clip,
        warnings=(),
        statement=plain_statement(player),
        filming=Filming(view, 2.0, 7.0),
        **fields,
    )
