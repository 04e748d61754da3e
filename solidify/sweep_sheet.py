"""What a study says in a terminal: failures, figures over all runs, and how often each limit is breached."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from solidify.result import SUMMARY
from solidify.study_store import VERDICT, StudyTable, load_study
from solidify.units import MINUTE, MM

__all__ = ["aligned", "sweep_text"]

_FIGURES = {
    "metallurgical_length": ("end of solidification", 1.0, "m", 1),
    "surface_at_mould_exit": ("surface at mould exit", 1.0, "°C", 0),
    "surface_at_straightener_in": ("surface at the first straightening point", 1.0, "°C", 0),
    "largest_reheating": ("largest reheating", 1.0, "K", 0),
    "specific_water": ("specific water", 1.0, "L/kg", 2),
    "throughput": ("throughput", 1 / MINUTE, "kg/min", 0),
}
"""Figures for print: words, what one unit of print is in SI, unit, decimals."""


def sweep_text(path: Path) -> str:
    """Sum up a finished study.

    Parameters
    ----------
    path : Path
        The study file.

    Returns
    -------
    str
        Plain text of several lines.

    Raises
    ------
    InputError, FileFormatError
        If it cannot be read.
    """
    table = load_study(path)
    failed = np.flatnonzero(table.columns["status"])
    runs = len(table.columns["status"])
    lines = [f"{runs} runs, {len(failed)} failed"]
    if len(failed):
        first = int(failed[0])
        lines.append(f"the first of them, run {first + 1}: {table.columns['reason'][first]}")
        lines.append("the reason of each stands in the file, under reason")
    if len(failed) < runs:
        lines += _figures(table) + _breaches(table)
    if len(table.marched_on) > 1:
        lines += ["", "marched on machines that differ, so that last digits may:", *table.marched_on]
    return "\n".join(lines)


def _figures(table: StudyTable) -> list[str]:
    """Lowest, middle and highest of the figures."""
    if not set(SUMMARY) & set(table.columns):
        return []
    rows: list[tuple[str, ...]] = [("", "lowest", "median", "highest", "")]
    place = int(np.argmin(np.abs(table.solid_fraction - 0.7)))
    shell = table.columns["shell_at_mould_exit"][:, place] / MM
    found = [("shell at mould exit, solid fraction 0.7", shell, "mm", 1)]
    found += [(w, table.columns[n] / one, unit, d) for n, (w, one, unit, d) in _FIGURES.items()]
    for words, values, unit, digits in found:
        known = values[np.isfinite(values)]
        if len(known):
            told = (f"{x:.{digits}f}" for x in (known.min(), np.median(known), known.max()))
            rows.append((words, *told, unit))
    open_still = np.isnan(table.columns["metallurgical_length"]) & (table.columns["status"] == 0)
    lines = ["", *aligned(rows)]
    if open_still.any():
        lines.append(f"not solid at the cut-off in {int(open_still.sum())} runs")
    return lines


def _breaches(table: StudyTable) -> list[str]:
    """How many of the runs judged breach each limit, with the sampling error of a random study."""
    if "verdict" not in table.columns:
        return []
    rows: list[tuple[str, ...]] = [("limit", "", "breached", "of", "share", "")]
    for i, name in enumerate(table.finding):
        verdict = table.columns["verdict"][:, i]
        judged = int(np.isin(verdict, [VERDICT[w] for w in ("kept", "close", "breached")]).sum())
        breached = int((verdict == VERDICT["breached"]).sum())
        if judged and breached:
            share = breached / judged
            error = f"± {100 * math.sqrt(share * (1 - share) / judged):.1f}" if table.random else ""
            label = table.words["finding_label"][i] or name
            hard = table.words["finding_hardness"][i]
            rows.append((label, hard, str(breached), str(judged), f"{100 * share:.1f} %", error))
    if len(rows) == 1:
        return ["", "no run breaches a limit"]
    note = ["±: one standard error of a random sample; this sampling scatters less"] if table.random else []
    return ["", *aligned(rows), *note]


def aligned(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Set rows under one another, the first column to the left, the others to the right.

    Parameters
    ----------
    rows : sequence of tuple of str
        As many cells in each.

    Returns
    -------
    list of str

    Examples
    --------
    >>> aligned([("a", "10"), ("bc", "9")])
    ['a   10', 'bc   9']
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            cell.ljust(w) if i == 0 else cell.rjust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
