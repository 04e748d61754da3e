"""A steel from one's own property file, TOML or CSV, every column with its unit in its name."""

from __future__ import annotations

import math
import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from solidify.csv_table import csv_number, csv_table
from solidify.errors import InputError, Notice, Problem, closest
from solidify.files import read_words
from solidify.sources import EVIDENCE
from solidify.steel.coefficients import entries
from solidify.steel.curve import BOTTOM, TOP, Steel, distinct_kinks, merged_temperatures
from solidify.steel.own_data import steel_from_numbers
from solidify.steel.path import LEAST_RANGE
from solidify.steel.properties import pool_factor, stirred_limits, stirring_problems
from solidify.units import KJ, ZERO_CELSIUS

__all__ = ["COLUMNS", "steel_from_file", "steel_from_text"]

_SPARSE = 200.0
"""Distance between rows from which a notice is given [K]."""

_MANY = 60
"""Rows up to which every row counts as a kink."""


@dataclass(frozen=True)
class _Column:
    """One column a file may have: quantity, how to reach SI, and what is allowed there."""

    quantity: str
    factor: float = 1.0
    shift: float = 0.0
    low: float = -math.inf
    high: float = math.inf
    unit: str = ""


COLUMNS = {
    "temperature_C": _Column("temperature", low=-100.0, high=3000.0, unit="°C"),
    "temperature_K": _Column("temperature", shift=-ZERO_CELSIUS, low=173.15, high=3273.15, unit="K"),
    "enthalpy_kJ_per_kg": _Column("enthalpy", KJ, unit="kJ/kg"),
    "enthalpy_J_per_kg": _Column("enthalpy", unit="J/kg"),
    "conductivity_W_per_mK": _Column("conductivity", low=1.0, high=500.0, unit="W/(m K)"),
    "solid_fraction": _Column("solid_fraction", low=0.0, high=1.0),
    "density_kg_per_m3": _Column("density", low=5000.0, high=9000.0, unit="kg/m³"),
    "density_g_per_cm3": _Column("density", 1000.0, low=5.0, high=9.0, unit="g/cm³"),
}
"""Columns a property file may have, by name."""

_QUANTITIES = tuple(dict.fromkeys(column.quantity for column in COLUMNS.values()))
_NUMBERS = {
    "liquidus_C": ("liquidus", 1.0),
    "solidus_C": ("solidus", 1.0),
    "latent_heat_kJ_per_kg": ("latent_heat", KJ),
    "density_kg_per_m3": ("density", 1.0),
    "specific_heat_J_per_kgK": ("specific_heat", 1.0),
    "conductivity_W_per_mK": ("conductivity", 1.0),
    "liquid_specific_heat_J_per_kgK": ("liquid_specific_heat", 1.0),
    "liquid_conductivity_W_per_mK": ("liquid_conductivity", 1.0),
}
_RANGES = {
    "liquidus_C": (900.0, 1700.0, "°C"),
    "solidus_C": (800.0, 1700.0, "°C"),
    "latent_heat_kJ_per_kg": (50.0, 500.0, "kJ/kg"),
    "density_kg_per_m3": (5000.0, 9000.0, "kg/m³"),
    "specific_heat_J_per_kgK": (200.0, 5000.0, "J/(kg K)"),
    "conductivity_W_per_mK": (1.0, 200.0, "W/(m K)"),
    "liquid_specific_heat_J_per_kgK": (200.0, 5000.0, "J/(kg K)"),
    "liquid_conductivity_W_per_mK": (1.0, 200.0, "W/(m K)"),
}
"""Ranges of the same keys in a case file."""

_OPTIONAL = ("liquid_specific_heat_J_per_kgK", "liquid_conductivity_W_per_mK")
_HEAT = (300.0, 3000.0)
"""What the heat from 20 degC to the liquidus may be [kJ/kg]; outside, the unit is wrong."""


