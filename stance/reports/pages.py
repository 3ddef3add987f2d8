"""Pages made from a template: one look for all reports."""

from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined


def counted(number: int, what: str) -> str:
    """A number of things in words: "1 clip", "2 clips"."""
    return f"{number} {what}" + ("" if number == 1 else "s")


def page(template: str, **content: Any) -> str:
    """The text of a page.

    Parameters
    ----------
    template : name of a file in `stance/reports/templates`
    content : what it shows; text is escaped, `Markup` is not
    """
    environment = Environment(
        loader=PackageLoader("stance.reports"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(content)
