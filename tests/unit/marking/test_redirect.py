"""The file that leads to the marking page is its owner's alone, and does not stay."""

import stat
import sys

import pytest

from stance.errors import OutputError
from stance.marking.redirect import redirect_file


def test_only_the_owner_can_read_the_address_and_it_does_not_stay(tmp_path):
    with redirect_file("http://127.0.0.1:5/secret/", tmp_path) as file:
        assert "url=http://127.0.0.1:5/secret/" in file.read_text()
        if sys.platform != "win32":
            assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_gone_gets_a_sentence(tmp_path):
    with pytest.raises(OutputError, match="--out"), redirect_file("http://a/", tmp_path / "gone"):
        pass
