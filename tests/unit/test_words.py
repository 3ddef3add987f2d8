"""All that a coach reads passes through the catalogue."""

import ast
import json
import os
import re
import subprocess
import sys
from html.parser import HTMLParser

import pytest
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from tests.catalogue import CATALOGUE, COMMANDS
from tests.paths import ROOT

# What a translation leaves as it is: places in a sentence, HTML's tags and signs.
KEPT = re.compile(r"(%%|%\(\w+\)\w|\{\w*(?:!\w)?(?::[^}]*)?\}|</?(?:a|b|br|i|small)\b[^>]*>|&\w+;)")
ACCENTED = str.maketrans(
    "aAbBcCdDeEfFgGhHiIjJkKlLmMnNoOpPqQrRsStTuUvVwWxXyYzZ",
    "ȧȦḃḂċĊḋḊėĖḟḞġĠḣḢíİĵĴḱḰĺĹṁṀṅṄȯȮṗṖɋɊṙṘṡṠṫṪúÚṿṾẇẆẋẊẏẎżŻ",
)
ENGLISH = re.compile(r"[A-Za-z]{2,}")
# The same, or a number or a date as English writes it.
FOREIGN = re.compile(r"[A-Za-z]{2,}|(?<![.\d])\d+\.\d+(?!\.)\b|\b\d{4}-\d\d-\d\d\b")
IN_PSEUDO = """
import sys
from pathlib import Path
from stance.runtime import language
language.LOCALE_FOLDER = Path(sys.argv[1])
"""
HELP = """
import sys
from stance.cli.app import app
app(sys.argv[2:] + ["--help"], prog_name="stance")
"""
PAGES = """
import json, sys
from importlib.resources import files
from stance.marking.words import list_page_words
from tests.unit.invented_pages import make_pages
marking = (files("stance.marking") / "templates" / "marking.html").read_text("utf-8")
words = "".join(f"<p>{text}</p>" for text in list_page_words().values())
words = words.replace("{", "<!--").replace("}", "-->")
print(json.dumps({"marking page": marking + words, **dict(make_pages())}))
"""
PRINTED = """
import sys
from pathlib import Path
from typer.testing import CliRunner
from stance.cli.app import app
from stance.cli.clip_tables import print_result
from tests.unit.invented_history import write_history
from tests.unit.results.invented import invented_defender, invented_result
folder = Path(sys.argv[2])
history = write_history(folder / "1")
print_result(invented_result(), folder, as_json=False)
print_result(invented_result(invented_defender()), folder, as_json=False)
for command in (
    ("history", history),
    ("history", history, "--player", "J-3"),
    ("compare", "--history", history, "--sessions", "winter", "spring", "--out", folder / "2"),
    ("compare", "--history", history),
    ("compare", "--before", folder / "3", "--after", history, "--out", folder / "2"),
    ("analyse", history / "other" / "result.json", "--out", folder / "3"),
    ("analyse", folder / "4.mp4", "--date", "5"),
    ("forget", history, "--player", "J-3"),
    ("court", folder / "4.mp4"),
):
    done = CliRunner().invoke(app, [str(part) for part in command])
    print(done.stdout, done.stderr)
"""

# Of the command line: its frame, which the library puts in; names of commands, options, files and
# places to fill in; and what is typed as it stands.
FRAME = (
    r"Usage: stance( \w+)? \[OPTIONS\].*|Options:|Commands:|Arguments:|Show this message and exit\."
    r"|--[\w-]+|<[\w|-]+>|\[(default|required|x)[^\]]*\]|\b[A-Z]{2,}\b"
    rf"|^  ({'|'.join(COMMANDS)})\b"
)

# Names, files and words of invented results, and a unit that all languages share.
INVENTED = (
    r"\b(Mia|Leo|Noa|Uma|Ida|Bo|[\w-]+\.+(mp4|html|json|csv))\b|Broken\.|A hand was not seen\."
    r"|^Stance$|\bcm\b|Which hand holds the racket could not be seen\."
)

MODULES = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "stance").rglob("*.py"))


# What commands print beside that: invented sessions, and the frame of wrong use.
TYPED = (
    rf"{INVENTED}|{FRAME}|\b(winter|spring)\b|J-\w+|other/|None|stance-result|Usage: .*"
    r"|Try '.*' for help|Error: Invalid value"
)


def pseudo(text):
    """A text with an accent on each letter, and the decimal comma."""
    if isinstance(text, tuple):
        return tuple(map(pseudo, text))
    parts = KEPT.split(text)
    parts[::2] = [re.sub(r"(\d)\.(?=\d)", r"\1,", p.translate(ACCENTED)) for p in parts[::2]]
    return "".join(parts)


