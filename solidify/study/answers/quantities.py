"""Quantities of a study for print: figures and findings run by run, with the limits they stand against."""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from typing import Any

import numpy as np

from solidify.analysis.compare import flattened
from solidify.errors import InputError, Problem, closest
from solidify.storage.study_file import StudyTable
from solidify.storage.study_schema import VERDICT
from solidify.strand.summary import FIGURES

__all__ = [
    "Bound",
    "Quantity",
    "base_value",
    "headline_quantities",
    "input_label",
    "input_words",
    "pressing_quantity",
    "quantity",
    "quantity_names",
    "varied",
]

_LIMITED = {
    "shell_at_mould_exit": ("shell_floor",),
    "metallurgical_length": ("last_liquid_support", "last_liquid_cutoff"),
    "centre_solid_fraction_at_straightener_in": ("liquid_core_straightener",),
    "mean_mould_heat_flux": ("mould_flux_window",),
    "largest_reheating": ("reheating_total",),
    "largest_reheating_rate": ("reheating_rate",),
    "largest_cooling_rate": ("cooling_rate",),
    "specific_water": ("specific_water",),
}
"""Figure -> the findings that judge it."""

_DECIMALS = {"mm": 1, "m": 1, "% strain": 2, "MW/m²": 2, "m/s": 1, "L/kg": 2, "1": 2, "s": 1}

_HEADLINE = ("shell_at_mould_exit", "metallurgical_length", "straightener_surface", "largest_reheating")

_TABLES = ("mould", "section", "machine")
"""Tables of the case file that are said with the key."""


@dataclass(frozen=True)
class Bound:
    """One side of a limit, where it is the same in every run.

    Parameters
    ----------
    label, hardness : str
        Of the limit.
    value : float
        In the unit of the quantity.
    sense : str
        ``"at least"`` or ``"at most"``: which side keeps it.
    """

    label: str
    hardness: str
    value: float
    sense: str


@dataclass(frozen=True)
class Quantity:
    """One figure or finding of every run.

    Parameters
    ----------
    name, label, unit : str
        Name in the file; words and unit for print, the unit empty for a ratio.
    digits : int
        Decimals for print.
    values : ndarray, shape (runs,)
        In `unit`; NaN where a run has none, for example because the centre is liquid at the cut-off.
    bounds : tuple of Bound
        The limits it stands against.
    """

    name: str
    label: str
    unit: str
    digits: int
    values: np.ndarray
    bounds: tuple[Bound, ...] = ()

    @property
    def title(self) -> str:
        """Words and unit, e.g. ``"end of solidification, m"``."""
        return f"{self.label}, {self.unit}" if self.unit else self.label


def quantity_names(table: StudyTable) -> list[str]:
    """Return the names of what a study can answer for: its figures, then its findings.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of str
        Those with a value in one run or more.
    """
    figures = [name for name in FIGURES if name in table.columns and np.isfinite(_figure(table, name)).any()]
    return list(dict.fromkeys([*figures, *(n for n in table.finding if np.isfinite(_found(table, n)).any())]))


def quantity(table: StudyTable, name: str) -> Quantity:
    """Return a figure or a finding of every run.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    name : str
        One of `quantity_names`.

    Returns
    -------
    Quantity

    Raises
    ------
    InputError
        If there is no such name, or no run has a value for it.
    """
    names = quantity_names(table)
    if name not in names:
        near = closest(name, names)
        raise InputError(Problem(name, "is no quantity of the study", ", ".join(names), near))
    if name in FIGURES and name in table.columns:
        figure = FIGURES[name]
        label = figure.label + (", solid fraction 0.7" if table.columns[name].ndim > 1 else "")
        bounds = tuple(b for n in _LIMITED.get(name, ()) for b in _bounds(table, n, name))
        return Quantity(name, label, figure.unit, figure.digits, _figure(table, name), bounds)
    place = table.finding.index(name)
    unit = table.words["finding_unit"][place]
    label = table.words["finding_label"][place]
    digits = _DECIMALS.get(unit, 0)
    return Quantity(
        name, label, "" if unit == "1" else unit, digits, _found(table, name), _bounds(table, name, name)
    )


def headline_quantities(table: StudyTable) -> list[Quantity]:
    """Return the few quantities that are shown unless others are asked for, those that vary.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of Quantity
        Hard limits stand in where no figures were kept.
    """
    names = quantity_names(table)
    hard = [
        n for n, h in zip(table.finding, table.words.get("finding_hardness", ()), strict=True) if h == "hard"
    ]
    chosen = [n for n in _HEADLINE if n in names]
    chosen = chosen if any(n in FIGURES for n in chosen) else [n for n in hard if n in names]
    found = [quantity(table, n) for n in chosen or names[:4]]
    return [q for q in found if _varies(q.values)]


