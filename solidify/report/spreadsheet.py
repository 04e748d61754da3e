"""Tables for a spreadsheet: CSV in which no cell of words is a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any

__all__ = ["table_text"]

_STARTS = ("=", "+", "-", "@", "\t", "\r")
"""How a cell begins that a spreadsheet may run."""


def table_text(rows: Iterable[Sequence[Any]]) -> str:
    r"""Return rows as CSV with line feeds.

    Parameters
    ----------
    rows : iterable of sequence
        Numbers and words. Words that a spreadsheet would take for a formula get an apostrophe before them, as a
        person types it there; numbers with a sign stay numbers.

    Returns
    -------
    str

    Examples
    --------
    >>> table_text([("title", "room"), ("=1+1", "-0.5")])
    "title,room\n'=1+1,-0.5\n"
    """
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([_plain(cell) for cell in row] for row in rows)
    return text.getvalue()


def _plain(cell: Any) -> Any:
    if not isinstance(cell, str) or not cell.startswith(_STARTS):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell
