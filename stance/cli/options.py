"""Options that travel together: a command takes a dataclass, the command line its fields."""

import functools
import inspect
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any, Literal, get_type_hints

import typer

Hand = Literal["right", "left"]

FilmedFrom = Literal[
    "behind", "rear-left", "rear-right", "left", "right", "front-left", "front-right", "front"
]


def spread_options(command: Callable[..., None]) -> Callable[..., None]:
    """Turn each dataclass that a command takes into options of the command line.

    typer makes a command line from a function's signature. This gives it the signature of a
    function that takes the dataclass's fields one by one, in their order, and puts them together
    again for the command.

    Parameters
    ----------
    command
        some of its parameters may be dataclasses, whose fields have a default each and are
        `Annotated` with `typer.Option`
    """
    parameters: list[inspect.Parameter] = []
    groups: dict[str, Any] = {}
    for name, hint in get_type_hints(command, include_extras=True).items():
        if is_dataclass(hint):
            groups[name] = hint
            hints = get_type_hints(hint, include_extras=True)
            parameters += [_make_parameter(f.name, hints[f.name], f.default) for f in fields(hint)]
        elif name != "return":
            default = inspect.signature(command).parameters[name].default
            parameters.append(_make_parameter(name, hint, default))

    @functools.wraps(command)
    def spread(**values: Any) -> None:
        for name, group in groups.items():
            values[name] = group(**{f.name: values.pop(f.name) for f in fields(group)})
        command(**values)

    spread.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    spread.__annotations__ = {p.name: p.annotation for p in parameters}
    return spread


def check_date(text: str | None) -> str | None:
    """A date as it is compared, year-month-day; None where none is given.

    Raises
    ------
    typer.BadParameter
        The text is no date.
    """
    if not text:
        return None
    from stance.academy.dates import read_date

    try:
        return read_date(text).isoformat()
    except ValueError as problem:
        raise typer.BadParameter(f"{problem}.") from None


def _make_parameter(name: str, hint: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=hint, default=default)
