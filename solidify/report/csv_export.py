"""The runs of a study, and what moves what, as tables for a spreadsheet: CSV with the units in the header."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from solidify.report.spreadsheet import table_text
from solidify.storage.study_file import StudyTable
from solidify.storage.study_schema import BREAKOUT, STATUS, VERDICT
from solidify.strand.summary import FIGURES
from solidify.study.answers.quantities import quantity, quantity_names
from solidify.study.answers.sensitivity import Indices, InputEffect, effects, sobol_shares

__all__ = ["effects_csv", "runs_csv"]

_CODES = {"status": STATUS, "verdict": VERDICT, "breakout_risk": BREAKOUT}


def runs_csv(table: StudyTable) -> str:
    """Write a line a run.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    str
        CSV. Inputs stand under their key paths, whose last key names the unit, so that these columns are the table
        of another study; whatever was computed carries the name it has in the file, in plant units. Limits that the
        case does not have are left out; a cell is empty where a run has no value. Ten significant figures.
    """
    heads: list[str] = ["run", *table.inputs]
    cells: list[Sequence[Any]] = [range(1, table.runs + 1)]
    cells += [_texts(values) for values in table.inputs.values()]
    plain = {n: v for n, v in table.columns.items() if n not in ("verdict", "value", "margin", "limit")}
    for name, found in plain.items():
        figure = FIGURES.get(name)
        known = (figure.unit or "1") if figure else table.units.get(name, "")
        values = found / figure.one if figure else found
        unit = f" [{known}]" if known else ""
        if values.ndim == 1:
            heads.append(name + unit)
            cells.append(_texts(values, name))
            continue
        for fraction, own in zip(table.solid_fraction, values.T, strict=True):
            heads.append(f"{name} at solid fraction {fraction:g}{unit}")
            cells.append(_texts(own))
    for i, name in enumerate(table.finding):
        verdict = table.columns["verdict"][:, i]
        if (verdict == VERDICT["no such limit"]).all():
            continue
        unit = f" [{table.words['finding_unit'][i]}]"
        heads += [f"{name} verdict", f"{name} value{unit}", f"{name} room{unit}"]
        cells += [_texts(verdict, "verdict"), *(_texts(table.columns[n][:, i]) for n in ("value", "margin"))]
        for side, word in enumerate(("at least", "at most")):
            limit = table.columns["limit"][:, i, side]
            if not np.isnan(limit).all():
                heads.append(f"{name} {word}{unit}")
                cells.append(_texts(limit))
    return table_text([heads, *zip(*cells, strict=True)])


def _texts(values: np.ndarray, name: str = "") -> list[str]:
    """Return the cells of a column: words for codes, nothing for what is not known."""
    if name in _CODES:
        words = {number: word for word, number in _CODES[name].items()}
        return [words[int(v)] for v in values]
    if values.dtype.kind != "f":
        return [str(v) for v in values.tolist()]
    return ["" if math.isnan(v) else f"{v:.10g}" for v in values.tolist()]


_EFFECT = ("from", "to", "change", "low", "high", "rank_correlation", "rank_low", "rank_high")
_INDEX = ("first_order", "first_order_low", "first_order_high", "total", "total_low", "total_high")


def effects_csv(table: StudyTable) -> str:
    """Write what each input does to every quantity of a study.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    str
        CSV: a line for each quantity and input that varies, quantities in plant units; with Sobol indices where
        the study was sampled for them.
    """
    quantities = [quantity(table, name) for name in quantity_names(table)]
    shared = {}
    if table.sampling == "sobol indices":
        shared = {i.quantity.name: i for i in sobol_shares(table, quantities)}
    rows: list[Sequence[Any]] = [("quantity", "unit", "input", "way", *_EFFECT, *(_INDEX if shared else ()))]
    for own in quantities:
        found = effects(table, own)
        moved = {e.input: e for e in found.rows}
        indices = shared.get(own.name)
        for name in table.inputs:
            if name in moved or indices is not None:
                cells = [*_effect_cells(moved.get(name)), *(_index_cells(indices, name) if shared else ())]
                rows.append((own.name, own.unit or "1", name, found.kind, *cells))
    return table_text(rows)


def _effect_cells(effect: InputEffect | None) -> list[str]:
    if effect is None:
        return [""] * len(_EFFECT)
    ends = [v if isinstance(v, str) else f"{v:.6g}" for v in (effect.start, effect.end)]
    numbers = (effect.change, effect.low, effect.high, effect.rank, effect.rank_low, effect.rank_high)
    return ends + ["" if math.isnan(v) else f"{v:.6g}" for v in numbers]


def _index_cells(found: Indices | None, name: str) -> list[str]:
    if found is None:
        return [""] * len(_INDEX)
    place = found.inputs.index(name)
    return [f"{v:.4f}" for v in (*found.first[place], *found.total[place])]
