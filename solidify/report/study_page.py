"""The report of a study as one page of HTML that needs nothing else: pictures, shares, effects, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from solidify.errors import InputError
from solidify.plots.answers import draw_answers
from solidify.plots.embedded import svg_address
from solidify.report.document import PageTable, Picture, page_text
from solidify.report.study_text import (
    breach_rows,
    figure_rows,
    input_rows,
    interval_note,
    range_notes,
)
from solidify.storage.study_file import StudyTable
from solidify.study.answers.quantities import headline_quantities, input_label, pressing_quantity
from solidify.study.answers.sensitivity import WAYS, Effects, Indices, effects, sobol_shares, step_text
from solidify.study.answers.violations import CONFIDENCE, Failure, failures, silent_note
from solidify.study.study import SAMPLED

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["study_page"]

_FIGURES = ("", "lowest", "median", "highest", "")

_CAPTIONS = {
    "window": "Operating window over two inputs, and where the hard limits hold.",
    "line": "The one input that varies, and the limits that are crossed.",
    "spread": "Spread of the quantity that presses most on its limit, and how often each limit is breached.",
    "effects": "What each input does, the strongest first.",
    "indices": "How the scatter is shared out among the inputs.",
}


def study_page(table: StudyTable) -> str:
    """Write the report of a study.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    str
        One HTML file with its pictures inside; the same for the same study.
    """
    several = headline_quantities(table)
    try:
        figures = draw_answers(table)
        pressing = pressing_quantity(table).label
    except InputError:  # nothing differs between the runs, or all of them failed
        figures, pressing = {}, ""
    moved = [own for own in (effects(table, q) for q in several) if own.rows]
    shared = sobol_shares(table, several) if table.sampling == "sobol indices" else []
    failed = failures(table)
    count = sum(len(f.runs) for f in failed)
    return page_text(
        "study.html.j2",
        f"Study: {table.title}",
        [f"{table.runs} runs", SAMPLED.get(table.sampling, table.sampling), f"{count} failed"],
        table.created_by,
        table.created_at,
        pictures=[_picture(name, figure, pressing) for name, figure in figures.items()],
        inputs=PageTable("What varied", ("input", "values"), tuple(input_rows(table))),
        figures=PageTable(
            "Figures over all runs",
            ("", "lowest", "median", "highest", ""),
            tuple(figure_rows(table)),
            "numbers",
            " ".join(f"{text}." for text in range_notes(table)),
        ),
        violations=_breach_table(table),
        effects=[_effect_table(table, own) for own in moved],
        ways=WAYS[moved[0].kind].replace("bar:", "interval:") if moved else "",
        indices=[_index_table(table, own) for own in shared],
        failures=[_failure_words(f) for f in failed],
        case_text=table.given.rstrip("\n"),
    )


def _picture(name: str, figure: Figure, pressing: str) -> Picture:
    alt = f"{_CAPTIONS[name]} The tables of this page hold the figures."
    return Picture(
        _CAPTIONS[name] + (f" Shown: {pressing}." if name == "spread" else ""), alt, svg_address(figure)
    )


def _failure_words(failure: Failure) -> str:
    runs = ", ".join(map(str, failure.runs[:6])) + (", …" if len(failure.runs) > 6 else "")
    return f"{len(failure.runs)} (run {runs}): {failure.reason}"


def _breach_table(table: StudyTable) -> PageTable | None:
    rows = tuple((f"{r[0]}, {r[1]}", *r[2:]) for r in breach_rows(table))
    if not rows:
        return None
    head = ("limit", "breached", "of", "share", f"{100 * CONFIDENCE:.0f} % interval" if table.random else "")
    note = "; ".join(words for words in (silent_note(table), interval_note(table)) if words)
    return PageTable("How often limits are breached", head, rows, "numbers", note)


def _effect_table(table: StudyTable, found: Effects) -> PageTable:
    sample = found.kind == "sample"
    note = f"A straight law explains {100 * found.explained:.0f} % of the variance." if sample else ""
    rows = []
    for e in found.rows:
        interval = "" if np.isnan(e.low) else f"{e.low:+.3g} to {e.high:+.3g}"
        rank = f"{e.rank:+.2f}" if sample else ""
        rows.append(
            (input_label(table, e.input), step_text(table, e, found.kind), f"{e.change:+.3g}", interval, rank)
        )
    head = ("input", "step", "change", "interval", "rank correlation" if sample else "")
    return PageTable(found.quantity.title, head, tuple(rows), "numbers", note)


def _index_table(table: StudyTable, found: Indices) -> PageTable:
    rows = []
    for name, first, total in zip(found.inputs, found.first, found.total, strict=True):
        cells = [t for own in (first, total) for t in (f"{own[0]:.2f}", f"{own[1]:.2f} to {own[2]:.2f}")]
        rows.append((input_label(table, name), *cells))
    left = f", {found.left_out} left out for want of a value" if found.left_out else ""
    note = f"{found.draws} draws{left}; 95 % intervals by the bootstrap."
    return PageTable(
        found.quantity.title,
        ("input", "alone", "interval", "in all", "interval"),
        tuple(rows),
        "numbers",
        note,
    )
