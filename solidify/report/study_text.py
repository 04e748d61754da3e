"""What a study says in words: runs, failures, figures, how often each limit is breached, and what moves what."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np

from solidify.heat.spray import relation
from solidify.report.text import columns, listed, page, wrapped
from solidify.storage.study_file import StudyTable, load_study
from solidify.study.answers.quantities import (
    headline_quantities,
    input_label,
    quantity,
    quantity_names,
    varied,
)
from solidify.study.answers.sensitivity import (
    WAYS,
    Effects,
    Indices,
    effects,
    sobol_shares,
    step_text,
)
from solidify.study.answers.violations import CONFIDENCE, failures, silent_note, violations
from solidify.study.study import SAMPLED

__all__ = [
    "breach_rows",
    "effects_text",
    "figure_rows",
    "input_rows",
    "interval_note",
    "outside_text",
    "range_notes",
    "study_text",
    "sweep_text",
]

_FIGURES = (
    "shell_at_mould_exit",
    "metallurgical_length",
    "surface_at_mould_exit",
    "surface_at_straightener_in",
    "largest_reheating",
    "specific_water",
    "throughput",
)
"""Figures for print."""

_REASONS = 5
"""Reasons of failures that are listed."""

_ABOUT_INTERVALS = (
    "interval: as exact for independent runs (Clopper and Pearson); samples that fill the space evenly, like these, "
    "scatter less as a rule"
)


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
    return page(_summary(load_study(path)))


def study_text(table: StudyTable) -> str:
    """Sum up a study and say what moves what.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    str
        Plain text of several lines.
    """
    inputs = [f"{name}: {values}" for name, values in input_rows(table)]
    head, *rest = _summary(table)
    return page([[table.title], head, listed("varied", inputs), *rest, *effects_text(table)])


def _summary(table: StudyTable) -> list[list[str]]:
    failed = failures(table)
    count = sum(len(f.runs) for f in failed)
    sampled = SAMPLED.get(table.sampling, table.sampling)
    head = [f"{table.runs} runs, {count} failed; {sampled}"]
    reasons = [f"{len(f.runs)}, run {f.runs[0]} first: {f.reason}" for f in failed[:_REASONS]]
    if len(failed) > _REASONS:
        reasons.append(f"and {len(failed) - _REASONS} reasons more, in the file under reason")
    blocks = [head, listed("failed", reasons)]
    if count < table.runs:
        blocks += [_figures(table), _breaches(table)]
        blocks.append([line for text in range_notes(table) for line in wrapped(text)])
    if len(table.marched_on) > 1:
        blocks.append(listed("marched on machines that differ, so that last digits may:", table.marched_on))
    return blocks


def input_rows(table: StudyTable) -> list[tuple[str, ...]]:
    """Return each input in words with the values it takes.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of tuple of str
    """
    moved = varied(table)
    rows: list[tuple[str, ...]] = [(input_label(table, name), _span(table, name)) for name in moved]
    return rows + [(input_label(table, n), "the same in every run") for n in table.inputs if n not in moved]


def _span(table: StudyTable, name: str) -> str:
    values = table.inputs[name]
    unit = table.units.get(name, "")
    kinds = list(dict.fromkeys(values.tolist()))
    if values.dtype.kind != "f":
        return ", ".join(str(v) for v in kinds[:8]) + (
            f" and {len(kinds) - 8} more" if len(kinds) > 8 else ""
        )
    low, high = np.nanmin(values), np.nanmax(values)
    told = f"{low:.4g} to {high:.4g}{'' if unit in ('', '1') else f' {unit}'}"
    return told + ("" if table.random else f", {len(kinds)} values")


def figure_rows(table: StudyTable) -> list[tuple[str, ...]]:
    """Return label, lowest, median, highest and unit of the figures.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of tuple of str
        Empty when the summary was not kept.
    """
    known = [name for name in quantity_names(table) if name in table.columns]
    rows: list[tuple[str, ...]] = []
    for name in (name for name in _FIGURES if name in known):
        own = quantity(table, name)
        values = own.values[np.isfinite(own.values)]
        told = (f"{x:.{own.digits}f}" for x in (values.min(), np.median(values), values.max()))
        rows.append((own.label, *told, own.unit))
    return rows


def _figures(table: StudyTable) -> list[str]:
    """Lowest, middle and highest of the figures."""
    rows = figure_rows(table)
    if not rows:
        return []
    lines = columns([("", "lowest", "median", "highest", ""), *rows], "lrrrl")
    open_still = np.isnan(table.columns["metallurgical_length"]) & (table.columns["status"] == 0)
    if open_still.any():
        lines.append(f"not solid at the cut-off in {int(open_still.sum())} runs")
    return lines


def breach_rows(table: StudyTable) -> list[tuple[str, ...]]:
    """Return label, hardness, runs breached, runs judged, share and interval of limits that are breached.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of tuple of str
        The interval is empty where the runs were not drawn.
    """
    rows: list[tuple[str, ...]] = []
    for b in violations(table):
        if b.breached:
            interval = f"{100 * b.low:.1f} to {100 * b.high:.1f} %" if table.random else ""
            told = (str(b.breached), str(b.judged), f"{100 * b.share:.1f} %", interval)
            rows.append((b.label, b.hardness, *told))
    return rows


def _breaches(table: StudyTable) -> list[str]:
    """How many of the runs judged breach each limit, with the sampling error of a random study."""
    if "verdict" not in table.columns:
        return []
    rows = breach_rows(table)
    silent = wrapped(silent_note(table))
    if not rows:
        return ["no run breaches a limit", *silent]
    interval = f"{100 * CONFIDENCE:.0f} % interval" if table.random else ""
    lines = columns([("limit", "", "breached", "of", "share", interval), *rows], "llrrrr")
    return [*lines, *silent, *wrapped(interval_note(table))]


def range_notes(table: StudyTable) -> list[str]:
    """Say of each spray relation in how many runs it is used outside its range.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of str
        A sentence a relation; empty where all runs lie inside, or the file is older and does not say.
    """
    told = table.columns.get("outside_range", ())
    count = table.runs - sum(len(f.runs) for f in failures(table))
    names = Counter(name for own in told for name in str(own).split("; ") if name)
    return [outside_text(name, times, count) for name, times in sorted(names.items())]


def outside_text(name: str, times: int, runs: int) -> str:
    """Say in how many runs a spray relation is used outside its range.

    Parameters
    ----------
    name : str
        Of the relation.
    times, runs : int
        Runs outside, and all.

    Returns
    -------
    str
    """
    r = relation(name)
    water, surface = (f"{low:g} to {high:g}" for low, high in (r.water_flux_range, r.surface_range))
    return (
        f"{name} is used outside its range in {times} of {runs} runs: made for {water} L/(m² s) and a surface of "
        f"{surface} °C; extrapolated or held there"
    )


def interval_note(table: StudyTable) -> str:
    """Say what the intervals of shares are; empty where the runs were not drawn.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    str
    """
    return _ABOUT_INTERVALS if table.random else ""


def effects_text(table: StudyTable) -> list[list[str]]:
    """Say what moves the headline quantities, with Sobol indices where the study was sampled for them.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of list of str
        Blocks of lines.
    """
    several = headline_quantities(table)
    found = [own for own in (effects(table, q) for q in several) if own.rows]
    blocks = [_effect_lines(table, own) for own in found]
    if found:
        blocks.append(wrapped(WAYS[found[0].kind].replace("bar:", "interval:")))
        words = list(dict.fromkeys(n for own in found for n in own.left_out))
        if words:
            blocks.append(
                wrapped(f"left out, being words: {', '.join(input_label(table, n) for n in words)}")
            )
    if table.sampling == "sobol indices":
        blocks += [_index_lines(table, own) for own in sobol_shares(table, several)]
    return blocks


def _effect_lines(table: StudyTable, found: Effects) -> list[str]:
    sample = found.kind == "sample"
    digits = 2 + max(2 - found.quantity.digits, 0) - (2 if found.quantity.digits == 0 else 0)
    rows: list[tuple[str, ...]] = [("", "step", "change", "interval", "rank" if sample else "")]
    for e in found.rows:
        interval = "" if np.isnan(e.low) else f"{e.low:+.{digits}f} to {e.high:+.{digits}f}"
        rank = f"{e.rank:+.2f} ({e.rank_low:+.2f} to {e.rank_high:+.2f})" if sample else ""
        step = step_text(table, e, found.kind)
        rows.append((input_label(table, e.input), step, f"{e.change:+.{digits}f}", interval, rank))
    head = f"what moves: {found.quantity.title}"
    if sample:
        head += f"; a straight law explains {100 * found.explained:.0f} %"
    return [head, *columns(rows, "wrrrr", indent="  ")]


def _index_lines(table: StudyTable, found: Indices) -> list[str]:
    rows: list[tuple[str, ...]] = [("", "alone", "interval", "in all", "interval")]
    for name, first, total in zip(found.inputs, found.first, found.total, strict=True):
        cells = [t for own in (first, total) for t in (f"{own[0]:.2f}", f"{own[1]:.2f} to {own[2]:.2f}")]
        rows.append((input_label(table, name), *cells))
    draws = f"{found.draws} draws" + (f", {found.left_out} left out" if found.left_out else "")
    head = f"Sobol indices: {found.quantity.title}; {draws}, 95 % intervals by the bootstrap"
    return [head, *columns(rows, "wrrrr", indent="  ")]
