"""JSON files read by a schema, and their text: a dataclass says what must be in a file read.

Fields that the schema does not name are ignored, missing ones take its defaults. Where the schema
asks for a plain `float`, null is an unknown number (NaN), as this tool writes it.
"""

import functools
import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import is_dataclass
from pathlib import Path
from typing import Any, TypeVar, cast, get_args, get_origin, get_type_hints

import msgspec

from stance.errors import InputError
from stance.runtime.language import gettext as _
from stance.runtime.regular_files import read_regular

Content = TypeVar("Content")

Fitter = Callable[[Any], Any]

# Names of fields in files where they differ from those of the dataclasses: "class" is a keyword in
# Python, and in a file a stroke's `known_by` is one text, the surest way alone.
NAMES_IN_FILES = {
    "stance_class": "class",
    "time_s": "contact_s",
    "time_se_s": "contact_se_s",
    "frame": "contact_frame",
    "met": "state",
    "known_by": "all_known_by",
}

# Result files have lists and objects eight deep.
_DEEPEST = 40

_KINDS = {
    "str": _("text"),
    "int": _("a whole number"),
    "float": _("a number"),
    "bool": _("true or false"),
    "array": _("a list"),
    "object": _("an object"),
    "null": "null",
}


def read_json(
    path: str | Path, kind: type[Content], what: str, schema: str | None = None
) -> Content:
    """Read a JSON file.

    Parameters
    ----------
    path
        the file, UTF-8, with or without a byte order mark
    kind
        a dataclass (or any type that msgspec reads) that the content must fit
    what
        the file in the coach's words, such as "court file"
    schema
        what the field "schema" must hold; None where the file has none

    Raises
    ------
    InputError
        The file can't be read, is no JSON, is of another schema, or a field is missing or of the
        wrong kind; the sentence names the file and the field.
    """
    content = read_regular(path, what)
    try:
        data = msgspec.json.decode(content.removeprefix(b"\xef\xbb\xbf"))
        if _is_nested_deeper(data, _DEEPEST):
            raise RecursionError
    except (msgspec.DecodeError, RecursionError):
        raise InputError(
            _("{path} is not a {what}: it is not JSON text, or it is cut off.").format(
                path=path, what=what
            )
        ) from None
    return read_content(data, kind, f"{what} {path}", schema)


def read_content(data: Any, kind: type[Content], what: str, schema: str | None = None) -> Content:
    """Read the parsed content of a JSON file; parameters and errors as for `read_json`."""
    stated = data.get("schema") if isinstance(data, Mapping) else None
    if schema is not None and stated != schema:
        raise InputError(
            _(
                "The {what} is of another kind: its schema is {stated!r}, and {schema!r} is needed."
            ).format(what=what, stated=stated, schema=schema)
        )
    try:
        fit = _fitter(cast(Any, kind))
        return msgspec.convert(data if fit is None else fit(data), kind)
    except msgspec.ValidationError as problem:
        raise InputError(
            _("The {what} can't be used: {problem}.").format(
                what=what, problem=_sentence(str(problem))
            )
        ) from None


def json_text(content: Any) -> str:
    """The text of a JSON file, as in all files of this tool.

    Parameters
    ----------
    content
        a msgspec struct or a mapping, of JSON's kinds and NumPy's numbers

    Raises
    ------
    ValueError
        If a number is NaN or infinite.
    """
    plain = msgspec.to_builtins(content, enc_hook=_to_python)
    # Not msgspec: it writes 0.00001 where earlier files have 1e-05.
    return json.dumps(plain, ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def _is_nested_deeper(value: Any, levels: int) -> bool:
    """Whether lists and objects lie in each other deeper than any file of this tool has them."""
    parts = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    return levels < 0 or any(_is_nested_deeper(part, levels - 1) for part in parts)


def _to_python(number: Any) -> Any:
    """A NumPy number as Python's own."""
    return number.item()


@functools.cache
def _fitter(kind: Any) -> Fitter | None:
    """How a parsed value is fitted to a type: NaN for null, the dataclasses' names of fields.

    None where a value of this type needs no fitting.
    """
    parts = get_args(kind)
    if kind is float:
        return lambda value: math.nan if value is None else value
    if is_dataclass(kind):
        return _field_fitter(get_type_hints(kind))
    if get_origin(kind) is dict:
        fit_value = _fitter(parts[1])
        return fit_value and (
            lambda value: (
                {key: fit_value(part) for key, part in value.items()}
                if isinstance(value, dict)
                else value
            )
        )
    if get_origin(kind) is tuple and len({*parts} - {...}) == 1:
        fit_part = _fitter(parts[0])
        return fit_part and (
            lambda value: [fit_part(part) for part in value] if isinstance(value, list) else value
        )
    # Of a choice such as "a dataclass or null" only the dataclass needs fitting.
    return next(
        (_fitter(part) for part in parts if isinstance(part, type) and is_dataclass(part)), None
    )


def _field_fitter(hints: Mapping[str, Any]) -> Fitter:
    """How an object is fitted to a dataclass's fields; those it does not know are left out."""
    fields = [(NAMES_IN_FILES.get(name, name), name, _fitter(hints[name])) for name in hints]

    def fit(value: Any) -> Any:
        if not isinstance(value, dict):
            return value
        return {
            name: value[in_file] if fit_field is None else fit_field(value[in_file])
            for in_file, name, fit_field in fields
            if in_file in value
        }

    return fit


def _sentence(problem: str) -> str:
    """What is wrong, in plain words, from msgspec's message."""
    message, place = [*problem.split(" - at ", 1), ""][:2]
    field = place.strip("`$.")
    for name, in_file in NAMES_IN_FILES.items():
        field = re.sub(rf"\b{name}\b", in_file, field)
    if missing := re.fullmatch(r"Object missing required field `(\w+)`", message):
        name = NAMES_IN_FILES.get(missing[1], missing[1])
        return (
            _('it has no field "{field}.{name}"').format(field=field, name=name)
            if field
            else _('it has no field "{name}"').format(name=name)
        )
    subject = _('its field "{field}"').format(field=field) if field else _("its content")
    if lengths := re.fullmatch(r"Expected `array` of length (\d+), got (\d+)", message):
        return _("{subject} must be a list of {wanted}, not of {found}").format(
            subject=subject, wanted=lengths[1], found=lengths[2]
        )
    if kinds := re.fullmatch(r"Expected `(.*)`, got `(.*)`", message):
        return _("{subject} must be {wanted}, not {found}").format(
            subject=subject, wanted=_in_words(kinds[1]), found=_in_words(kinds[2])
        )
    if choice := re.fullmatch("Invalid enum value (.*)", message):
        return _("{subject} can't be {choice}").format(subject=subject, choice=choice[1])
    return _("{subject} is not as it must be ({message})").format(subject=subject, message=message)


def _in_words(kinds: str) -> str:
    return _(" or ").join(_KINDS.get(kind, kind) for kind in kinds.split(" | "))
