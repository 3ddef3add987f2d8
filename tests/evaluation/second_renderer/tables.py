"""Tables of what was read of the second way's stills."""

from collections.abc import Iterator

import numpy as np

from stance.types import FloatArray
from tests.evaluation.second_renderer.stills import MEASURES, Readings
from tests.rendering.cameras import VIEWS

# What a unit of each measure is printed as.
_PRINTED = {"hip_yaw": 1.0, "lead_angle": 1.0, "foot_stagger": 100.0}

# An error beyond so many standard errors counts as so many where what a scene shares is told.
_OUTLYING = 4.0


def table(readings: Readings) -> Iterator[str]:
    """Yield the lines of a part's table: by view and measure, then what a scene's stills share."""
    yield f"{len(readings.view)} stills read, the pose model found nobody in {readings.missing}"
    yield f"{'view':<8}{'n':>4}" + "".join(
        f" | {name}: median, median absolute, mean absolute, holds" for name in MEASURES
    )
    for view in (*VIEWS, "all"):
        rows = (readings.view == view) | (view == "all")
        if rows.any():
            yield f"{view:<8}{rows.sum():4d}" + "".join(
                _cell(
                    readings.errors[rows, k] * _PRINTED[name],
                    readings.sizes[rows, k] * _PRINTED[name],
                )
                for k, name in enumerate(MEASURES)
            )
    scaled = np.clip(readings.errors / readings.sizes, -_OUTLYING, _OUTLYING)
    shares = [shared_part(scaled[:, k], readings.scene) for k in range(len(MEASURES))]
    yield "part of the errors' variance that the stills of one person share: " + ", ".join(
        f"{name} {share:.2f}" for name, share in zip(MEASURES, shares, strict=True)
    )


def shared_part(values: FloatArray, groups: np.ndarray) -> float:
    """Part of the variance of values (n,) that lies between groups (n,) of them.

    The components of variance of one-way random effects with groups of unequal size: S. R. Searle,
    G. Casella and C. E. McCulloch, "Variance Components", Wiley 1992, section 3.6.
    """
    parts = [values[groups == group] for group in np.unique(groups)]
    sizes = np.array([len(part) for part in parts])
    means = np.array([part.mean() for part in parts])
    count, total = len(parts), sizes.sum()
    between = float(sizes @ (means - values.mean()) ** 2) / (count - 1)
    within = sum(float(((p - p.mean()) ** 2).sum()) for p in parts) / (total - count)
    usual = (total - (sizes**2).sum() / total) / (count - 1)
    shared = max((between - within) / usual, 0.0)
    return shared / (shared + within)


def _cell(errors: FloatArray, sizes: FloatArray) -> str:
    """Median error, median and mean absolute error, how often 95 % intervals hold."""
    hold = 100.0 * np.mean(np.abs(errors) <= 1.96 * sizes)
    size = np.abs(errors)
    return f" | {np.median(errors):+8.1f}{np.median(size):8.1f}{size.mean():8.1f}{hold:8.1f} %"
