"""The printed block of numerical errors beside the figures of a run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from solidify.report.text import WIDTH, columns, page, wrapped
from solidify.strand.summary import FIGURES

if TYPE_CHECKING:
    from solidify.analysis.accuracy import NumericalError

__all__ = ["accuracy_text"]

_DECIMALS = {"mm": 2, "°C": 1, "m": 3, "mm/√min": 3}
"""Decimals of an error, by unit."""


def accuracy_text(errors: Sequence[NumericalError], width: int = WIDTH) -> str:
    """Write the numerical error of each figure of a run.

    Parameters
    ----------
    errors : sequence of NumericalError
        From `solidify.analysis.accuracy.numerical_errors`.
    width : int
        Longest line of running text [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    rows = []
    for e in errors:
        figure = FIGURES[e.name]
        unit, decimals = figure.unit, _DECIMALS[figure.unit]
        if math.isnan(e.value) and math.isnan(e.finer):
            continue
        value = "not known" if math.isnan(e.value) else f"{e.value / figure.one:.{decimals}f} {unit}"
        least = 10.0**-decimals
        error = e.error / figure.one
        said = f"± {max(error, least):.{decimals}f} {unit}" if error >= least else f"below {least:g} {unit}"
        rows.append(
            (figure.label, value, "not known: one of two marches has none" if math.isnan(error) else said)
        )
    head = (
        "Numerical error, from a second march on a finer grid with smaller steps; of the equations alone, not of "
        "inputs, relations or what a slice leaves out"
    )
    return page([[*wrapped(head, width), *columns(rows, "lrw", width, "  ")]])
