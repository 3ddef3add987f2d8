"""Pages and charts made from templates: one look for all reports."""

import functools
from pathlib import Path
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from stance.reports.palette import CHART_COLOURS, CLASS_FILLS, CLASS_INKS
from stance.runtime.language import (
    format_day,
    format_number,
    gettext,
    ngettext,
    shown_language,
)
from stance.runtime.template_cache import template_cache


def page(template: str, **content: Any) -> str:
    """The text of a page.

    Parameters
    ----------
    template
        name of a file in `stance/reports/templates`
    **content
        what it shows; text is escaped, `Markup` is not
    """
    return _environment().get_template(template).render(content)


def chart(template: str, **content: Any) -> Markup:
    """An SVG picture, to be put into a page as it stands.

    Parameters
    ----------
    template
        name of a file in `stance/reports/templates/svg`
    **content
        what it shows; text is escaped
    """
    return Markup(page(f"svg/{template}", **content).strip())


def in_pixels(value: float) -> str:
    """A length in SVG, to a tenth of a pixel."""
    return f"{value:.1f}".removesuffix(".0")


@functools.cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("stance.reports"),
        bytecode_cache=template_cache(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        extensions=["jinja2.ext.i18n"],
        trim_blocks=True,
        lstrip_blocks=True,
        # The files do not change while the tool runs.
        auto_reload=False,
        # Looking for constants takes longer than the few uses of a template save.
        optimized=False,
    )
    environment.install_gettext_callables(  # type: ignore[attr-defined]
        gettext, ngettext, newstyle=True
    )
    environment.policies["ext.i18n.trimmed"] = True
    environment.globals.update(
        CHART_COLOURS, FILLS=CLASS_FILLS, INKS=CLASS_INKS, language=shown_language()
    )
    environment.filters.update(
        px=in_pixels, across=_in_percent, number=format_number, day=format_day
    )
    return environment


def _in_percent(value: float) -> str:
    """A place in percent of a chart's width."""
    return f"{value:.2f}%"
