"""Tables of figures: printed for people, and as JSON."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Table:
    """Figures of one kind; each line has the same names, with None where a figure is unknown."""

    title: str
    lines: list[dict[str, Any]]


def report_tables(tables: Sequence[Table], file: Path | None) -> None:
    """Print tables; write them into a file too where one is given."""
    print_tables(tables)
    if file is not None:
        write_tables(tables, file)


def print_tables(tables: Sequence[Table]) -> None:
    """Print tables with aligned columns."""
    for table in tables:
        print(f"\n{table.title}")
        if not table.lines:
            print("  none")
            continue
        cells = [list(table.lines[0]), *([_cell(v) for v in line.values()] for line in table.lines)]
        widths = [max(len(line[k]) for line in cells) for k in range(len(cells[0]))]
        for line in cells:
            first, *rest = (text.rjust(w) for text, w in zip(line, widths, strict=True))
            print("  " + "  ".join([first.strip().ljust(widths[0]), *rest]))


def write_tables(tables: Sequence[Table], file: Path) -> None:
    """Write tables as JSON: title to list of lines."""
    content = {
        t.title: [{k: _known(v) for k, v in line.items()} for line in t.lines] for t in tables
    }
    file.write_text(json.dumps(content, indent=1) + "\n", encoding="utf-8")


def share(part: float, whole: float) -> float | None:
    """Part of a whole; None where there is nothing."""
    return part / whole if whole else None


def mean(values: Sequence[float]) -> float | None:
    """Mean; None where there is nothing."""
    return float(np.mean(values)) if len(values) else None


def percentile(values: Sequence[float], percent: float) -> float | None:
    """A percentile; None where there is nothing."""
    return float(np.percentile(values, percent)) if len(values) else None


def _known(value: Any) -> Any:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _cell(value: Any) -> str:
    if value is None:
        return "-"
    return f"{value:.3f}" if isinstance(value, float) else str(value)
