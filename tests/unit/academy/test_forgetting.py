"""A player is forgotten: nothing of one is left that the tool wrote, and the others stay."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stance.academy.forgetting import forget_player, list_former_players, recall_player
from stance.academy.result_store import Store
from stance.academy.writing import write_screening
from stance.comparison.history import list_entries
from stance.errors import InputError
from stance.results.csv_format import positions_csv
from stance.results.json_format import result_text
from stance.runtime.plain_text import clean_name
from tests.unit.academy.invented_academy import screen_invented
from tests.unit.invented import drawn_result

NAMES = ("Mia", "Zoë O'Neil", "Mi")


@pytest.fixture
def academy(tmp_path):
    """A screening of three players with a kept result each."""
    write_academy(tmp_path, NAMES)
    return tmp_path


def write_academy(folder, names):
    random = np.random.default_rng(0)
    write_screening(screen_invented({name: [(2, 9, "")] for name in names}), folder)
    for number, name in enumerate(names):
        result = drawn_result(random, 2, 9, name)
        files = {"result.json": result_text(result), "positions.csv": positions_csv(result)}
        encoded = {file: text.encode() for file, text in files.items()}
        Store(folder / "kept").save(f"{number:032x}", {**encoded, "overlay.mp4": b"video"}, 1.0)
    list_entries(folder)


def list_players(folder):
    return {entry.player for entry in list_entries(folder).entries}


@pytest.mark.parametrize("name", NAMES)
def test_nothing_of_the_player_is_left_and_the_others_results_stay(academy, name):
    proof = forget_player(recall_player(academy, name))
    assert proof.left == () and proof.searched > 0
    assert list_players(academy) == {*NAMES} - {name}
    assert len(list((academy / "kept").iterdir())) == len(NAMES) - 1
    assert len(list((academy / "players").iterdir())) == len(NAMES) - 1
    for file in (path for path in academy.rglob("*") if path.is_file()):
        assert f'"{name}"' not in file.read_text(errors="replace")
    with pytest.raises(InputError, match="wrote nothing of"):
        recall_player(academy, name)


@settings(max_examples=15, deadline=None)
@given(st.text(min_size=3, max_size=20).map(clean_name).filter(lambda name: name[:1].isalpha()))
def test_any_name_is_forgotten(tmp_path_factory, name):
    folder = tmp_path_factory.mktemp("academy")
    write_academy(folder, (name, "Another Player"))
    forget_player(recall_player(folder, name))
    assert list_players(folder) == {"Another Player"}


def test_what_the_tool_did_not_write_stays_and_is_named(academy):
    roster = academy / "roster.csv"
    roster.write_text("player,clip\nMia,a.mp4\n")
    (academy / "Mia.mp4").write_bytes(b"video")
    proof = forget_player(recall_player(academy, "Mia"))
    assert set(proof.left) == {roster, academy / "Mia.mp4"}
    assert roster.exists() and (academy / "Mia.mp4").exists()


def test_a_damaged_result_that_holds_the_name_goes_too(academy):
    file = academy / "kept" / f"{0:032x}" / "result.json"
    file.write_text(file.read_text()[:-40])
    assert file in recall_player(academy, "Mia").files


def test_players_who_left_the_roster_are_told(academy):
    store = Store(academy / "kept")
    assert list_former_players(store, [f"{0:032x}"], ["Mia", "Mi"]) == ["Zoë O'Neil"]
    assert list_former_players(store, store.list_keys(), []) == []


def test_a_folder_that_is_not_there_gets_a_sentence(tmp_path):
    with pytest.raises(InputError, match="There is no folder"):
        recall_player(tmp_path / "none", "Mia")
