"""What every picture of a study shares: its head and foot, and how its inputs and runs are said."""

from __future__ import annotations

import numpy as np

from solidify.plots.heading import write_footing, write_heading
from solidify.plots.palette import number
from solidify.plots.sheet import Sheet
from solidify.storage.study_file import StudyTable
from solidify.study.answers.quantities import input_label
from solidify.study.answers.violations import failures, hard_violated
from solidify.study.study import SAMPLED

__all__ = ["draw_study_footing", "draw_study_heading", "range_words", "runs_words"]


def draw_study_heading(sheet: Sheet, table: StudyTable, words: str, facts: str) -> float:
    """Write the base case, what the picture shows, and how it was had; returns the height taken [mm]."""
    return write_heading(sheet, table.title, words, [facts])


def draw_study_footing(sheet: Sheet, table: StudyTable, note: str = "") -> None:
    """Write where the picture comes from, what it is not, and a note."""
    caution = "computed for simplified slices, not measured; no permission to cast"
    write_footing(sheet, table.created_by, caution, note)


def runs_words(table: StudyTable) -> str:
    """Return how many runs there are, how they were chosen, and how many failed or breach a hard limit."""
    failed = sum(len(f.runs) for f in failures(table))
    words = [f"{table.runs} runs, {SAMPLED.get(table.sampling, table.sampling)}"]
    if failed:
        words.append(f"{failed} failed")
    if "verdict" in table.columns:
        _, beyond = hard_violated(table)
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
