"""screening.csv has a row per player."""

import csv
import io

from stance.academy.csv_format import screening_csv
from tests.unit.academy.invented_academy import screen_invented


def test_every_player_has_a_row():
    name = '<b>Ann, & "Bo"'
    screening = screen_invented(
        {"S": [(13, 14, "2026-01-05"), (12, 14, "2026-02-05")], name: [(1, 14, "")]},
        failing=["Broken."],
    )
    rows = list(csv.DictReader(io.StringIO(screening_csv(screening))))
    assert [r["player"] for r in rows] == ["S", name, "Z"]
    first, _, last = rows
    player = screening.players[0]
    over = player.shares["over_side_on"]
    assert int(first["over-side-on"]) == over.count
    assert float(first["share of over-side-on"]) == round(over.share, 3)
    assert float(first["interval from"]) == round(over.interval[0], 3)
    assert float(first["mean hip yaw in degrees"]) == round(player.means["hip_yaw_deg"].value, 1)
    assert float(first["q-value"]) == round(player.q_value, 5)
    assert first["flag"] == "habit" and first["leg in front"] == "non-racket leg"
    assert int(first["racket side leading where over-side-on"]) == player.pool.racket_side_leading
    assert int(first["racket foot leading"]) == player.racket_foot_leading.count
    assert first["strokes faced"] == "0"
    assert first["dates"] == "2026-01-05; 2026-02-05" and first["sessions"] == ""
    assert first["clips"] == "; ".join(c.file for c in player.clips)
    assert last["flag"] == "too few to say"
    assert last["share of over-side-on"] == last["p-value"] == last["over the dates"] == ""
