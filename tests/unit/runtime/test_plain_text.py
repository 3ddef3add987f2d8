"""Text from outside is shown without steering the terminal."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.runtime.plain_text import (
    clean_name,
    hide_secrets,
    printable,
    printable_lines,
    quote_words,
)


@pytest.mark.parametrize("text", ["Mia", "[/red] J-07", "Zoë ± 5°", "渡辺", "👩‍👩‍👧", ""])
def test_plain_text_stays(text):
    assert printable(text) == text


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\x1b[31mMia", "\\x1b[31mMia"),
        ("a\u202eb", "a\\u202eb"),
        ("a\u2028b", "a\\u2028b"),
        ("clip\udcff.mp4", "clip\\xff.mp4"),
        ("a\ud800b", "a\\ud800b"),
    ],
)
def test_what_steers_is_written_out(text, shown):
    assert printable(text) == shown


@given(st.text(st.characters(codec=None)))
def test_what_is_shown_can_be_written_and_steers_nothing(text):
    shown = printable(text)
    shown.encode()
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cs", "Zl", "Zp"}
    assert printable(shown) == shown


def test_lines_stay_lines():
    assert printable_lines("one\ntwo\x1b") == "one\ntwo\\x1b"


def test_a_name_has_one_spelling():
    assert clean_name(" Zoe\u0308  B.\t") == "Zoë B."


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("https://a.example/b.mp4?X-Amz-Signature=abc#t", "https://a.example/b.mp4"),
        ("s3://key:pass@bucket/b.mp4", "s3://bucket/b.mp4"),
        (
            "404, url='https://u:p@a.example/b.mp4?sig=1' failed: ftp://x@h/c",
            "404, url='https://a.example/b.mp4' failed: ftp://h/c",
        ),
        ("tcp://10.0.0.5:8786 is what? a#b", "tcp://10.0.0.5:8786 is what? a#b"),
        ("C:\\clips\\a.mp4?", "C:\\clips\\a.mp4?"),
    ],
)
def test_passwords_and_signatures_are_cut_out_of_addresses(text, shown):
    assert hide_secrets(text) == shown


@pytest.mark.parametrize(
    ("system", "quoted"),
    [("linux", "stance court 'my drill.mp4'"), ("win32", 'stance court "my drill.mp4"')],
)
def test_a_command_can_be_pasted_into_the_terminal(system, quoted, monkeypatch):
    monkeypatch.setattr("sys.platform", system)
    assert quote_words("stance", "court", "my drill.mp4") == quoted