@pytest.fixture(scope="module")
def language(tmp_path_factory):
    """A folder with a language whose every letter has an accent."""
    folder = tmp_path_factory.mktemp("locale")
    with CATALOGUE.open("rb") as file:
        catalogue = read_po(file, locale="de")
    for message in catalogue:
        if message.id:
            message.string = pseudo(message.id)
            message.flags.discard("fuzzy")
    compiled = folder / "de" / "LC_MESSAGES" / "stance.mo"
    compiled.parent.mkdir(parents=True)
    with compiled.open("wb") as file:
        write_mo(file, catalogue)
    return folder


def run(code, folder, *arguments):
    """What a program prints in that language."""
    return subprocess.run(
        [sys.executable, "-c", IN_PSEUDO + code, str(folder), *arguments],
        cwd=ROOT,
        env={**os.environ, "LANGUAGE": "de", "PYTHONUTF8": "1", "COLUMNS": "200"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
    ).stdout


@pytest.mark.parametrize("command", [(), *((name,) for name in COMMANDS if name != "main")])
def test_the_help_of_a_command_has_no_words_that_cannot_be_translated(language, command):
    text = run(HELP, language, *command)
    assert len(re.findall("[ȧėíȯú]", text)) > 50
    rest = re.sub(FRAME, "", text, flags=re.MULTILINE)
    assert ENGLISH.findall(rest) == []


def test_what_commands_print_has_no_words_that_cannot_be_translated(language, tmp_path):
    text = run(PRINTED, language, str(tmp_path)).replace(str(tmp_path), "")
    assert text.count("\n") > 40 and "ȯṿėṙ-ṡíḋė-ȯṅ" in text
    left = [line for line in text.splitlines() if ENGLISH.search(re.sub(TYPED, "", line))]
    assert left == [], "\n".join(left)


class _Reader(HTMLParser):
    """All text that a page shows or reads aloud."""

    def __init__(self):
        super().__init__()
        self.hidden, self.texts = False, []

    def handle_starttag(self, tag, attributes):
        self.hidden = tag in ("style", "script")
        spoken = ("alt", "aria-label", "title", "data-name", "placeholder")
        self.texts += [value for name, value in attributes if name in spoken]

    handle_startendtag = handle_starttag

    def handle_endtag(self, tag):
        self.hidden = False

    def handle_data(self, data):
        if not self.hidden:
            self.texts.append(data)


@pytest.fixture(scope="module")
def pages(language):
    """Every page in that language, by name."""
    return json.loads(run(PAGES, language))


def test_the_pages_have_no_words_that_cannot_be_translated(pages):
    left = set()
    for name, html in pages.items():
        reader = _Reader()
        reader.feed(html)
        assert len(reader.texts) > 20
        texts = (re.sub(INVENTED, "", text) for text in reader.texts)
        left |= {f"{name}: {text.strip()[:200]}" for text in texts if FOREIGN.search(text)}
    assert left == set(), "\n".join(sorted(left))


# Whose first or named text a coach reads.
SAID = {
    "InputError": 0,
    "OutputError": 0,
    "NothingToAssess": 0,
    "StanceError": 0,
    "BadParameter": 0,
    "Notice": 1,
    "say": 0,
    "Option": "help",
    "Argument": "help",
}


def plain_words(node):
    """English in an expression that does not go through the catalogue."""
    match node:
        case ast.Call(func=ast.Name("_" | "N_" | "ngettext" | "gettext")):
            return []
        case ast.Compare():
            return []
        case ast.Constant(str(text)):
            return ENGLISH.findall(re.sub(r"^stance |[\w-]+\.(html|json)", "", text))
    return [word for child in ast.iter_child_nodes(node) for word in plain_words(child)]


def said(tree):
    """What is said where a coach reads it: each call with the expression of its text."""
    for call in ast.walk(tree):
        if isinstance(call, ast.Call):
            name = getattr(call.func, "id", getattr(call.func, "attr", ""))
            place = SAID.get(name)
            if isinstance(place, int):
                yield from ((call, text) for text in call.args[place : place + 1])
            yield from ((call, k.value) for k in call.keywords if place and k.arg == place)


@pytest.mark.parametrize("module", MODULES)
def test_what_is_said_can_be_translated(module):
    left = [
        (call.lineno, " ".join(words))
        for call, text in said(ast.parse((ROOT / module).read_text(encoding="utf-8")))
        if (words := plain_words(text))
    ]
    assert left == [], left


def test_the_search_for_what_is_said_tells_plain_words_from_others():
    calls = "InputError(f'no {x}'); Notice('code', _('words')); Option(help='of it'); say(text)"
    found = [plain_words(text) for _, text in said(ast.parse(calls))]
    assert found == [["no"], [], ["of", "it"], []]
