"""Where the players stood, on a plan of the court, as SVG."""

import numpy as np

from stance.court.dimensions import COURT_LENGTH, COURT_WIDTH, court_lines
from stance.reports.palette import FAINT, INK
from stance.reports.svg import class_marker, spread_labels, svg_document, svg_text
from stance.results.model import PlayerResult


def court_map(player: PlayerResult) -> str:
    """Where the player waited on the half court, to scale, net at the top: SVG as text.

    Parameters
    ----------
    player : the player; bases are drawn in the court frame of the player's own half.
    """
    scale, margin, top = 46.0, 14.0, 30.0
    width = COURT_WIDTH * scale + 2 * margin
    height = COURT_LENGTH / 2 * scale + top + 12

    def on_paper(x: float, y: float) -> tuple[float, float]:
        return margin + (x + COURT_WIDTH / 2) * scale, top - y * scale

    left, right = on_paper(-COURT_WIDTH / 2, 0)[0], on_paper(COURT_WIDTH / 2, 0)[0]
    parts = []
    parts.append(
        f'<rect x="{left:.1f}" y="{top}" width="{COURT_WIDTH * scale:.1f}" '
        f'height="{COURT_LENGTH / 2 * scale:.1f}" style="fill:var(--court,#eef3ee)"/>'
    )
    for line in court_lines():
        if line.y[0] < 0:
            x, y = on_paper(line.x[0], min(line.y[1], 0.0))
            parts.append(
                f'<rect x="{x:.1f}" y="{y:.1f}" '
                f'width="{(line.x[1] - line.x[0]) * scale:.1f}" '
                f'height="{(min(line.y[1], 0.0) - line.y[0]) * scale:.1f}" '
                f'style="fill:{FAINT}"/>'
            )
    parts.append(
        f'<line x1="{left - 8:.1f}" y1="{top}" x2="{right + 8:.1f}" y2="{top}" '
        f'style="stroke:{INK};stroke-width:4;stroke-dasharray:3 2"/>'
    )
    parts.append(svg_text(width / 2, top - 10, "net", anchor="middle"))
    places = {
        number: on_paper(*position.base_m)
        for number, position in enumerate(player.ready_positions, start=1)
        if np.isfinite(position.base_m).all()
    }
    spread = spread_labels(
        np.array(list(places.values()), float).reshape(-1, 2),
        22.0,
        (12.0, top + 12, width - 12, height - 12),
    )
    for (x, y), (label_x, label_y) in zip(places.values(), spread, strict=True):
        parts.append(
            f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{label_x:.1f}" y2="{label_y:.1f}" '
            f'style="stroke:{INK};stroke-width:1"/>'
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5" style="fill:{INK}"/>'
        )
    for number, (x, y) in zip(places, spread, strict=True):
        parts.append(class_marker(player.ready_positions[number - 1].stance_class, number, x, y))
    label = f"Where player {player.player} waited on the half court"
    return svg_document(width, height, label, parts)
