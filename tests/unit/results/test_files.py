"""Files written whole or not at all."""

import pytest

from stance.results.files import write_files


def test_a_failed_write_leaves_what_was_there(tmp_path):
    write_files(tmp_path, {"a.txt": "old", "b.txt": "old"})
    with pytest.raises(UnicodeEncodeError):
        write_files(tmp_path, {"a.txt": "new", "b.txt": "\ud800"})
    assert (tmp_path / "a.txt").read_text() == "old"
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a.txt", "b.txt"]


def test_ctrl_c_while_writing_leaves_what_was_there(tmp_path, monkeypatch):
    write_files(tmp_path, {"a.txt": "old"})

    def interrupt(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("stance.results.files.os.replace", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_files(tmp_path, {"a.txt": "new"})
    assert [(f.name, f.read_text()) for f in tmp_path.iterdir()] == [("a.txt", "old")]
