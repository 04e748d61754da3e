"""What every page shares: its tables and pictures as values, and how a template is filled.

A page is a template of `data/pages` that extends ``base.html.j2`` and takes its marks, tables and pictures from
``parts.html.j2``. It is one file that fetches nothing, for a screen, a phone and A4.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from markupsafe import Markup, escape

from solidify.report.strand_text import cautions
from solidify.report.text import tied

__all__ = ["Picture", "PageTable", "page_text"]


@dataclass(frozen=True)
class Picture:
    """A picture of the page.

    Parameters
    ----------
    caption, alt : str
        What stands below it, and what it shows for those who do not see it.
    wide : str
        Its address, drawn for paper and screen.
    narrow : str
        Its address, drawn for a phone; empty when a table says the same there.
    """

    caption: str
    alt: str
    wide: str
    narrow: str = ""


@dataclass(frozen=True)
class PageTable:
    """A table of the page; the first cell of a row names it.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Names of the columns.
    rows : tuple of tuple of str
        As many cells each.
    look : str
        ``"numbers"`` when all but the first column hold numbers, or another look of the page.
    note : str
        Stands below.
    """

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    look: str = ""
    note: str = ""


def page_text(
    template: str, title: str, lead: Sequence[str], made_by: str, made_at: str, **values: Any
) -> str:
    """Fill a page.

    Parameters
    ----------
    template : str
        A file of `data/pages`.
    title, lead : str, sequence of str
        Its heading, and what stands in one line below.
    made_by, made_at : str
        Program and time of the computation, the time in ISO 8601.
    **values
        What the template asks for besides.

    Returns
    -------
    str
        HTML; equal values give equal text.
    """
    at = made_at[:16].replace("T", " ") + " UTC" * made_at.endswith("+00:00")
    return str(
        _environment()
        .get_template(template)
        .render(
            title=title,
            lead=lead,
            cautions=cautions(),
            made_by=made_by,
            made_at=made_at,
            made_at_words=at,
            **values,
        )
    )


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["tied"] = _tied
    environment.filters["address"] = Markup
    return environment


def _template(name: str) -> str:
    return resources.files("solidify").joinpath("data", "pages", name).read_text(encoding="utf-8")


def _tied(text: str) -> Markup:
    """Keep numbers on the line of their units, and a minus a minus."""
    return Markup(re.sub(r"(?<![\w)\]–-])-(?=\d)", "−", str(escape(tied(text)))))