def pressing_quantity(table: StudyTable) -> Quantity:
    """Return the value of the hard limit that is breached most often, or else has the least room in its scatter.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    Quantity
        The first headline quantity where no hard limit was judged.

    Raises
    ------
    InputError
        If nothing of the study varies.
    """
    ranks = []
    for i, name in enumerate(table.finding):
        margin = table.columns["margin"][:, i]
        judged = not np.isnan(margin).all()
        if judged and table.words["finding_hardness"][i] == "hard" and _varies(found := _found(table, name)):
            share = float((table.columns["verdict"][:, i] == VERDICT["breached"]).mean())
            scatter = float(np.nanstd(found)) or 1.0
            ranks.append((-share, float(np.nanmedian(margin)) / scatter, i, name))
    if ranks:
        return quantity(table, min(ranks)[-1])
    headline = headline_quantities(table)
    if not headline:
        raise InputError(Problem("the study", "no figure or finding that differs between its runs"))
    return headline[0]


def varied(table: StudyTable) -> list[str]:
    """Return the inputs that take more than one value.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.

    Returns
    -------
    list of str
        Key paths.
    """
    return [name for name, values in table.inputs.items() if _varies(values)]


def _varies(values: np.ndarray) -> bool:
    if values.dtype.kind != "f":
        return len(set(values.tolist())) > 1
    known = values[np.isfinite(values)]
    return bool(len(known)) and float(np.ptp(known)) > 1e-12 * float(np.abs(known).max())


def base_value(table: StudyTable, name: str) -> Any:
    """Return what the base case holds at a key path, None where it is left open.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    name : str
        Key path.

    Returns
    -------
    value
    """
    return flattened(tomllib.loads(table.effective)).get(name)


def input_label(table: StudyTable, name: str) -> str:
    """Return an input in words, e.g. ``"casting speed"``, ``"spray 1: water"``.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    name : str
        Key path.

    Returns
    -------
    str
    """
    path = re.findall(r'"(?:[^"\\]|\\.)*"|[^.]+', name)
    unit = table.units.get(name, "")
    end = "_" + re.sub(r"[°()² ]", lambda m: {"²": "2"}.get(m[0], ""), unit).replace("/", "_per_")
    end = {"_%": "_percent"}.get(end, end)
    key = path[-1].strip('"')
    key = key.removesuffix(end) if unit else key
    words = key.replace("_", " ").replace("per m2K", "").strip()
    if path[0] == "zone":
        return f"{path[1].strip(chr(34))}: {words}"
    if path[0] == "limits":
        return f"limit: {words}"
    if len(path) == 3 and path[1] == "composition":
        return f"{words} in the steel"
    if path[0] in _TABLES or name == "casting.speed_m_per_min":
        return f"{path[0]} {words}"
    return words


def input_words(table: StudyTable, name: str) -> str:
    """Return an input in words with its unit, e.g. ``"casting speed, m/min"``.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    name : str
        Key path.

    Returns
    -------
    str
    """
    unit = table.units.get(name, "")
    return input_label(table, name) + (f", {unit}" if unit not in ("", "1") else "")


def _figure(table: StudyTable, name: str) -> np.ndarray:
    values = table.columns[name]
    if values.ndim > 1:
        values = values[:, int(np.argmin(np.abs(table.solid_fraction - 0.7)))]
    return values / FIGURES[name].one


def _found(table: StudyTable, name: str) -> np.ndarray:
    values = table.columns["value"][:, table.finding.index(name)]
    return np.where(np.isfinite(values), values, math.nan)


def _bounds(table: StudyTable, finding: str, name: str) -> tuple[Bound, ...]:
    """Return the sides of a limit in the unit of a figure or of the finding itself, where no run moves them."""
    if finding not in table.finding:
        return ()
    place = table.finding.index(finding)
    judged = np.isin(table.columns["verdict"][:, place], [VERDICT[w] for w in ("kept", "close", "breached")])
    value = table.columns["value"][:, place]
    seen = judged & np.isfinite(value)
    if not seen.any():
        return ()
    label, hardness = (table.words[f"finding_{word}"][place] for word in ("label", "hardness"))
    found = []
    for side, sense in enumerate(("at least", "at most")):
        at = table.columns["limit"][seen, place, side]
        if name == "metallurgical_length":
            own = _figure(table, name)[seen]
            at = own * at / value[seen] if finding == "last_liquid_support" else own + value[seen] - at
        if np.isfinite(at).all() and np.ptp(at) <= 1e-6 * max(abs(float(at[0])), 1e-3):
            kept = "at most" if finding == "last_liquid_cutoff" and name != finding else sense
            found.append(Bound(label, hardness, float(at[0]), kept))
    return tuple(found)
