"""The operating window of a study: a quantity and the room to every limit over two of its inputs.

Runs on a full grid are read between their neighbours in straight lines; runs strewn over two inputs in the
triangles between them, by cubics that agree in slope. Where further inputs of a grid vary, the window is a cut at
one value of each; where those of a sample do, nothing is drawn between the runs, because they differ in more than
is shown.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from solidify.errors import InputError, Problem, closest
from solidify.storage.study_file import StudyTable
from solidify.storage.study_schema import VERDICT
from solidify.study.answers.quantities import Quantity, base_value, varied
from solidify.study.answers.sensitivity import effects

__all__ = ["Border", "Window", "operating_line", "operating_window", "window_problems"]

_FINE = 200
"""Points of the raster each way."""

_NEAR = 24
"""Runs from which a room is carried on to where it has no bound."""


@dataclass(frozen=True)
class Border:
    """The room to one limit over the window.

    Parameters
    ----------
    name, label, hardness : str
        Of the limit.
    room : ndarray, shape (rows, columns)
        In its unit; 0 at the limit, negative beyond, NaN where it is not known.
    """

    name: str
    label: str
    hardness: str
    room: np.ndarray


@dataclass(frozen=True)
class Window:
    """What the runs of a study say over two of its inputs.

    Parameters
    ----------
    across, up : str
        Key paths of the two inputs.
    quantity : Quantity
        What is drawn.
    runs : ndarray of int
        Which runs of the study are in the window.
    x, y : ndarray, shape (columns,), (rows,)
        The raster, in the units of the inputs; empty where nothing may be read between the runs.
    values : ndarray, shape (rows, columns)
        The quantity on it.
    borders : tuple of Border
        Limits that were judged, hard ones first.
    kind : str
        ``"grid"``, ``"triangles"``, ``"line"`` where one input alone varies, or ``"runs"`` where nothing may be read
        between them.
    fixed : mapping of str to value
        Inputs that vary in the study and stand still in this cut.
    loose : tuple of str
        Inputs that vary from run to run besides the two.
    silent : tuple of str
        Labels of hard limits that were not judged in one run of the window or more.
    """

    across: str
    up: str
    quantity: Quantity
    runs: np.ndarray
    x: np.ndarray
    y: np.ndarray
    values: np.ndarray
    borders: tuple[Border, ...]
    kind: str
    fixed: Mapping[str, Any]
    loose: tuple[str, ...]
    silent: tuple[str, ...]

    @property
    def everywhere(self) -> tuple[Border, ...]:
        """The limits that are breached wherever their room is known: no line of the window shows them."""
        return tuple(b for b in self.borders if np.isfinite(b.room).any() and np.nanmax(b.room) < 0)

    @property
    def room(self) -> np.ndarray:
        """Least room to a hard limit, each in shares of its largest, shape (rows, columns) [1]; NaN if not known."""
        hard = [b.room / _largest(b.room) for b in self.borders if b.hardness == "hard"]
        return np.min(hard, axis=0) if hard else np.full(self.values.shape, math.nan)


def operating_window(
    table: StudyTable,
    quantity: Quantity,
    across: str | None = None,
    up: str | None = None,
    at: Mapping[str, Any] | None = None,
) -> Window:
    """Lay out a study over two of its inputs.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    quantity : Quantity
        What to draw.
    across, up : str, optional
        Key paths of numbers that vary; by default the two that move the quantity most, the casting speed across.
    at : mapping of str to value, optional
        Where a grid is cut: value of other inputs; by default the one nearest to the case.

    Returns
    -------
    Window

    Raises
    ------
    InputError
        If an input is no number or does not vary, or a cut is not in the grid; all problems at once.
    """
    problems = window_problems(table, across, up, at)
    if problems:
        raise InputError(problems)
    across, up = _axes(table, quantity, _numbers(table), across, up)
    others = [n for n in varied(table) if n not in (across, up)]
    grid = table.sampling == "grid"
    cuts = {n: (at or {}).get(n, base_value(table, n)) for n in others if grid}
    fixed = {n: _nearest(_levels(table, n), wanted)[0] for n, wanted in cuts.items()}
    chosen = [table.inputs[n] == v for n, v in fixed.items()]
    placed = [np.isfinite(table.inputs[n]) for n in (across, up)]
    runs = np.flatnonzero(np.all([*chosen, *placed], axis=0))
    loose = () if grid else tuple(others)
    place = np.column_stack([table.inputs[across][runs], table.inputs[up][runs]])
    borders = _rooms(table, runs, place)
    stack = np.column_stack([quantity.values[runs], *(b.room for b in borders)])
    x = y = np.zeros(0)
    kind, rasters = "runs", np.zeros((stack.shape[1], 0, 0))
    if not loose:
        x, y = (np.linspace(v.min(), v.max(), _FINE) for v in place.T)
        kind, rasters = _between(place, stack, x, y)
    if kind == "runs":
        x = y = np.zeros(0)
    shown = tuple(Border(b.name, b.label, b.hardness, r) for b, r in zip(borders, rasters[1:], strict=True))
    return Window(
        across, up, quantity, runs, x, y, rasters[0], shown, kind, fixed, loose, _silent(table, runs)
    )


def _axes(
    table: StudyTable, quantity: Quantity, numbers: Sequence[str], across: str | None, up: str | None
) -> tuple[str, str]:
    """Choose the inputs that were not asked for: the two that move the quantity most."""
    strong = [e.input for e in effects(table, quantity).rows if e.input in numbers]
    free = [n for n in dict.fromkeys([*strong, *numbers]) if n not in (across, up)]
    if across is None and up is None:
        two = sorted(free[:2], key=lambda n: (n != "casting.speed_m_per_min", list(table.inputs).index(n)))
        return two[0], two[1]
    return across or free[0], up or free[0]


def operating_line(table: StudyTable, quantity: Quantity) -> Window | None:
    """Lay out a study in which one number varies and nothing else.

    Parameters
    ----------
    table : StudyTable
        From `solidify.storage.study_file.load_study`.
    quantity : Quantity
        What to draw: it stands up the window.

    Returns
    -------
    Window or None
        Of kind ``"line"``, its rows alike, `values` along `x` in the first; None where more or less varies, or fewer
        than two runs have a value.
    """
    names = varied(table)
    if names != _numbers(table) or len(names) != 1:
        return None
    own = table.inputs[names[0]]
    known = np.isfinite(quantity.values)
    runs = np.flatnonzero(np.isfinite(own))
    runs = runs[np.unique(own[runs], return_index=True)[1]]
    if known[runs].sum() < 2 or np.ptp(quantity.values[known]) == 0:
        return None
    x = np.linspace(own[runs[0]], own[runs[-1]], _FINE)
    ends = [*quantity.values[known], *(b.value for b in quantity.bounds)]
    near = [v for v in ends if abs(v - ends[0]) <= 3.0 * np.ptp(quantity.values[known])]
    reach = 0.06 * (max(near) - min(near))
    y = np.array([min(near) - reach, max(near) + reach])
    borders = tuple(
        Border(b.name, b.label, b.hardness, np.tile(np.interp(x, own[runs], b.room), (2, 1)))
        for b in _rooms(table, runs, own[runs][:, None])
    )
    values = np.tile(np.interp(x, own[runs], quantity.values[runs]), (2, 1))
    return Window(names[0], "", quantity, runs, x, y, values, borders, "line", {}, (), _silent(table, runs))


def window_problems(
    table: StudyTable, across: str | None = None, up: str | None = None, at: Mapping[str, Any] | None = None
) -> list[Problem]:
    """Return what is wrong with a window that is asked for; parameters as for `operating_window`.

    Returns
    -------
    list of Problem
        All of them.
    """
    numbers = _numbers(table)
    problems = []
    if len(numbers) < 2:
        given = f"{', '.join(numbers) or 'no number'} varies"
        problems.append(Problem("operating window", given, "two numbers that vary or more"))
    for option, name in (("--across", across), ("--up", up)):
        if name is not None and name not in numbers:
            near = closest(name, numbers)
            given = "is no number that varies in the study"
            problems.append(Problem(f"{option} {name}", given, ", ".join(numbers), near))
    if across is not None and across == up:
        problems.append(Problem(f"--up {up}", "is across already", do="name two inputs"))
    others = [n for n in varied(table) if n not in (across, up)]
    for name, wanted in (at or {}).items():
        if table.sampling != "grid":
            problems.append(Problem(f"--at {name}", "the runs lie on no grid that could be cut"))
        elif name not in others:
            near = closest(name, others)
            problems.append(Problem(f"--at {name}", "is no further input", ", ".join(others) or "none", near))
        elif (levels := _levels(table, name)) and _nearest(levels, wanted)[1] is False:
            allowed = ", ".join(f"{v:g}" if isinstance(v, float) else str(v) for v in levels)
            problems.append(Problem(f"--at {name}={wanted}", "is not in the grid", allowed))
    return problems


def _numbers(table: StudyTable) -> list[str]:
    return [n for n in varied(table) if table.inputs[n].dtype.kind == "f"]


def _levels(table: StudyTable, name: str) -> list[Any]:
    return list(dict.fromkeys(table.inputs[name].tolist()))


def _nearest(levels: Sequence[Any], wanted: Any) -> tuple[Any, bool]:
    """Return the level nearest to a value, and whether it is the same."""
    if isinstance(levels[0], float) and _is_number(wanted):
        nearest = min(levels, key=lambda v: abs(v - wanted))
        return nearest, math.isclose(nearest, wanted, rel_tol=1e-9)
    return (wanted, True) if wanted in levels else (levels[0], False)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _silent(table: StudyTable, runs: np.ndarray) -> tuple[str, ...]:
    """Return the hard limits that were not judged in some run."""
    return tuple(
        table.words["finding_label"][i]
        for i, hardness in enumerate(table.words.get("finding_hardness", ()))
        if hardness == "hard" and (table.columns["verdict"][runs, i] == VERDICT["not judged"]).any()
    )


def _rooms(table: StudyTable, runs: np.ndarray, place: np.ndarray) -> list[Border]:
    """Return the room to each limit judged in some run, hard ones first."""
    found = []
    for i, name in enumerate(table.finding):
        verdict = table.columns["verdict"][runs, i]
        judged = np.isin(verdict, [VERDICT[w] for w in ("kept", "close", "breached")])
        if judged.any():
            room = _bounded(np.where(judged, table.columns["margin"][runs, i], math.nan), place)
            label, hardness = (table.words[f"finding_{word}"][i] for word in ("label", "hardness"))
            found.append(Border(name, label, hardness, room))
    return sorted(found, key=lambda b: b.hardness != "hard")


def _bounded(room: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Carry a room on to runs where it has no bound, as where the centre is liquid at the cut-off."""
    from scipy.interpolate import RBFInterpolator  # half a second to load

    endless, finite = np.isinf(room), np.isfinite(room)
    if not endless.any():
        return room
    sign = np.sign(room[endless])
    least = 1e-3 * _largest(room)
    room = room.copy()
    scaled = place / np.where(np.ptp(place, axis=0) > 0, np.ptp(place, axis=0), 1.0)
    try:
        smooth = RBFInterpolator(scaled[finite], room[finite], neighbors=min(_NEAR, int(finite.sum())))
        carried = smooth(scaled[endless])
    except (ValueError, np.linalg.LinAlgError):  # too few runs, or all on one line
        carried = sign * _largest(room)
    room[endless] = sign * np.maximum(sign * carried, least)
    return room