def steel_from_file(
    path: str | os.PathLike[str],
    *,
    liquid_conductivity_factor: float = 5.0,
    stirred_liquid_fraction: tuple[float, float] | None = None,
) -> Steel:
    """Return a steel from a property file.

    Parameters
    ----------
    path : str or path-like
        ``.csv``: a header of column names, then rows of rising temperature; lines that begin with ``#`` are
        remarks. ``.toml``: the same columns as arrays under ``[table]``, or the keys of one's own numbers of
        a case file (``liquidus_C``, ``latent_heat_kJ_per_kg``, ...).
    liquid_conductivity_factor : float
        What stirring multiplies the conductivity of the open pool by, 1 to 50 [1]. Give 1 if the file's
        conductivity has it already.
    stirred_liquid_fraction : (float, float), optional
        Liquid fraction up to which nothing is stirred, and from which all is [1]; default 0.8 and 1.0.

    Returns
    -------
    Steel

    Raises
    ------
    InputError
        With everything that is wrong, row by row.

    Notes
    -----
    Columns: ``temperature_C`` or ``temperature_K``; ``enthalpy_kJ_per_kg`` or ``enthalpy_J_per_kg`` with the
    latent heat in it; ``conductivity_W_per_mK``; ``solid_fraction``; ``density_kg_per_m3`` or
    ``density_g_per_cm3``. All five quantities are needed. Between rows every column is a straight line;
    beyond the rows enthalpy keeps its slope and the rest its value.
    """
    text = read_words(path, "property file")
    return steel_from_text(
        text,
        Path(path).name,
        liquid_conductivity_factor=liquid_conductivity_factor,
        stirred_liquid_fraction=stirred_liquid_fraction,
    )


def steel_from_text(
    text: str,
    name: str,
    *,
    liquid_conductivity_factor: float = 5.0,
    stirred_liquid_fraction: tuple[float, float] | None = None,
) -> Steel:
    """Return a steel from the text of a property file, as `steel_from_file`.

    Parameters
    ----------
    text : str
        What stands in the file.
    name : str
        Of the file: its ending tells what it is.
    liquid_conductivity_factor, stirred_liquid_fraction
        As in `steel_from_file` [1].

    Returns
    -------
    Steel

    Raises
    ------
    InputError
        With everything that is wrong, row by row.
    """
    problems: list[Problem] = []
    ending = Path(name).suffix.lower()
    problems += stirring_problems(liquid_conductivity_factor, stirred_liquid_fraction)
    stirring = (liquid_conductivity_factor, stirred_limits(stirred_liquid_fraction))
    if ending == ".csv":
        table = _read_csv(text, name, problems)
    elif ending == ".toml":
        content = _read_toml(text, name)
        if "table" not in content:
            return _from_keys(content, name, problems, stirring)
        table = _read_table(content, name, problems)
    else:
        raise InputError(Problem(name, f"a file that ends in {ending!r}", ".csv or .toml"))
    rows = _checked(table, problems)
    if problems:
        raise InputError(sorted(problems, key=lambda problem: _line(problem.where)))
    return _assembled(rows, name, stirring)


def _line(where: str) -> int:
    """Return the line a problem names, 0 without one."""
    found = re.search(r":(\d+)\b", where) or re.search(r"row (\d+)", where)
    return int(found.group(1)) if found else 0


@dataclass(frozen=True)
class _Table:
    """Columns as read, one place for each row."""

    name: str
    columns: dict[str, list[float]]
    places: list[str]


def _read_csv(text: str, name: str, problems: list[Problem]) -> _Table:
    """Return the columns of a CSV file; a cell that is no number becomes NaN and a problem."""
    empty = Problem(name, "an empty file", "a header of column names and rows of numbers")
    table = csv_table(text, name, COLUMNS, empty)
    header = table.header
    places = [f"{name}:{i}" for i, _ in table.rows]
    columns: dict[str, list[float]] = {key: [] for key in header}
    for twice in sorted({key for key in header if header.count(key) > 1}):
        problems.append(Problem(f"{name}:{table.line}", f"column {twice} stands twice", do="keep one"))
    for place, (_, cells) in zip(places, table.rows, strict=True):
        if len(cells) != len(header):
            do = "with decimal commas, part the cells by semicolons" if table.separator == "," else ""
            problems.append(
                Problem(place, f"{len(cells)} cells", f"{len(header)} cells, one for each column", do=do)
            )
        for key, cell in zip(header, [*cells, *[""] * len(header)], strict=False):
            columns[key].append(_number(cell, f"{place} {key}", problems, table.advice(cell)))
    return _Table(f"{name}:{table.line}", columns, places)


