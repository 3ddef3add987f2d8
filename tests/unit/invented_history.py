"""A folder of earlier results, for tests of what lists and compares them."""

from pathlib import Path

import numpy as np

from stance.results.model import Filming
from stance.results.writing import write_result
from tests.unit.invented import drawn_result


def write_history(folder: Path) -> Path:
    """Two players, three dates, two sessions; and files that are no results."""
    random = np.random.default_rng(0)
    for name in ("J-1", "J-2"):
        for date, session, count in (
            ("2026-01-10", "winter", 10),
            ("2026-02-10", "winter", 9),
            ("2026-03-10", "spring", 1),
            ("", "", 3),
        ):
            result = drawn_result(
                random,
                count,
                12,
                name,
                certain=True,
                date=date,
                session=session,
                filming=Filming("side" if date > "2026-03" else "behind", 2.0, 7.0),
            )
            write_result(result, folder / f"{name}_{date or 'undated'}")
    for other, text in (("other", "{}"), (".part", "half")):
        (folder / other).mkdir()
        (folder / other / "result.json").write_text(text)
    return folder