def _largest(room: np.ndarray) -> float:
    finite = np.abs(room[np.isfinite(room)])
    return float(finite.max()) if finite.size and finite.max() > 0 else 1.0


def _between(place: np.ndarray, stack: np.ndarray, x: np.ndarray, y: np.ndarray) -> tuple[str, np.ndarray]:
    """Read values between the runs on a raster; returns how, and arrays (values, rows, columns)."""
    from scipy.interpolate import RegularGridInterpolator  # half a second to load
    from scipy.spatial import QhullError

    points = np.stack(np.meshgrid(x, y), axis=-1)
    levels = [np.unique(v) for v in place.T]
    if math.prod(map(len, levels)) == len(place) == len(np.unique(place, axis=0)):
        order = np.lexsort((place[:, 1], place[:, 0]))
        cube = stack[order].reshape(len(levels[0]), len(levels[1]), -1)
        return "grid", np.moveaxis(RegularGridInterpolator(levels, cube)(points), -1, 0)
    try:
        return "triangles", _triangles(place, stack, points)
    except QhullError:  # the runs lie on one line
        return "runs", np.zeros((stack.shape[1], 0, 0))


def _triangles(place: np.ndarray, stack: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Read strewn values, a column a quantity; nothing is known in a triangle with a run that has none."""
    from scipy.interpolate import CloughTocher2DInterpolator, LinearNDInterpolator

    found = np.full((stack.shape[1], *points.shape[:2]), math.nan)
    known = np.isfinite(stack)
    for mask in np.unique(known.T, axis=0):  # quantities that are known in the same runs are read together
        columns = (mask == known.T).all(axis=1)
        if mask.sum() < 4:
            continue
        read = CloughTocher2DInterpolator(place[mask], stack[np.ix_(mask, columns)], rescale=True)(points)
        if not mask.all():
            whole = LinearNDInterpolator(place, mask.astype(float), rescale=True)(points)
            read[~(whole > 1 - 1e-9)] = math.nan
        found[columns] = np.moveaxis(read, -1, 0)
    return found
