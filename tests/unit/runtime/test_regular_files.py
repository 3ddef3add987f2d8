"""Regular files are read; all else gets a sentence and keeps nobody waiting."""

import hashlib
import os

import pytest

from stance.errors import InputError
from stance.runtime.regular_files import hash_file, open_regular, read_regular


def test_the_hash_is_of_the_content(tmp_path):
    content = b"clip" * 500_000
    (tmp_path / "a.mp4").write_bytes(content)
    assert hash_file(tmp_path / "a.mp4") == hashlib.sha256(content).hexdigest()


@pytest.mark.parametrize("use", [hash_file, open_regular, read_regular])
def test_what_is_no_file_is_told(tmp_path, use):
    with pytest.raises(InputError, match="There is no file .*none.mp4; check its name"):
        use(tmp_path / "none.mp4")
    with pytest.raises(InputError, match="is a folder; give the file itself"):
        use(tmp_path)
    with pytest.raises(InputError, match="can't be read"):
        use(tmp_path / ("x" * 300))
    with pytest.raises(InputError, match="can't be read"):
        use("a\0b")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes have names on Unix alone")
@pytest.mark.parametrize("use", [hash_file, open_regular, read_regular])
def test_a_pipe_or_device_keeps_nobody_waiting(tmp_path, use):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", "/dev/zero", "/dev/full"):
        with pytest.raises(InputError, match="is a pipe or a device"):
            use(path)


def test_a_file_beyond_the_limit_is_refused(tmp_path):
    (tmp_path / "roster.csv").write_bytes(b"x" * 11)
    assert read_regular(tmp_path / "roster.csv", "roster", 11) == b"x" * 11
    with pytest.raises(InputError, match="roster.csv is too large for a roster"):
        read_regular(tmp_path / "roster.csv", "roster", 10)
