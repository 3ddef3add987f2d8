"""Clips come by path and by URL."""

import functools
import http.server
import threading

import pytest

from stance.academy import remote_files
from stance.academy.remote_files import fetch_clip, fetch_court, file_name, find_version, is_url
from stance.errors import InputError
from stance.runtime.regular_files import MOST_TEXT_BYTES


@pytest.fixture
def server(tmp_path):
    """The address of a server of a folder, and the folder."""
    handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(tmp_path))
    handler.log_message = lambda *_: None
    running = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=running.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{running.server_port}", tmp_path
    running.shutdown()
    running.server_close()


@pytest.mark.parametrize(
    ("address", "url", "name"),
    [
        ("https://club.example/clips/a.mp4?key=1", True, "a.mp4"),
        ("https://club.example/", True, "clip"),
        ("folder/b.mp4", False, "b.mp4"),
    ],
)
def test_urls_and_paths_are_told_apart_and_named(address, url, name):
    assert is_url(address) == url and file_name(address) == name


def test_a_drive_letter_makes_no_url():
    assert not is_url("C:\\clips\\a.mp4")


def test_a_file_of_this_machine_is_taken_as_it_is(tmp_path):
    file = tmp_path / "a.mp4"
    with fetch_clip(str(file)) as fetched:
        assert fetched == file


def test_a_copy_of_a_remote_file_goes_when_done(server):
    address, folder = server
    (folder / "a.mp4").write_bytes(b"clip")
    for url in (f"{address}/a.mp4", (folder / "a.mp4").as_uri()):
        with fetch_clip(url) as fetched:
            assert fetched.name == "a.mp4" and fetched.read_bytes() == b"clip"
            assert fetched != folder / "a.mp4"
        assert not fetched.exists()
    assert (folder / "a.mp4").exists()


@pytest.mark.parametrize("scheme", ["", "no-such-protocol://"])
def test_what_cannot_be_fetched_is_told(server, scheme):
    address, _ = server
    url = f"{scheme or address + '/'}none.mp4"
    with pytest.raises(InputError, match="none.mp4"), fetch_clip(url):
        pass


def test_a_version_changes_with_the_file(tmp_path):
    file = tmp_path / "a.mp4"
    assert find_version(str(file)) is None
    file.write_bytes(b"one")
    first = find_version(str(file))
    assert find_version(str(file)) == first
    file.write_bytes(b"other")
    assert find_version(str(file)) not in (None, first)
    assert find_version("no-such-protocol://a.mp4") is None


def test_an_address_that_never_ends_or_is_none_is_told(tmp_path):
    with pytest.raises(InputError, match="pipe or a device"), fetch_clip("file:///dev/zero"):
        pass
    assert file_name("http://[a/b.mp4") == "clip"
    with pytest.raises(InputError, match="b.mp4"), fetch_clip("http://[a/b.mp4"):
        pass


def test_what_is_too_large_is_not_fetched_to_its_end(server):
    address, folder = server
    with (folder / "big.json").open("wb") as file:
        file.truncate(MOST_TEXT_BYTES + 1)
    with pytest.raises(InputError, match="larger than 64 MB"), fetch_court(f"{address}/big.json"):
        pass


def test_what_takes_too_long_is_given_up(server, monkeypatch):
    address, folder = server
    (folder / "a.mp4").write_bytes(b"clip")
    monkeypatch.setattr(remote_files, "LONGEST_FETCH_S", -1.0)
    with pytest.raises(InputError, match="not fetched within"), fetch_clip(f"{address}/a.mp4"):
        pass
