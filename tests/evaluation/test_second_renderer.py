"""What the second renderer's command makes of errors whose nature is known."""

import json
from pathlib import Path

import numpy as np
import pytest

from tests.evaluation.second_renderer import fitting
from tests.evaluation.second_renderer.fitting import Source, fit_feet, holding
from tests.evaluation.second_renderer.stills import Readings
from tests.evaluation.second_renderer.tables import shared_part, table


def test_what_groups_share_is_found() -> None:
    rng = np.random.default_rng(1)
    groups = np.repeat(np.arange(400), 4)
    own, common = rng.normal(size=1600), rng.normal(size=400)[groups]
    assert shared_part(own, groups) < 0.05
    assert shared_part(np.sqrt(0.7) * own + np.sqrt(0.3) * common, groups) == pytest.approx(
        0.3, abs=0.06
    )


def test_intervals_hold_as_often_as_the_weights_make_them() -> None:
    rng = np.random.default_rng(2)
    source = Source(rng.normal(size=(20_000, 2)), np.ones((20_000, 2, 2)))
    assert holding(source, 0.6, 0.8) == pytest.approx([95.0, 95.0], abs=0.6)
    assert (holding(source, 0.6, 0.0) < 80.0).all()
    unsure = Source(source.errors, source.feet_sizes, 0.8)
    assert holding(unsure, 0.6, 0.0) == pytest.approx([95.0, 95.0], abs=0.6)


def test_the_fit_finds_weights_with_which_both_sources_hold(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "orientation.json").write_text('{"factors": {}}')
    monkeypatch.setattr(fitting, "models_folder", lambda: tmp_path)
    monkeypatch.setattr(fitting, "network_card", lambda name: {"factors": {}})
    rng = np.random.default_rng(3)
    sources = []
    # One source's errors are as the network says, the other's as far as its readings are apart.
    for predicted, apart in ((1.0, 0.3), (0.4, 1.5)):
        sizes = np.stack([np.full((4000, 2), predicted), np.full((4000, 2), apart)], axis=-1)
        sources.append(Source(rng.normal(size=(4000, 2)) * np.hypot(predicted, apart), sizes))
    weights = fit_feet(sources)
    for source in sources:
        assert (holding(source, *weights) >= 90.0).all()
        assert (holding(source, *weights) <= 98.0).all()
    written = json.loads((tmp_path / "orientation.json").read_text())
    assert tuple(written["feet"].values()) == weights
    assert written["factors"] == {}


def test_errors_that_no_weights_make_hold_are_told() -> None:
    sizes = np.ones((100, 2, 2))
    far, near = Source(np.full((100, 2), 50.0), sizes), Source(np.zeros((100, 2)), sizes)
    for source in (far, near):
        with pytest.raises(ValueError, match="no weights"):
            fit_feet([source])


def test_the_table_has_a_line_for_each_view() -> None:
    rng = np.random.default_rng(4)
    view = np.array(["behind", "side"] * 20)
    readings = Readings(
        rng.normal(size=(40, 3)),
        np.ones((40, 3)),
        np.ones((40, 2, 2)),
        view,
        np.repeat(np.arange(10), 4),
        3,
    )
    lines = list(table(readings))
    assert "found nobody in 3" in lines[0]
    assert [line.split()[0] for line in lines[2:5]] == ["behind", "side", "all"]
