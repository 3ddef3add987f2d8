"""Two sets of invented clips of one player, for tests of comparisons."""

import numpy as np

from stance.statistics.pooled import estimate_clusterings, pool
from tests.unit.invented import drawn_result


def draw_sets(before, after, clips=3, size=12, certain=True, seed=0, **after_fields):
    """Two sets of clips with so many over-side-on of `size` positions in each."""
    random = np.random.default_rng(seed)
    return (
        [drawn_result(random, before, size, "J-07", certain=certain) for _ in range(clips)],
        [
            drawn_result(random, after, size, "J-07", certain=certain, **after_fields)
            for _ in range(clips)
        ],
    )


def pool_sets(sets):
    """The pools of two sets of clips of one player each, and how alike their positions are."""
    pools = [pool([(result, result.players[0]) for result in results]) for results in sets]
    return pools, estimate_clusterings(pools)
