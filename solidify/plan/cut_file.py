"""Reading a cut file: the metres of a strand, what is wrong with some of them, and how to cut it."""

from __future__ import annotations

import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from solidify.case import Case, read_case
from solidify.case.lines import key_lines
from solidify.case.values import is_number, shown
from solidify.errors import InputError, Problem
from solidify.files import read_words
from solidify.plan.cut import KINDS, Cut, Stretch, hot_over_cold, tracking_error
from solidify.plan.cut_plan import CutPlan, cut_plan
from solidify.plan.cut_table import read_cut
from solidify.plan.page import Page
from solidify.strand.result import Result
from solidify.strand.setup import case_steel
from solidify.strand.solve import solve
from solidify.study.reading import toml_tables
from solidify.units import M_PER_MIN

__all__ = ["CutRequest", "mean_temperature", "plan_cuts", "read_cut_file"]

_KEYS = ("title", "case", "length_m", "speed_m_per_min", "cuts_made_m", "stretch", "cut")
_STRETCH = ("from_m", "to_m", "kind", "reason")

LONGEST = 5000.0
"""A cut file holds no more metres [m]."""


@dataclass(frozen=True)
class CutRequest:
    """A strand to be cut, as a file describes it.

    Parameters
    ----------
    title, name : str
        Of the strand, and of the file.
    length : float
        Cast metres, hot [m].
    cut : Cut
        How to cut.
    stretches : tuple of Stretch
        Metres that are worth less.
    made : tuple of float
        Cuts that are made already [m].
    case : Case or None
        Gives section, steel and cut-off.
    speed : float
        Of casting [m/s]; NaN without a case and a speed.
    basis : str
        Where hot factor and margin come from, in words.
    """

    title: str
    name: str
    length: float
    cut: Cut
    stretches: tuple[Stretch, ...]
    made: tuple[float, ...]
    case: Case | None
    speed: float
    basis: str

    @property
    def mass_per_metre(self) -> float:
        """Of the hot strand [kg/m]; NaN without a case."""
        if self.case is None:
            return math.nan
        return case_steel(self.case).march_density * self.case.section_area

    def born(self, metre: float) -> float:
        """Return when a metre left the meniscus, from the first one [s]."""
        return metre / self.speed

    def cut_at(self, metre: float) -> float:
        """Return when a metre passes the cut-off [s]; NaN without a case."""
        return (metre + self.case.cutoff) / self.speed if self.case is not None else math.nan


def plan_cuts(request: CutRequest) -> CutPlan:
    """Find the cut plan of a request; as `solidify.cut_plan`."""
    return cut_plan(
        request.length,
        request.cut,
        request.stretches,
        made=request.made,
        mass_per_metre=request.mass_per_metre,
    )


def read_cut_file(path: str | os.PathLike[str]) -> CutRequest:
    """Read a cut file.

    Parameters
    ----------
    path : str or path-like
        TOML in UTF-8; a case that it names is looked for from its folder.

    Returns
    -------
    CutRequest

    Raises
    ------
    InputError
        If the file or its case cannot be read or holds what it may not; all problems at once.

    Notes
    -----
    A flat or round section with a case and without a hot factor is solved for its mean temperature at the cut-off.
    """
    path = Path(path)
    text = read_words(path, "cut file")
    data = toml_tables(text, str(path), "correct the line; docs/heat-plan.md shows a cut file")
    if "casting" in data and "cut" not in data:
        do = f"solidify run {path} solves a case; a cut file names it: case = ..."
        raise InputError(Problem(f"{path}:", "a case file", "a cut file", do=do))
    if "ladle" in data and "length_m" not in data:
        raise InputError(
            Problem(f"{path}:", "a heat plan", "a cut file", do=f"solidify plan {path} works it out")
        )
    page = Page(str(path), key_lines(text))
    page.known(data, _KEYS, ())
    title = data.get("title", path.stem)
    if not isinstance(title, str) or not title.strip() or not title.isprintable():
        page.bad(("title",), f"= {shown(title)}", "one line of text in quotes", do="correct it")
    case = _case(page, data, path.parent)
    length = page.wanted(data, "length_m", (), 1.0, LONGEST, "m", "length_m = 100, the cast metres")
    speed = page.number(data, "speed_m_per_min", (), 0.05, 12.0, "m/min") * M_PER_MIN
    if math.isnan(speed) and case is not None:
        speed = case.speed
    table = page.table(data, "cut")
    if "cut" not in data:
        page.bad(("cut",), "is missing", do="add [cut] with lengths_m = [8.0, 12.0]")
    margin = tracking_error(case.uncertainty.speed_percent, case.cutoff) if case is not None else 0.0
    told = []
    if "margin_m" not in table:
        told.append(f"margin {margin:.2f} m from the error of the speed" if case is not None else "no margin")
    stretches = _stretches(page, data, length)
    made = _made(page, data, length)
    factor = math.nan
    if (
        "hot_factor" not in table
        and case is not None
        and case.section.shape != "rectangle"
        and not page.problems
    ):
        warm = mean_temperature(solve(case.replace({"casting.speed_m_per_min": round(speed / M_PER_MIN, 6)})))
        factor = hot_over_cold(warm)
        told.append(f"hot factor {factor:.4f} from a mean of {warm:.0f} °C at the cut-off")
    elif "hot_factor" not in table:
        told.append("hot factor of common practice")
    cut = None
    if "cut" in data:
        cut = read_cut(page, table, ("cut",), speed=speed, margin=margin, hot_factor=factor)
    page.end()
    assert cut is not None
    return CutRequest(title, path.name, length, cut, stretches, made, case, speed, "; ".join(told))


