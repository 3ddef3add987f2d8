"""The ready positions as `positions.csv`."""

import csv
import io
import math

from stance.results.model import PlayerResult, ReadyPosition, Result
from stance.types import CLASS_NAMES, CLASSES

POSITIONS_FILE = "positions.csv"


def positions_csv(result: Result) -> str:
    """A table for a spreadsheet: a heading row, then a row per ready position.

    Numbers have a decimal point; what is unknown is an empty cell.
    """
    rows = [
        _csv_row(player, number, position)
        for player in result.players
        for number, position in enumerate(player.ready_positions, start=1)
    ]
    text = io.StringIO()
    writer = csv.DictWriter(text, fieldnames=_CSV_HEADINGS)
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _csv_row(player: PlayerResult, number: int, position: ReadyPosition) -> dict[str, str]:
    p = position
    cells: list[str] = [
        player.player,
        player.half,
        player.hand,
        str(number),
        _cell(p.start_s, 3),
        _cell(p.end_s, 3),
        _cell(p.duration_s, 3),
        str(p.start_frame),
        str(p.end_frame),
        str(p.key_frame),
        CLASS_NAMES[p.stance_class],
        *(_cell(p.probabilities.get(name, math.nan), 3) for name in CLASSES),
        _cell(p.lead_angle_deg, 1),
        _cell(p.lead_angle_se_deg, 1),
        _cell(p.hip_yaw_deg, 1),
        _cell(p.hip_yaw_se_deg, 1),
        _cell(p.shoulder_yaw_deg, 1),
        _cell(p.shoulder_yaw_se_deg, 1),
        _cell(p.foot_stagger_m, 3),
        _cell(p.foot_stagger_se_m, 3),
        _cell(p.stance_width_m, 3),
        _cell(p.stance_width_se_m, 3),
        _cell(p.stance_width_hips, 2),
        _cell(p.stance_width_legs, 2),
        _cell(p.knee_flexion_deg[0], 1),
        _cell(p.knee_flexion_se_deg[0], 1),
        _cell(p.knee_flexion_deg[1], 1),
        _cell(p.knee_flexion_se_deg[1], 1),
        _cell(p.base_m[0], 3),
        _cell(p.base_se_m[0], 3),
        _cell(p.base_m[1], 3),
        _cell(p.base_se_m[1], 3),
        "; ".join(p.remarks),
    ]
    return dict(zip(_CSV_HEADINGS, cells, strict=True))


def _cell(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else ""


_CSV_HEADINGS = (
    "player",
    "half of the court",
    "racket hand",
    "ready position",
    "start in seconds",
    "end in seconds",
    "duration in seconds",
    "first frame",
    "last frame",
    "frame shown in the report",
    "class",
    "probability of square",
    "probability of slightly racket-leg-back",
    "probability of over-side-on",
    "lead angle in degrees (negative: racket foot back)",
    "standard error of the lead angle in degrees",
    "hip yaw in degrees (negative: racket hip back)",
    "standard error of the hip yaw in degrees",
    "shoulder yaw in degrees (negative: racket shoulder back)",
    "standard error of the shoulder yaw in degrees",
    "foot stagger in metres (negative: racket foot back)",
    "standard error of the foot stagger in metres",
    "stance width in metres",
    "standard error of the stance width in metres",
    "stance width in hip widths",
    "stance width in leg lengths",
    "knee flexion of the racket leg in degrees",
    "standard error of the racket leg's knee flexion in degrees",
    "knee flexion of the other leg in degrees",
    "standard error of the other leg's knee flexion in degrees",
    "base across the court in metres (0: middle, positive: to the right)",
    "standard error of the base across the court in metres",
    "base along the court in metres (0: net, negative: behind it)",
    "standard error of the base along the court in metres",
    "remarks",
)
