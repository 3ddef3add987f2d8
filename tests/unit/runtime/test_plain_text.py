"""Text from outside is shown without steering the terminal."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stance.runtime.plain_text import clean_name, printable, printable_lines


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