def _number(cell: str, where: str, problems: list[Problem], do: str = "") -> float:
    value = csv_number(cell)
    if math.isnan(value):
        problems.append(Problem(where, cell.strip() or "a gap", "a number", do=do))
    return value


def _read_toml(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(Problem(name, str(error), do="correct the TOML")) from error


def _read_table(content: Mapping[str, Any], name: str, problems: list[Problem]) -> _Table:
    """Return the columns of ``[table]``."""
    for key in sorted(set(content) - {"table", "title", "source"}):
        problems.append(
            Problem(f"{name}: {key}", "an unknown key", "title, source, [table]", closest(key, COLUMNS))
        )
    given = content["table"]
    if not isinstance(given, dict) or not given:
        raise InputError(Problem(f"{name}: [table]", repr(given), "arrays of numbers: " + ", ".join(COLUMNS)))
    lengths = {key: len(value) for key, value in given.items() if isinstance(value, list)}
    longest = max(lengths.values(), default=0)
    columns = {}
    for key, value in given.items():
        if not isinstance(value, list):
            problems.append(Problem(f"{name}: [table] {key}", repr(value), "an array of numbers"))
            continue
        if len(value) != longest:
            problems.append(
                Problem(f"{name}: [table] {key}", f"{len(value)} values", f"{longest}, as the others")
            )
        cells = ["" if isinstance(v, bool) else str(v) for v in value] + [""] * (longest - len(value))
        silent: list[Problem] = [] if len(value) != longest else problems
        columns[key] = [_number(c, f"{name}: [table] {key} row {i}", silent) for i, c in enumerate(cells, 1)]
    return _Table(f"{name}: [table]", columns, [f"{name}: [table] row {i + 1}" for i in range(longest)])


def _from_keys(
    content: Mapping[str, Any],
    name: str,
    problems: list[Problem],
    stirring: tuple[float, tuple[float, float]],
) -> Steel:
    """Return a steel from the keys of one's own numbers."""
    allowed = {*_NUMBERS, "title", "source"}
    for key in content:
        if key not in allowed:
            where = f"{name}: {key}"
            problems.append(
                Problem(where, "an unknown key", ", ".join([*_NUMBERS, "[table]"]), closest(key, allowed))
            )
    for key in _NUMBERS:
        if key not in content and key not in _OPTIONAL:
            problems.append(Problem(f"{name}: {key}", "nothing", do="give it, or a [table]"))
    if problems:
        raise InputError(problems)
    far = {key: list(_out_of_range(key, value, name)) for key, value in content.items()}
    scaled = {}
    for key, value in content.items():
        if key in _NUMBERS:
            argument, scale = _NUMBERS[key]
            plain = isinstance(value, int | float) and not isinstance(value, bool)
            scaled[argument] = value * scale if plain else value
    try:
        factor, stirred = stirring
        steel = steel_from_numbers(
            **scaled, liquid_conductivity_factor=factor, stirred_liquid_fraction=stirred
        )
    except InputError as error:
        keys = {argument: key for key, (argument, _) in _NUMBERS.items()}
        problems = [_renamed(problem, name, keys) for problem in error.problems]
        told = {problem.where.partition(": ")[2].split()[0] for problem in problems}
        problems += [problem for key, found in far.items() if key not in told for problem in found]
    else:
        problems = [problem for found in far.values() for problem in found]
    if problems:
        raise InputError(problems)
    return steel


def _out_of_range(key: str, value: Any, name: str) -> Iterator[Problem]:
    """Hold a number, or each of a table over the temperature, to the range that a case file has for it."""
    if key not in _RANGES:
        return
    low, high, unit = _RANGES[key]
    rows = value if isinstance(value, list) else [[0.0, value]]
    for row in rows:
        number = row[-1] if isinstance(row, list) and row else row
        if isinstance(number, int | float) and not isinstance(number, bool) and not low <= number <= high:
            yield Problem(
                f"{name}: {key}", f"{number:g} {unit}", f"{low:g} to {high:g} {unit}", do="check the unit"
            )


def _renamed(problem: Problem, name: str, keys: Mapping[str, str]) -> Problem:
    """Return a problem that names the file's key instead of the argument."""
    first, _, rest = problem.where.partition(" ")
    where = f"{name}: {keys.get(first, first)} {rest}".rstrip()
    return Problem(where, problem.given, problem.allowed, problem.closest, problem.do)


def _checked(table: _Table, problems: list[Problem]) -> dict[str, np.ndarray]:
    """Return the quantities in SI, noting what is missing, unknown, out of bounds or out of order."""
    found: dict[str, np.ndarray] = {}
    keys: dict[str, str] = {}
    for key, values in table.columns.items():
        column = COLUMNS.get(key)
        if column is None:
            listed = ", ".join(COLUMNS)
            problems.append(
                Problem(f"{table.name} {key}", "an unknown column", listed, closest(key, COLUMNS))
            )
            continue
        if column.quantity in found:
            problems.append(
                Problem(f"{table.name} {key}", f"{keys[column.quantity]} is there too", do="keep one")
            )
            continue
        for place, value in zip(table.places, values, strict=False):
            if not (math.isnan(value) or column.low <= value <= column.high):
                allowed = f"{column.low:g} to {column.high:g} {column.unit}".strip()
                problems.append(Problem(f"{place} {key}", f"{value:g} {column.unit}".strip(), allowed))
        keys[column.quantity] = key
        found[column.quantity] = column.factor * (np.array(values) + column.shift)
    for quantity in _QUANTITIES:
        if quantity not in found:
            names = [key for key, column in COLUMNS.items() if column.quantity == quantity]
            problems.append(
                Problem(table.name, f"no column of {quantity.replace('_', ' ')}", " or ".join(names))
            )
    if len(table.places) < 3:
        problems.append(Problem(table.name, f"{len(table.places)} rows", "3 rows or more"))
    else:
        _order(table, found, keys, problems)
    return found


def _order(
    table: _Table, found: Mapping[str, np.ndarray], keys: Mapping[str, str], problems: list[Problem]
) -> None:
    """Note rows that do not rise or fall as they must, and a freezing range or a heat that cannot be."""
    rules = (
        ("temperature", 1, "above the row before", "sort the rows; where tables overlap keep one"),
        ("enthalpy", 1, "above the row before", "the latent heat belongs into the enthalpy"),
        ("solid_fraction", -1, "at most that of the row before", "1 is solid, 0 is liquid"),
    )
    for quantity, sense, allowed, do in rules:
        if quantity not in found:
            continue
        steps = sense * np.diff(found[quantity])
        values = table.columns[keys[quantity]]
        for i in np.flatnonzero(steps <= 0.0 if sense > 0 else steps < 0.0):
            place = f"{table.places[i + 1]} {keys[quantity]}"
            problems.append(Problem(place, f"{values[i + 1]:g} after {values[i]:g}", allowed, do=do))
    if problems:
        return
    t, fs, h = found["temperature"], found["solid_fraction"], found["enthalpy"]
    if fs[0] != 1.0 or fs[-1] != 0.0:
        problems.append(
            Problem(f"{table.name} solid_fraction", f"{fs[0]:g} to {fs[-1]:g}", "from 1 (cold) to 0 (hot)")
        )
        return
    solidus, liquidus = t[np.flatnonzero(fs == 1.0)[-1]], t[np.flatnonzero(fs == 0.0)[0]]
    if liquidus - solidus < LEAST_RANGE:
        given = f"a freezing range of {liquidus - solidus:.3g} K"
        problems.append(
            Problem(f"{table.name} solid_fraction", given, f"{LEAST_RANGE} K or more", do="widen it")
        )
    cold, hot = np.interp([BOTTOM, liquidus], t, h)
    heat = (hot - cold) / KJ * (liquidus - BOTTOM) / (liquidus - max(t[0], BOTTOM))
    if not _HEAT[0] <= heat <= _HEAT[1]:
        given = f"{heat:.4g} kJ/kg from {BOTTOM:g} °C to the liquidus"
        allowed = f"{_HEAT[0]:g} to {_HEAT[1]:g} kJ/kg"
        problems.append(Problem(f"{table.name} {keys['enthalpy']}", given, allowed, do="check the unit"))


def _extended(t: np.ndarray, h: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Return enthalpy at temperatures, with its end slopes beyond the rows."""
    inside = np.interp(at, t, h)
    below = np.minimum(at - t[0], 0.0) * (h[1] - h[0]) / (t[1] - t[0])
    above = np.maximum(at - t[-1], 0.0) * (h[-1] - h[-2]) / (t[-1] - t[-2])
    return inside + below + above


def _assembled(
    rows: Mapping[str, np.ndarray], name: str, stirring: tuple[float, tuple[float, float]]
) -> Steel:
    """Return the curve of checked rows."""
    factor, stirred = stirring
    t, h, fs = rows["temperature"], rows["enthalpy"], rows["solid_fraction"]
    solidus, liquidus = float(t[np.flatnonzero(fs == 1.0)[-1]]), float(t[np.flatnonzero(fs == 0.0)[0]])
    span = liquidus - solidus
    top = max(TOP, liquidus + 100.0)
    ramp = np.interp(np.array(stirred) - 1.0, -fs, t)
    knots = np.concatenate((_breaks(t, h), ramp))
    kinks = distinct_kinks(knots[(knots > BOTTOM) & (knots < top)], (solidus, liquidus))
    inside = solidus + span * 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 81)))
    temperature = merged_temperatures(kinks, np.concatenate((t, inside)), top)
    enthalpy = _extended(t, h, temperature)
    fraction, conductivity, density = (
        np.interp(temperature, t, rows[q]) for q in ("solid_fraction", "conductivity", "density")
    )
    conductivity *= fraction + (1.0 - fraction) * pool_factor(fraction, factor, stirred)
    hot = {n: x for n, x in entries("segregation")["hot_strength"].items() if isinstance(x, float)}
    at_solidus = float(np.interp(solidus, t, rows["density"]))
    steel = Steel(
        temperature=temperature,
        enthalpy=enthalpy - enthalpy[0],
        conductivity=conductivity,
        solid_fraction=fraction,
        density=density,
        shrinkage=np.cbrt(at_solidus / density) - 1.0,
        kinks=kinks,
        liquidus=liquidus,
        solidus=solidus,
        march_density=at_solidus,
        latent_heat=_latent(t, h, fs, solidus, liquidus),
        temperatures={n: float(np.interp(-x, -fs, t)) for n, x in hot.items()},
        path_model=f"table {name}",
        evidence={"properties": ("user", EVIDENCE["user"])},
        notices=_notices(t, name, factor),
    )
    return steel


def _latent(t: np.ndarray, h: np.ndarray, fs: np.ndarray, solidus: float, liquidus: float) -> float:
    """Return the enthalpy of the freezing range less its sensible heat, specific heats taken at its ends."""
    i, j = int(np.flatnonzero(fs == 1.0)[-1]), int(np.flatnonzero(fs == 0.0)[0])
    solid = (h[i] - h[i - 1]) / (t[i] - t[i - 1]) if i > 0 else 0.0
    liquid = (h[j + 1] - h[j]) / (t[j + 1] - t[j]) if j + 1 < len(t) else solid
    mean = np.trapezoid(fs[i : j + 1], t[i : j + 1])
    return float(h[j] - h[i] - solid * mean - liquid * (liquidus - solidus - mean))


def _breaks(t: np.ndarray, h: np.ndarray) -> np.ndarray:
    """Return the rows where a slope breaks: all of a short table, the sharp ones of a long table."""
    if len(t) <= _MANY:
        return t
    slope = np.diff(h) / np.diff(t)
    sharp = np.abs(np.diff(slope)) > 0.2 * np.minimum(slope[1:], slope[:-1])
    return t[1:-1][sharp]


def _notices(t: np.ndarray, name: str, factor: float) -> tuple[Notice, ...]:
    found = []
    for i in np.flatnonzero(np.diff(t) > _SPARSE):
        text = f"no row between {t[i]:g} and {t[i + 1]:g} °C: a straight line is taken"
        found.append(Notice(text, name))
    if t[0] > BOTTOM + 1e-6 or t[-1] < TOP - 200.0:
        text = (
            f"rows run from {t[0]:g} to {t[-1]:g} °C: beyond, enthalpy keeps its slope and the rest its value"
        )
        found.append(Notice(text, name))
    if factor != 1.0:
        text = (
            f"the liquid's conductivity is multiplied by up to {factor:g} for stirring; 1 leaves it as it is"
        )
        found.append(Notice(text, name))
    return tuple(found)
