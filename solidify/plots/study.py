"""What every picture of a study shares: its head and foot, and how its inputs and runs are said."""

from __future__ import annotations

import numpy as np

from solidify.answers.breaches import failures, hard_breached
from solidify.answers.quantities import input_label
from solidify.plots.heading import MARGIN
from solidify.plots.palette import GREY, SMALL, TEXT, TITLE, number
from solidify.plots.sheet import Sheet, broken, text_size
from solidify.study_store import StudyTable
from solidify.sweep_sheet import SAMPLED

__all__ = ["draw_study_footing", "draw_study_heading", "range_words", "runs_words"]


def draw_study_heading(sheet: Sheet, table: StudyTable, words: str, facts: str) -> float:
    """Write the base case, what the picture shows, and how it was had.

    Parameters
    ----------
    sheet : Sheet
        Where.
    table : StudyTable
        The study.
    words, facts : str
        The second line, and the small one below it.

    Returns
    -------
    float
        Height taken [mm].
    """
    width = sheet.width - 2 * MARGIN
    y = MARGIN
    for text, size, weight, ink, lines in (
        (table.title, TITLE, "bold", "#000000", 2),
        (words, TEXT + 0.5, "normal", "#000000", 2),
        (facts, SMALL, "normal", GREY, 4),
    ):
        told = broken(text, width, size, weight, lines=lines)
        sheet.write(MARGIN, y, told, size=size, weight=weight, color=ink)
        y += text_size(told, size, weight)[1] + 1.1
    return y


def draw_study_footing(sheet: Sheet, table: StudyTable, note: str = "") -> None:
    """Write where the picture comes from, what it is not, and a note."""
    words = [table.created_by, "computed for simplified slices, not measured; no permission to cast", note]
    text = " · ".join(word for word in words if word)
    width = sheet.width - 2 * MARGIN
    sheet.write(MARGIN, sheet.height - 1.8, broken(text, width, lines=2), va="bottom", color=GREY)


def runs_words(table: StudyTable) -> str:
    """Return how many runs there are, how they were chosen, and how many failed or breach a hard limit."""
    failed = sum(len(f.runs) for f in failures(table))
    words = [f"{table.runs} runs, {SAMPLED.get(table.sampling, table.sampling)}"]
    if failed:
        words.append(f"{failed} failed")
    if "verdict" in table.columns:
        _, beyond = hard_breached(table)
        words.append(f"{int(beyond.sum())} breach a hard limit")
    return ", ".join(words)


def range_words(table: StudyTable, name: str) -> str:
    """Return an input with the range of its values, e.g. ``"superheat 19–37 K"``."""
    values = table.inputs[name]
    if values.dtype.kind != "f":
        return f"{input_label(table, name)} ({len(set(values.tolist()))} kinds)"
    unit = table.units.get(name, "")
    low, high = number(float(np.nanmin(values))), number(float(np.nanmax(values)))
    return f"{input_label(table, name)} {low}–{high}{'' if unit in ('', '1') else f' {unit}'}"
