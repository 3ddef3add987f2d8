"""A command's dataclass becomes options, and comes back as it was."""

from dataclasses import dataclass
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from stance.cli.options import check_date, spread_options


@dataclass(frozen=True)
class Tastes:
    """Options of a command for these tests."""

    colour: Annotated[str, typer.Option(help="The colour.")] = "red"
    sizes: Annotated[list[int] | None, typer.Option("--size", help="Sizes.")] = None
    loud: Annotated[bool, typer.Option("--loud")] = False


def run(*arguments):
    """Run a command that takes the options; gives what it was called with."""
    called = []

    def order(thing: Annotated[str, typer.Argument()], tastes: Tastes, number: int = 1) -> None:
        """Order something."""
        called.append((thing, tastes, number))

    app = typer.Typer()
    app.command()(spread_options(order))
    return CliRunner().invoke(app, list(arguments)), called


def test_options_not_given_have_the_defaults_of_the_fields():
    done, called = run("hat")
    assert done.exit_code == 0 and called == [("hat", Tastes(), 1)]


def test_options_reach_the_command_in_the_dataclass():
    _, called = run("hat", "--colour", "blue", "--size", "3", "--size", "4", "--loud")
    assert called == [("hat", Tastes("blue", [3, 4], True), 1)]
    _, called = run("hat", "--number", "7", "--colour", "blue")
    assert called == [("hat", Tastes("blue"), 7)]


def test_the_help_lists_the_fields_in_their_order_among_the_other_options():
    text = run("--help")[0].stdout
    places = [text.index(word) for word in ("--colour", "--size", "--loud", "--number")]
    assert places == sorted(places)
    assert "Order something." in text and "The colour." in text and "[default: red]" in text


def test_a_wrong_value_is_refused():
    done, called = run("hat", "--size", "big")
    assert done.exit_code == 2 and called == []


@pytest.mark.parametrize(("text", "date"), [("2026-03-14", "2026-03-14"), ("", None), (None, None)])
def test_dates_are_taken_as_they_are_compared(text, date):
    assert check_date(text) == date


def test_what_is_no_date_is_wrong_use():
    with pytest.raises(typer.BadParameter, match="year-month-day"):
        check_date("14.3.")
