"""Cases made ready for the march: steel, cooling and slices, strands that are laid out alike in one batch."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, TypeVar

import numpy as np

from solidify.case import Case
from solidify.case.model import Table
from solidify.errors import InputError, Problem, SolidifyError
from solidify.solver.boundary import schedule
from solidify.solver.driver import Slices
from solidify.solver.enthalpy_table import SteelTable, steel_table
from solidify.solver.grid import Grid, cylinder, graded_depth, mid_face, plate
from solidify.steel import Steel
from solidify.strand.cooling import CoolingPaths, CoolingSegment, History, Travel, check_travel, cooling_paths
from solidify.strand.mould import MouldLaw, mould_law
from solidify.strand.setup import Temperatures, case_steel, strand_nodes, temperatures, throughput
from solidify.strand.stacking import DivergentBatch, layout, spread

__all__ = ["Batch", "attempt", "batches"]

T = TypeVar("T")


@dataclass(frozen=True)
class Batch:
    """Strands that are laid out alike, side by side: what has a shape is the same for all, only numbers differ.

    Parameters
    ----------
    places : tuple of int
        Where each strand stood among the cases given.
    cases, steels, heats : tuple
        Of each strand: its case, its steel, and what the steel arrives with.
    throughputs : ndarray, shape (strand,)
        Steel cast on each [kg s-1].
    paths : CoolingPaths
        What cools them, in arrays with a leading strand axis; `paths[i]` is what cools one.
    slices : tuple of Slices
        The slices of all strands: one block, or two where the halves are marched apart.
    sides : tuple of str
        ``("both",)`` or ``("loose", "fixed")``.
    distance : ndarray, shape (distance,)
        Output distances [m], those of every strand.
    section_distance : ndarray, shape (section,)
        Where the whole section is kept [m].
    times : ndarray, shape (strand, distance)
        Ages at the output distances [s].
    section_times : ndarray, shape (strand, section)
        Ages at the kept sections [s].
    fractions : tuple of float
        Solid fractions whose depth is followed, the headline fraction among them.
    """

    places: tuple[int, ...]
    cases: tuple[Case, ...]
    steels: tuple[Steel, ...]
    heats: tuple[Temperatures, ...]
    throughputs: np.ndarray
    paths: CoolingPaths
    slices: tuple[Slices, ...]
    sides: tuple[str, ...]
    distance: np.ndarray
    section_distance: np.ndarray
    times: np.ndarray
    section_times: np.ndarray
    fractions: tuple[float, ...]

    def __len__(self) -> int:
        return len(self.cases)


@dataclass(frozen=True)
class _Ready:
    """What is made of each case by itself, before it stands beside others."""

    place: int
    case: Case
    steel: Steel
    table: SteelTable
    law: MouldLaw
    throughput: float
    heat: Temperatures
    nodes: int


def batches(
    cases: Sequence[Case], travel: Travel | History | None = None, *, sections: bool = True
) -> tuple[list[Batch], dict[int, SolidifyError]]:
    """Make cases ready for the march, those that are laid out alike side by side.

    Parameters
    ----------
    cases : sequence of Case
        Checked cases.
    travel : Travel or History, optional
        Where every slice is when, and what water the zones then have; steady casting as in each case by default.
    sections : bool
        Whether to keep the field over the section all along the strand; else only at mould exit.

    Returns
    -------
    list of Batch
        Every case that could be made ready is in one of them, at its place.
    dict of int to SolidifyError
        What is wrong with the others, by their place.
    """
    _keep_memory()
    wrong: dict[int, SolidifyError] = {}
    alike: dict[Hashable, list[_Ready]] = {}
    # a water that changes cuts its zone where it bends, for each strand at other ages
    apart = isinstance(travel, History) and bool(travel.water)
    labels = _Labels()
    for place, case in enumerate(cases):
        ready = attempt(_ready, place, case, travel)
        if isinstance(ready, SolidifyError):
            wrong[place] = ready
        else:
            alike.setdefault(place if apart else labels.layout(ready), []).append(ready)
    found: list[Batch] = []
    for group in alike.values():
        _lay(group, travel, sections, found, wrong)
    return found, wrong


@cache
def _keep_memory() -> None:
    """Let a process keep the memory of one batch for the next, where the C library would hand it back and ask anew.

    The one of GNU keeps as much as the largest block ever freed, up to 32 MB; this block is freed and never touched.
    """
    np.empty(31 << 17)


def _lay(
    group: Sequence[_Ready],
    travel: Travel | History | None,
    sections: bool,
    found: list[Batch],
    wrong: dict[int, SolidifyError],
) -> None:
    """Make a batch of strands, or several where they go different ways; one with which something is wrong by itself."""
    try:
        found.append(_batch(group, travel, sections))
        return
    except DivergentBatch as unlike:
        parts = [[r for r, own in zip(group, unlike.way, strict=True) if own == way] for way in (True, False)]
    except SolidifyError as error:
        if len(group) == 1:
            wrong[group[0].place] = error
            return
        parts = [list(group[: len(group) // 2]), list(group[len(group) // 2 :])]
    for part in parts:
        _lay(part, travel, sections, found, wrong)


def attempt(make: Callable[..., T], *arguments: Any) -> T | SolidifyError:
    """Call and return what came of it, an expected failure included.

    Parameters
    ----------
    make : callable
        What to call.
    *arguments
        With these.

    Returns
    -------
    object or SolidifyError
        What it returned, or what it raised.
    """
    try:
        return make(*arguments)
    except SolidifyError as error:
        return error


class _Labels:
    """Small numbers for the layouts of tables; a table met before is not looked at again."""

    def __init__(self) -> None:
        self.of_table: dict[int, int] = {}
        self.of_layout: dict[Hashable, int] = {}

    def label(self, table: Table) -> int:
        found = self.of_table.get(id(table))
        if found is None:
            found = self.of_layout.setdefault((type(table), layout(table)), len(self.of_layout))
            self.of_table[id(table)] = found
        return found

    def layout(self, ready: _Ready) -> Hashable:
        """Return all that decides shapes and ways; strands for which it is equal go into one batch."""
        case, law = ready.case, ready.law
        normal = law.normal and law.normal.kind
        equal = [layout(t) for t in (case.section, case.machine, case.steps, case.shell, case.casting)]
        labels = [self.label(table) for table in (case.mould, case.cooling, *case.zone)]
        return ready.nodes, law.law.kind, law.origin, law.sources, normal, *equal, *labels


def _ready(place: int, case: Case, travel: Travel | History | None) -> _Ready:
    """Do what is done for each case by itself: its steel, the law of its mould, its temperatures."""
    steel = case_steel(case)
    table = _table(steel)
    check_travel(case, travel)
    law, rate = mould_law(case, steel), throughput(case, steel)
    heat = attempt(temperatures, case, steel)
    if isinstance(heat, SolidifyError):
        cooling_paths([case], [law], [rate], travel)  # what is wrong there is said first
        raise heat
    return _Ready(place, case, steel, table, law, rate, heat, strand_nodes(case, steel))


@lru_cache(maxsize=64)
def _table(steel: Steel) -> SteelTable:
    """Build the march table of a steel, once while the steel is in use."""
    density = steel.march_density
    curves = (steel.temperature, density * steel.enthalpy, steel.conductivity, steel.solid_fraction)
    try:
        return steel_table(*curves, kinks=steel.kinks)
    except ValueError as error:
        do = "check liquidus, solidus and composition, or the own numbers"
        raise InputError(Problem("steel", str(error).removeprefix("steel table: "), do=do)) from error


@lru_cache(maxsize=64)
def _grid(shape: str, thickness: float, width: float, nodes: int, whole: bool) -> Grid:
    """Lay the nodes of a slice: the half thickness, or the whole where the two sides differ."""
    if whole:
        return plate(graded_depth(thickness, 2 * nodes - 1, both_ends=True))
    depth = graded_depth(0.5 * thickness, nodes)
    if shape == "round":
        return cylinder(depth)
    return plate(depth) if shape == "slab" else mid_face(depth, thickness / width)


def _distances(case: Case, stretches: Sequence[CoolingSegment]) -> np.ndarray:
    """Return output distances: an even step, and every place that something is read at."""
    marks = [s.end for s in stretches]
    marks += [z for z in (*case.straightener, case.support_end, case.cutoff) if z <= case.cutoff]
    return _even_distances(case.steps.output_step_m, case.cutoff, tuple(marks))


@lru_cache(maxsize=64)
def _even_distances(step: float, end: float, marks: tuple[float, ...]) -> np.ndarray:
    z = np.unique(np.concatenate([np.arange(0.0, end, step), marks]))
    z = z[np.concatenate([[True], np.diff(z) > 1e-9])]
    z.flags.writeable = False
    return z


@lru_cache(maxsize=64)
def _sections(cutoff: float, mould_exit: float) -> np.ndarray:
    """Return the distances at which the whole section is kept, mould exit among them."""
    z = np.unique(np.append(np.linspace(0.0, cutoff, 101), mould_exit))
    z.flags.writeable = False
    return z


def _batch(group: Sequence[_Ready], travel: Travel | History | None, sections: bool) -> Batch:
    """Lay strands of one layout side by side."""
    case, strands = group[0].case, len(group)
    paths = cooling_paths(
        [r.case for r in group], [r.law for r in group], [r.throughput for r in group], travel
    )
    distance = _distances(case, paths.stretches)
    kept = _sections(case.cutoff, case.working_length) if sections else np.array([case.working_length])
    times, kept_times = (spread(paths.travel.age(z), strands, 1) for z in (distance, kept))
    fractions = tuple(sorted({0.3, 0.7, 1.0, case.shell.solid_fraction}))
    whole = len(paths.sides) == 2 and case.section.shape == "slab"
    grid = _grid(case.section.shape, case.thickness, case.width, group[0].nodes, whole)
    halves = [paths.faces] if whole else [(face,) for face in paths.faces]
    slices = tuple(
        Slices(
            tuple(r.table for r in group),
            grid,
            schedule(*faces, strands=strands),
            _poured(group, grid.nodes),
            times,
            kept_times,
            fractions,
            2 if whole else 1,
            tolerance=case.steps.tolerance,
        )
        for faces in halves
    )
    return Batch(
        tuple(r.place for r in group),
        tuple(r.case for r in group),
        tuple(r.steel for r in group),
        tuple(r.heat for r in group),
        np.array([r.throughput for r in group]),
        paths,
        slices,
        paths.sides,
        distance,
        kept,
        times,
        kept_times,
        fractions,
    )


def _poured(group: Sequence[_Ready], nodes: int) -> np.ndarray:
    """Return the potentials with which each strand begins, (strand, node) [W m-1]."""
    found = np.empty((len(group), nodes))
    for table in {id(r.table): r.table for r in group}.values():
        own = [i for i, r in enumerate(group) if r.table is table]
        found[own] = table.potential(np.array([group[i].heat.pouring for i in own]))[:, None]
    return found
