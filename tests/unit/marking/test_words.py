"""The page's words: each that the page asks for is there, and no other."""

import re
from importlib.resources import files

from stance.court.dimensions import court_points
from stance.marking.words import list_page_words, name_crossing

PAGE = (files("stance.marking") / "templates" / "marking.html").read_text("utf-8")


def test_the_page_asks_for_all_words_that_there_are_and_for_no_others():
    asked = set(re.findall(r'data-(?:word|label)="(\w+)"', PAGE))
    asked |= set(re.findall(r'say\("(\w+)"', PAGE))
    # Those that are chosen between: stages of the work, what to do with a mark, words of the plan.
    asked |= {
        f"{stage}_{part}"
        for stage in ("found", "marked", "empty", "more")
        for part in ("what", "todo")
    }
    asked |= {"tap_todo", "guess_todo", "drag_todo", "net", "player"}
    assert asked == set(list_page_words())


def test_places_in_the_words_are_those_that_the_page_fills():
    for word, text in list_page_words().items():
        for place in re.findall(r"\{(\w+)\}", text):
            uses = re.findall(rf'say\("{word}", \{{.{{0,120}}', PAGE, re.DOTALL)
            assert uses and all(re.search(rf"\b{place}\b", use) for use in uses), (word, place)


def test_crossings_keep_their_names_where_the_language_is_english():
    for name in court_points():
        assert name_crossing(name) == name
