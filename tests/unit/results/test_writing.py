"""The files of a result in its folder."""

import pytest

from stance.errors import OutputError
from stance.results.json_format import read_result
from stance.results.writing import write_result
from tests.unit.results.invented import invented_result


def test_a_result_comes_back_from_its_file_as_it_was(tmp_path):
    result = invented_result()
    write_result(result, tmp_path / "new" / "folder")
    assert read_result(tmp_path / "new" / "folder") == result
    assert read_result(tmp_path / "new" / "folder" / "result.json") == result


def test_a_folder_that_can_not_be_made_gets_a_sentence(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(OutputError, match="taken"):
        write_result(invented_result(), tmp_path / "taken" / "folder")