def _case(page: Page, data: Mapping[str, Any], folder: Path) -> Case | None:
    if "case" not in data:
        return None
    name = data["case"]
    if not isinstance(name, str) or not name:
        page.bad(("case",), f"= {shown(name)} is no name of a file", do='case = "slab.toml"')
        return None
    try:
        return read_case(folder / name)
    except InputError as error:
        page.bad(("case",), f"= {shown(name)} cannot be taken", do="see below")
        page.problems += error.problems
        return None


def _stretches(page: Page, data: Mapping[str, Any], length: float) -> tuple[Stretch, ...]:
    found = []
    for i, row in enumerate(page.tables(data, "stretch")):
        at = ("stretch", i)
        page.known(row, _STRETCH, at)
        ends = [page.wanted(row, key, at, 0.0, LONGEST, "m", f"{key} = 10.0") for key in _STRETCH[:2]]
        kind = page.word(row, "kind", at, KINDS) if "kind" in row else "suspect"
        reason = row.get("reason", "")
        if not isinstance(reason, str) or not reason.isprintable() or len(reason) > 200:
            page.bad((*at, "reason"), f"= {shown(reason)}", "one line, up to 200 characters", do="correct it")
            reason = ""
        rising = ends[0] < ends[1] or (kind == "join" and ends[0] == ends[1])
        if not any(map(math.isnan, (*ends, length))) and not (rising and ends[1] <= length):
            given = f"= {ends[0]:g} to {ends[1]:g} m"
            page.bad(at, given, f"rising, within 0 to {length:g} m", do="correct an end")
            continue
        found.append(Stretch(ends[0], ends[1], kind or "suspect", reason))
    return tuple(found)


def _made(page: Page, data: Mapping[str, Any], length: float) -> tuple[float, ...]:
    given: Sequence[Any] = data.get("cuts_made_m", [])
    good = isinstance(given, list | tuple) and all(map(is_number, given))
    ends = [0.0, *given, length] if good else []
    if not good or (given and any(not a < b for a, b in pairwise(ends))):
        allowed = f"rising metres between 0 and {length:g}"
        page.bad(("cuts_made_m",), f"= {shown(given)}", allowed, do="sort them, or drop one")
        return ()
    return tuple(float(v) for v in given)


def mean_temperature(result: Result) -> float:
    """Return the mean temperature of the section at the cut-off [degC].

    Parameters
    ----------
    result : Result
        Of a flat or round section.

    Returns
    -------
    float
        Area mean over the depth that the slice covers.
    """
    depth, warm = result.depth, result.section_temperature[-1]
    weight = np.ones(depth.size)
    if result.case.section.shape == "round":
        weight = np.maximum(depth[-1] - depth, 0.0)
    return float(np.trapezoid(warm * weight, depth) / np.trapezoid(weight, depth))
