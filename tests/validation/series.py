"""The measured data of this folder: read, checked as a whole, and set beside the model."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidify.analysis.measured import deviations, read_points
from solidify.case import read_case
from solidify.errors import InputError, Problem, closest
from solidify.sources import EVIDENCE
from solidify.strand.solve import solve
from validation.models import MODELS, UNITS, value_of
from validation.scatter import Scatter, scatter

DATA = Path(__file__).parent / "data"

COLD = 20.0
"""Surfaces are compared by their rise above this [degC], since a ratio wants a true zero (a choice of this project)."""

SERIES = ("quantity", "unit", "model", "says", "allowed", "why", "point")
POINT = ("source", "input", "value", "unit", "error", "error_evidence")
STRAND = ("title", "source", "case", "points")


@dataclass(frozen=True)
class Compared:
    """A measured value and what the model says.

    Parameters
    ----------
    label, source, error_evidence : str
        What varies, key of the source, grade of `error`.
    measured, model : float
        In the unit of the series.
    error : float
        One relative standard deviation of `measured` [1].
    """

    label: str
    source: str
    measured: float
    model: float
    error: float
    error_evidence: str

    @property
    def ratio(self) -> float:
        """Model over measured [1]."""
        return self.model / self.measured


@dataclass(frozen=True)
class Series:
    """Measured values of one quantity beside the model.

    Parameters
    ----------
    key, quantity, unit, says, why : str
        From the file.
    allowed : tuple of float
        Bounds of the bias [1].
    points : tuple of Compared
        At least one.
    left_out : tuple of str
        What stands in the same sources and is not compared.
    """

    key: str
    quantity: str
    unit: str
    says: str
    allowed: tuple[float, float]
    why: str
    points: tuple[Compared, ...]
    left_out: tuple[str, ...]

    @property
    def scatter(self) -> Scatter:
        """Bias and scatter of all points."""
        columns = zip(*((p.model, p.measured, p.error) for p in self.points), strict=True)
        return scatter(*columns)


def read(path: Path) -> Mapping[str, Any]:
    """Return the tables of a data file."""
    return tomllib.loads(path.read_text(encoding="utf-8"))


def steel_series(path: Path = DATA / "steel.toml") -> tuple[Series, ...]:
    """Return every series of measured properties.

    Raises
    ------
    InputError
        With everything that is wrong with the file.
    """
    tables = read(path)
    problems = _source_problems(tables, path.name)
    for key, series in tables.get("series", {}).items():
        where = f"{path.name}: [series.{key}]"
        missing = [name for name in SERIES if name not in series]
        problems += [Problem(f"{where} {name}", do="give it") for name in missing]
        if not missing:
            problems += _series_problems(series, tables["source"], where)
    if problems:
        raise InputError(problems)
    return tuple(_series(key, series) for key, series in tables.get("series", {}).items())


def _source_problems(tables: Mapping[str, Any], file: str) -> list[Problem]:
    problems = []
    for key, source in tables.get("source", {}).items():
        where = f"{file}: [source.{key}]"
        problems += [
            Problem(f"{where} {name}", do="give it")
            for name in ("reference", "read", "evidence")
            if not source.get(name)
        ]
        problems += _grade_problem(f"{where} evidence", source.get("evidence", "seen"))
    return problems


def _grade_problem(where: str, grade: str) -> list[Problem]:
    return [] if grade in EVIDENCE else [Problem(where, grade, ", ".join(EVIDENCE), closest(grade, EVIDENCE))]


def _series_problems(series: Mapping[str, Any], sources: Mapping[str, Any], where: str) -> list[Problem]:
    problems, model, unit = [], series["model"], series["unit"]
    if model not in MODELS:
        problems.append(Problem(f"{where} model", model, ", ".join(MODELS), closest(model, MODELS)))
    if not series["point"]:
        problems.append(
            Problem(f"{where} point", "none", "one or more", do="leave the series out until it has one")
        )
    low, high = series["allowed"]
    if not 0.0 < low < high:
        problems.append(Problem(f"{where} allowed", f"{low:g} to {high:g}", "above 0, rising"))
    for i, point in enumerate(series["point"]):
        at = f"{where} point {i + 1}"
        missing = [name for name in POINT if name not in point]
        problems += [Problem(f"{at} {name}", do="give it") for name in missing]
        if missing:
            continue
        if point["source"] not in sources:
            key = point["source"]
            problems.append(Problem(f"{at} source", key, ", ".join(sources), closest(key, sources)))
        known = [given for given, wanted in UNITS if wanted == unit]
        if point["unit"] not in known:
            given = point["unit"]
            problems.append(Problem(f"{at} unit", given, ", ".join(known), closest(given, known)))
        for name, least, most in (("value", 0.0, math.inf), ("error", 0.0, 0.5)):
            if not least < point[name] <= most:
                allowed = "above 0" if most == math.inf else f"above 0 to {most:g}"
                problems.append(Problem(f"{at} {name}", f"{point[name]:g}", allowed))
        problems += _grade_problem(f"{at} error_evidence", point["error_evidence"])
    return problems


def _series(key: str, series: Mapping[str, Any]) -> Series:
    points = tuple(
        Compared(
            _label(p["input"]),
            p["source"],
            p["value"] * UNITS[p["unit"], series["unit"]],
            value_of(series["model"], p["input"]),
            p["error"],
            p["error_evidence"],
        )
        for p in series["point"]
    )
    low, high = series["allowed"]
    return Series(
        key,
        series["quantity"],
        series["unit"],
        series["says"],
        (low, high),
        series["why"],
        points,
        tuple(series.get("left_out", ())),
    )


def _label(given: Mapping[str, Any]) -> str:
    """Return the input of a point for print."""
    if "lean" in given:
        return f"{given['lean']:g} to {given['rich']:g} atomic % {given['element']}"
    if "share" in given:
        return f"{given['share']:g} atomic % {given['element']}"
    if "from" in given:
        return f"iron, {given['from']:g} to {given['to']:g} °C"
    contents = [f"{v:.2f} % {k}" for k, v in given.items() if k[0].isupper() and v]
    at = [f"{given['at']:g} °C"] if "at" in given else []
    return ", ".join([*(contents or ["iron"]), *at])


def strand_series(path: Path = DATA / "strand.toml") -> tuple[Series, ...]:
    """Return shells, surfaces and pool lengths of measured strands, one series a quantity; none while there are none.

    Raises
    ------
    InputError
        With everything that is wrong with the file, its cases and its tables of points.
    """
    tables = read(path)
    problems = _source_problems(tables, path.name)
    groups: dict[tuple[str, str], list[Compared]] = {}
    for i, strand in enumerate(tables["strand"]):
        where = f"{path.name}: strand {i + 1}"
        missing = [name for name in STRAND if not strand.get(name)]
        problems += [Problem(f"{where} {name}", do="give it") for name in missing]
        if not missing and strand["source"] not in tables.get("source", {}):
            problems.append(
                Problem(
                    f"{where} source",
                    strand["source"],
                    ", ".join(tables.get("source", {})) or "a [source.X] of this file",
                )
            )
        elif not missing:
            try:
                for group, compared in _strand(strand, path.parent, where):
                    groups.setdefault(group, []).append(compared)
            except InputError as error:
                problems += error.problems
    if problems:
        raise InputError(problems)
    says = "Measured strands against the march; every input as its source gives it."
    return tuple(
        Series(f"strand_{i}", quantity, unit, says, (0.5, 2.0), "no bound is known yet", tuple(points), ())
        for i, ((quantity, unit), points) in enumerate(groups.items())
    )


def _strand(strand: Mapping[str, Any], folder: Path, where: str) -> list[tuple[tuple[str, str], Compared]]:
    points = read_points(folder / strand["points"])
    unknown = [
        Problem(f"{p.place} sd", "a gap", "one standard deviation") for p in points if math.isnan(p.sd)
    ]
    pool = strand.get("pool")
    if pool and not (pool.get("value", 0.0) > 0.0 and pool.get("sd", 0.0) > 0.0):
        unknown.append(Problem(f"{where} pool", f"{dict(pool)}", "value and sd, both above 0 m"))
    if unknown:
        raise InputError(unknown)
    result = solve(read_case(folder / strand["case"]))
    found = []
    for d in deviations(result, points):
        surface = d.point.quantity == "surface_C"
        zero, group = (COLD, ("surface, rise above 20 °C", "K")) if surface else (0.0, ("shell", "mm"))
        measured = d.point.value - zero
        label = f"{strand['title']}, {d.point.distance:g} m"
        error = d.point.sd / measured
        found.append((group, Compared(label, strand["source"], measured, d.computed - zero, error, "seen")))
    if pool:
        ours = result.summary["metallurgical_length"]
        error = pool["sd"] / pool["value"]
        row = Compared(strand["title"], strand["source"], pool["value"], ours, error, "seen")
        found.append((("pool length", "m"), row))
    return found
