"""Measured points of a strand: read from a table, and set against what was computed."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from solidify.case import Case
from solidify.case.synonyms import SYNONYMS
from solidify.csv_table import csv_number, csv_table
from solidify.errors import InputError, Problem, closest
from solidify.files import read_words
from solidify.sources import EVIDENCE, load_data
from solidify.strand.result import Result
from solidify.units import MM

__all__ = [
    "COLUMNS",
    "Agreement",
    "Deviation",
    "Point",
    "agreements",
    "deviations",
    "method_words",
    "read_points",
]

COLUMNS = {
    "distance_m": "along the strand, from where the case counts: the meniscus or the mould top",
    "quantity": "surface_C or shell_mm",
    "value": "in the unit of the quantity",
    "sd": "one standard deviation, in the unit of the quantity; may be empty",
    "method": "pyrometer, thermocouple, tracer, nail or drained shell; for a shell it says the solid fraction",
    "solid_fraction": "of the edge that was measured, above 0 to 1; for a shell, in place of what the method says",
    "side": "loose (inner) or fixed (outer), where the two are cooled differently",
    "note": "anything",
}
"""Columns of a table of points and what they hold; the first three must be there."""

REQUIRED = ("distance_m", "quantity", "value")
_UNIT = {"surface_C": "°C", "shell_mm": "mm"}
_RANGE = {"surface_C": (300.0, 1600.0), "shell_mm": (0.5, 400.0)}
_SIDES = ("", "both", "loose", "fixed")


@dataclass(frozen=True)
class Point:
    """One measured point.

    Parameters
    ----------
    distance : float
        From the meniscus [m].
    quantity : str
        ``"surface_C"`` or ``"shell_mm"``.
    value, sd : float
        Measured, and one standard deviation, NaN when not known [degC or mm].
    solid_fraction : float
        Of the edge that was measured; NaN for a surface [1].
    method : str
        A method of ``data/measured.toml``; empty when not said.
    side : str
        ``"loose"``, ``"fixed"``, or empty.
    place : str
        File and line, for messages.
    """

    distance: float
    quantity: str
    value: float
    sd: float
    solid_fraction: float
    method: str
    side: str
    place: str

    @property
    def unit(self) -> str:
        """Unit of a deviation, for print."""
        return "K" if self.quantity == "surface_C" else "mm"


@dataclass(frozen=True)
class Deviation:
    """A measured point and what was computed there.

    Parameters
    ----------
    point : Point
        What was measured.
    computed : float
        In the unit of the point [degC or mm].
    """

    point: Point
    computed: float

    @property
    def value(self) -> float:
        """Computed less measured [K or mm]."""
        return self.computed - self.point.value


@dataclass(frozen=True)
class Agreement:
    """How the points of one kind stand to what was computed.

    Parameters
    ----------
    quantity, method, unit : str
        Of the points.
    solid_fraction : float
        Theirs; NaN for a surface [1].
    count : int
        Points.
    bias, rms : float
        Mean and root mean square of computed less measured, in `unit`.
    largest : Deviation
        The one farthest off.
    known, inside : int
        Points with a standard deviation, and those of them within two of it.
    """

    quantity: str
    method: str
    unit: str
    solid_fraction: float
    count: int
    bias: float
    rms: float
    largest: Deviation
    known: int
    inside: int

    @property
    def text(self) -> str:
        """All of it in one sentence."""
        surface = self.quantity == "surface_C"
        more, less = ("hotter", "colder") if surface else ("thicker", "thinner")
        digits = 0 if surface else 1
        size = f"{abs(self.bias):.{digits}f}"
        mean = "the same" if float(size) == 0 else f"{size} {self.unit} {more if self.bias > 0 else less}"
        points = "1 point" if self.count == 1 else f"{self.count} points"
        words = (
            f"{self.name}, {points}: computed {mean} than measured"
            if mean != "the same"
            else (f"{self.name}, {points}: computed the same as measured")
        )
        if self.count > 1:
            far = f"{self.largest.value:+.{digits}f} {self.unit} at {self.largest.point.distance:.2f} m"
            words += f" on average, rms {self.rms:.{digits}f} {self.unit}, farthest off {far}"
        if self.known:
            words += f"; {self.inside} of {self.known} within two standard deviations"
        return words

    @property
    def name(self) -> str:
        """What was measured and how, for print."""
        label = methods()[self.method]["label"] if self.method else "method not said"
        if self.quantity == "surface_C":
            return f"surface ({label})"
        return f"shell at solid fraction {self.solid_fraction:g} ({label})"


@cache
def methods() -> Mapping[str, Mapping[str, Any]]:
    """Return what each method of measuring shows."""
    return load_data("measured.toml")


def method_words(method: str) -> str:
    """Return what a method shows and how well that is known, for print."""
    row = methods()[method]
    return f"{row['label']}: {row['meaning']} ({EVIDENCE[row['evidence']]})"


def read_points(path: str | os.PathLike[str], case: Case | None = None) -> tuple[Point, ...]:
    """Read measured points from a CSV table.

    Parameters
    ----------
    path : str or path-like
        A header with the names of `COLUMNS` in any order, then a row a point; `solidify.csv_table` reads it.
    case : Case, optional
        Whose distances they are, see ``machine.distances_from``; from the meniscus by default.

    Returns
    -------
    tuple of Point
        Counted from the meniscus.

    Raises
    ------
    InputError
        With everything that is wrong, line by line.
    """
    file, text = Path(path), read_words(path, "table of points")
    wanted = f"a header, e.g. {','.join(REQUIRED)}, and a row a point"
    table = csv_table(text, file.name, COLUMNS, Problem(file.name, "no rows", wanted))
    problems = _header_problems(table.header, f"{file.name}:{table.line}")
    points = []
    for number, cells in table.rows:
        place = f"{file.name}:{number}"
        if len(cells) != len(table.header):
            do = "with decimal commas, part the cells by semicolons" if table.separator == "," else ""
            problems.append(
                Problem(place, f"{len(cells)} cells", f"{len(table.header)} cells, one a column", do=do)
            )
            continue
        row = dict(zip(table.header, cells, strict=True))
        point = _point(row, place, problems, table.advice)
        if point is not None and case is not None:
            point = _from_meniscus(point, case, problems)
        points += [point] if point is not None else []
    if not table.rows:
        problems.append(Problem(file.name, "a header without rows", "a row a point"))
    if problems:
        raise InputError(problems)
    return tuple(points)


def _from_meniscus(point: Point, case: Case, problems: list[Problem]) -> Point | None:
    """Count a point from the meniscus; above it nothing can be measured."""
    start = case.datum
    if point.distance < start:
        allowed = f"{start:g} m, the meniscus, or more"
        do = "distances count from the mould top, as in the case"
        problems.append(Problem(f"{point.place} distance_m", f"{point.distance:g} m", allowed, do=do))
        return None
    return replace(point, distance=case.from_meniscus(point.distance))


def _header_problems(header: Sequence[str], place: str) -> list[Problem]:
    found = [
        Problem(f"{place} {key!r}", "not a column", ", ".join(COLUMNS), closest(key, COLUMNS))
        for key in header
        if key not in COLUMNS
    ]
    found += [Problem(place, f"no column {key}", do="add it") for key in REQUIRED if key not in header]
    twice = sorted({key for key in header if header.count(key) > 1})
    return found + [Problem(place, f"column {key} stands twice", do="keep one") for key in twice]


def _point(
    row: Mapping[str, str], place: str, problems: list[Problem], advice: Callable[[str], str]
) -> Point | None:
    """Return the point of one row, or None and what is wrong with it."""
    before = len(problems)
    quantity = _word(row, "quantity", tuple(_UNIT), place, problems)
    low, high = _RANGE.get(quantity, (-math.inf, math.inf))
    distance = _number(row, "distance_m", 0.0, 500.0, "m", place, problems, advice)
    value = _number(row, "value", low, high, _UNIT.get(quantity, ""), place, problems, advice)
    sd = fraction = math.nan
    if row.get("sd"):
        sd = _number(
            row,
            "sd",
            0.0,
            high - low if math.isfinite(high) else high,
            _UNIT.get(quantity, ""),
            place,
            problems,
            advice,
        )
        if sd == 0.0:
            problems.append(Problem(f"{place} sd", "0", "above 0", do="leave it empty when not known"))
    side = SYNONYMS.get(row.get("side", "").lower(), row.get("side", "").lower())
    side = _word({**row, "side": side} if "side" in row else row, "side", _SIDES, place, problems).replace(
        "both", ""
    )
    method = _method(row, quantity, place, problems)
    if row.get("solid_fraction"):
        fraction = _number(row, "solid_fraction", 0.01, 1.0, "", place, problems, advice)
        if quantity == "surface_C":
            problems.append(Problem(f"{place} solid_fraction", f"{fraction:g}", "empty for a surface"))
    elif quantity == "shell_mm":
        fraction = methods().get(method, {}).get("solid_fraction", math.nan)
        if not method and not row.get("method"):
            allowed = "one of " + ", ".join(n for n, m in methods().items() if m["quantity"] == "shell_mm")
            do = "a shell has no thickness without its solid fraction: give method or solid_fraction"
            problems.append(Problem(f"{place} method", "neither method nor solid_fraction", allowed, do=do))
    if len(problems) > before:
        return None
    return Point(distance, quantity, value, sd, fraction, method, side, place)


def _word(
    row: Mapping[str, str], key: str, allowed: Sequence[str], place: str, problems: list[Problem]
) -> str:
    given = row.get(key, "")
    if given not in allowed and key in row:
        words = ", ".join(filter(None, allowed))
        problems.append(
            Problem(f"{place} {key}", given or "a gap", words, closest(given, filter(None, allowed)))
        )
    return given


def _method(row: Mapping[str, str], quantity: str, place: str, problems: list[Problem]) -> str:
    given = row.get("method", "")
    known = {name: name for name in methods()}
    known |= {other: name for name, m in methods().items() for other in m.get("also", ())}
    fits = [n for n, m in methods().items() if m["quantity"] == quantity or quantity not in _UNIT]
    name = known.get(given, "")
    if given and name not in fits:
        near = "" if name else closest(given, [k for k, n in known.items() if n in fits])
        problems.append(Problem(f"{place} method", given, ", ".join(fits), near))
        return ""
    return name


def _number(
    row: Mapping[str, str],
    key: str,
    low: float,
    high: float,
    unit: str,
    place: str,
    problems: list[Problem],
    advice: Callable[[str], str],
) -> float:
    if key not in row:
        return math.nan
    given = row[key]
    allowed = f"{low:g} to {high:g} {unit}".strip() if math.isfinite(low) else "a number"
    value = csv_number(given)
    if low <= value <= high:
        return value
    problems.append(
        Problem(f"{place} {key}", f"{given} {unit}".strip() if given else "a gap", allowed, do=advice(given))
    )
    return math.nan


def deviations(result: Result, points: Sequence[Point]) -> tuple[Deviation, ...]:
    """Set measured points against a result.

    Parameters
    ----------
    result : Result
        A marched strand.
    points : sequence of Point
        What was measured.

    Returns
    -------
    tuple of Deviation
        In the order of the points.

    Raises
    ------
    InputError
        If points lie beyond the cut-off, or do not say their side where the two differ; all of them.
    """
    end = float(result.distance[-1])
    problems = [
        Problem(f"{p.place} distance_m", f"{p.distance:g} m", f"0 to {end:g} m, the cut-off of this strand")
        for p in points
        if p.distance > end * (1 + 1e-9)
    ]
    if len(result.sides) > 1:
        do = "this strand is cooled differently on its two sides"
        problems += [Problem(f"{p.place} side", "a gap", "loose, fixed", do=do) for p in points if not p.side]
    if problems:
        raise InputError(problems)
    return tuple(Deviation(p, _computed(result, p)) for p in points)


def _computed(result: Result, point: Point) -> float:
    side = result.sides.index(point.side) if len(result.sides) > 1 else 0
    if point.quantity == "surface_C":
        return float(result.at(result.surface_temperature[side], point.distance))
    row = result.fraction_index(point.solid_fraction)
    if math.isclose(result.solid_fractions[row], point.solid_fraction):
        return float(result.at(result.shell_thickness[side, row], point.distance)) / MM
    return _depth(result, point.distance, point.solid_fraction, side) / MM


def _depth(result: Result, distance: float, fraction: float, side: int) -> float:
    """Depth of a solid fraction read from the kept sections [m]."""
    columns = result.section_solid_fraction
    solid = np.array([np.interp(distance, result.section_distance, column) for column in columns.T])
    depth = result.depth
    if side:
        solid, depth = solid[::-1], depth[-1] - depth[::-1]
    below = np.flatnonzero(solid < fraction)
    if not below.size:
        return result.half_thickness
    i = int(below[0])
    return float(np.interp(-fraction, -solid[i - 1 : i + 1], depth[i - 1 : i + 1])) if i else 0.0


def agreements(found: Sequence[Deviation]) -> tuple[Agreement, ...]:
    """Say how points of one kind stand to what was computed, kind by kind.

    Parameters
    ----------
    found : sequence of Deviation
        Of one result.

    Returns
    -------
    tuple of Agreement
        In the order in which the kinds first stand in the table.
    """
    kinds: dict[tuple[str, str, str], list[Deviation]] = {}
    for d in found:
        kinds.setdefault((d.point.quantity, d.point.method, f"{d.point.solid_fraction:g}"), []).append(d)
    rows = []
    for (quantity, method, _), group in kinds.items():
        off = np.array([d.value for d in group])
        known = [d for d in group if not math.isnan(d.point.sd)]
        rows.append(
            Agreement(
                quantity,
                method,
                group[0].point.unit,
                group[0].point.solid_fraction,
                len(group),
                float(off.mean()),
                float(np.sqrt(np.mean(off**2))),
                max(group, key=lambda d: abs(d.value)),
                len(known),
                sum(abs(d.value) <= 2 * d.point.sd for d in known),
            )
        )
    return tuple(rows)
