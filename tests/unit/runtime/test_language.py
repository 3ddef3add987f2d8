"""The reader's language: chosen from the environment, numbers and dates as it has them."""

import os
import subprocess
import sys

import pytest
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from stance.runtime.language import (
    format_day,
    format_number,
    gettext,
    join_words,
    ngettext,
    shown_language,
)
from tests.catalogue import CATALOGUE, extract

GERMAN = r"""
msgid ""
msgstr ""
"Language: de\n"
"Content-Type: text/plain; charset=utf-8\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\n"

msgid "net"
msgstr "Netz"

msgid "{number} clip"
msgid_plural "{number} clips"
msgstr[0] "{number} Aufnahme"
msgstr[1] "{number} Aufnahmen"

msgid "{several} and {last}"
msgstr "{several} und {last}"
"""
SAID = """
import sys
from pathlib import Path
from stance.runtime import language as words
words.LOCALE_FOLDER = Path(sys.argv[1])
one, two = (words.ngettext("{number} clip", "{number} clips", n).format(number=n) for n in (1, 2))
print("|".join([
    words.shown_language(), words.gettext("net"), words.gettext("") or "nothing", one, two,
    words.format_number(-1.25, 1), words.format_number(3, signed=True),
    words.format_day("2026-03-04"), words.format_day("spring"), words.join_words("abc"),
    str("babel" in sys.modules),
]))
"""
IN_ENGLISH = "en-GB|net|nothing|1 clip|2 clips|−1.2|+3|2026-03-04|spring|a, b and c|False"
IN_GERMAN = "de|Netz|nothing|1 Aufnahme|2 Aufnahmen|−1,2|+3|04.03.2026|spring|a, b und c|True"


@pytest.fixture(scope="module")
def languages(tmp_path_factory):
    """A folder with a German catalogue."""
    folder = tmp_path_factory.mktemp("locale")
    (folder / "source.po").write_text(GERMAN, encoding="utf-8")
    compiled = folder / "de" / "LC_MESSAGES" / "stance.mo"
    compiled.parent.mkdir(parents=True)
    with (folder / "source.po").open("rb") as source, compiled.open("wb") as target:
        write_mo(target, read_po(source))
    return folder


def say(languages, **wanted):
    """What a program with these variables says."""
    known = ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
    environment = {name: value for name, value in os.environ.items() if name not in known}
    run = subprocess.run(
        [sys.executable, "-c", SAID, languages],
        env={**environment, "PYTHONUTF8": "1", **wanted},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    )
    return run.stdout.strip()


@pytest.mark.parametrize(
    "wanted",
    [
        {},
        {"LC_ALL": "C"},
        {"LANG": "C.UTF-8"},
        {"LANG": "en_GB.UTF-8"},
        {"LANG": "fr_FR.UTF-8"},  # there is none
        {"LANGUAGE": "en_GB:de", "LANG": "de_DE.UTF-8"},  # English first, then German
    ],
)
def test_without_a_wish_that_can_be_met_all_is_english(languages, wanted):
    assert say(languages, **wanted) == IN_ENGLISH


@pytest.mark.parametrize(
    "wanted",
    [
        {"LANG": "de_DE.UTF-8"},
        {"LC_ALL": "de_AT", "LANG": "en_GB"},
        {"LC_MESSAGES": "de", "LANG": "C"},
        {"LANGUAGE": "fr:de", "LANG": "en_GB"},
    ],
)
def test_a_wanted_language_gives_words_numbers_and_dates(languages, wanted):
    assert say(languages, **wanted) == IN_GERMAN


def test_english_numbers_have_a_true_minus_and_no_signed_nothing():
    assert format_number(-0.04, 1) == "0.0" and format_number(0, signed=True) == "0"
    assert format_number(-16.2) == "−16" and format_number(12345.678, 2) == "12345.68"


def test_a_list_reads_as_a_sentence_does():
    lists = ["", "a", "a and b", "a, b and c"]
    assert [join_words("abc"[:n]) for n in range(4)] == lists


def test_the_repository_speaks_english_here():
    assert shown_language().startswith("en") and format_day("2026-03-04") == "2026-03-04"
    assert gettext("net") == "net" and ngettext("one", "several", 2) == "several"


def test_the_catalogue_holds_what_is_extracted_today(tmp_path):
    extract(tmp_path / "today.pot")
    again = "After new or changed words: python -m tests.catalogue"
    assert (tmp_path / "today.pot").read_text("utf-8") == CATALOGUE.read_text("utf-8"), again
