"""The printed block of numerical errors beside the figures of a run."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from solidify.sheet import WIDTH, columns, page, wrapped
from solidify.units import MM

if TYPE_CHECKING:
    from solidify.studies.accuracy import NumericalError

__all__ = ["accuracy_text"]

_LABELS = {
    "shell_at_mould_exit": ("shell at mould exit", 1 / MM, "mm", 2),
    "surface_at_mould_exit": ("surface at mould exit", 1.0, "°C", 1),
    "surface_at_straightener_in": ("surface at the first straightening point", 1.0, "°C", 1),
    "surface_at_straightener_out": ("surface at the last straightening point", 1.0, "°C", 1),
    "metallurgical_length": ("end of solidification", 1.0, "m", 3),
    "k_mould_exit": ("K at mould exit", 1.0, "mm/√min", 3),
    "k_whole_machine": ("K of the whole machine", 1.0, "mm/√min", 3),
}
"""Figure -> (label, factor, printed unit, decimals of the error)."""


def accuracy_text(errors: Sequence[NumericalError], width: int = WIDTH) -> str:
    """Write the numerical error of each figure of a run.

    Parameters
    ----------
    errors : sequence of NumericalError
        From `solidify.studies.accuracy.numerical_errors`.
    width : int
        Longest line of running text [characters].

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    rows = []
    for e in errors:
        label, factor, unit, decimals = _LABELS[e.name]
        if math.isnan(e.value) and math.isnan(e.finer):
            continue
        value = "not known" if math.isnan(e.value) else f"{factor * e.value:.{decimals}f} {unit}"
        least = 10.0**-decimals
        error = factor * e.error
        said = f"± {max(error, least):.{decimals}f} {unit}" if error >= least else f"below {least:g} {unit}"
        rows.append((label, value, "not known: one of two marches has none" if math.isnan(error) else said))
    head = (
        "Numerical error, from a second march on a finer grid with smaller steps; of the equations alone, not of "
        "inputs, relations or what a slice leaves out"
    )
    return page([[*wrapped(head, width), *columns(rows, "lrw", width, "  ")]])
