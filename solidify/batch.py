"""Cases made ready for the march: steel, cooling and slices, strands that are laid out alike in one batch."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np

from solidify.case import Case
from solidify.cooling import CoolingPath, History, Travel, cooling_path
from solidify.errors import SolidifyError
from solidify.grid import Grid, cylinder, graded_depth, mid_face, plate
from solidify.schedule import schedule
from solidify.slices import Slice
from solidify.steel import Steel
from solidify.strand import Temperatures, case_steel, temperatures
from solidify.tables import SteelTable, steel_table

__all__ = ["Batch", "Strand", "attempt", "batches"]

T = TypeVar("T")


@dataclass(frozen=True)
class Strand:
    """A case made ready: steel, cooling and one slice, or two where the halves are marched apart.

    Parameters
    ----------
    case, steel, path, heat, slices, distance, section_distance, fractions
        As in `Batch`, of one strand.
    """

    case: Case
    steel: Steel
    path: CoolingPath
    heat: Temperatures
    slices: tuple[Slice, ...]
    distance: np.ndarray
    section_distance: np.ndarray
    fractions: tuple[float, ...]


@dataclass(frozen=True)
class Batch:
    """Strands that are laid out alike, side by side: what has a shape is the same for all, only numbers differ.

    Parameters
    ----------
    places : tuple of int
        Where each strand stood among the cases given.
    cases, steels, paths, heats : tuple
        Of each strand: its case, its steel, what cools it, and what the steel arrives with.
    slices : tuple of tuple of Slice
        Of each strand: one slice, or two where the halves are marched apart.
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
    paths: tuple[CoolingPath, ...]
    heats: tuple[Temperatures, ...]
    slices: tuple[tuple[Slice, ...], ...]
    sides: tuple[str, ...]
    distance: np.ndarray
    section_distance: np.ndarray
    times: np.ndarray
    section_times: np.ndarray
    fractions: tuple[float, ...]

    def __len__(self) -> int:
        return len(self.cases)

    def __getitem__(self, i: int) -> Strand:
        return Strand(
            self.cases[i],
            self.steels[i],
            self.paths[i],
            self.heats[i],
            self.slices[i],
            self.distance,
            self.section_distance,
            self.fractions,
        )


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
    wrong: dict[int, SolidifyError] = {}
    alike: dict[Any, dict[int, Strand]] = {}
    for i, case in enumerate(cases):
        strand = attempt(_strand, case, travel, sections)
        if isinstance(strand, SolidifyError):
            wrong[i] = strand
        else:
            alike.setdefault(_layout(strand), {})[i] = strand
    return [_batch(tuple(strands), tuple(strands.values())) for strands in alike.values()], wrong


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


def _layout(strand: Strand) -> tuple[Any, ...]:
    """Return all that decides shapes; strands for which it is equal go into one batch."""
    stretches = tuple((s.name, s.kind, s.relation, s.faces) for s in strand.path.stretches)
    distances = (strand.distance.tobytes(), strand.section_distance.tobytes())
    shape = strand.case.section.shape
    return shape, strand.path.sides, stretches, distances, strand.fractions, strand.slices[0].grid.nodes


def _batch(places: tuple[int, ...], strands: tuple[Strand, ...]) -> Batch:
    first = strands[0]
    return Batch(
        places,
        tuple(s.case for s in strands),
        tuple(s.steel for s in strands),
        tuple(s.path for s in strands),
        tuple(s.heat for s in strands),
        tuple(s.slices for s in strands),
        first.path.sides,
        first.distance,
        first.section_distance,
        np.array([s.slices[0].times for s in strands]),
        np.array([s.slices[0].profile_times for s in strands]),
        first.fractions,
    )


@lru_cache(maxsize=64)
def _table(steel: Steel) -> SteelTable:
    """Build the march table of a steel, once while the steel is in use."""
    density = steel.march_density
    return steel_table(
        steel.temperature,
        density * steel.enthalpy,
        steel.conductivity,
        steel.solid_fraction,
        kinks=steel.kinks,
    )


@lru_cache(maxsize=64)
def _grid(shape: str, thickness: float, width: float, nodes: int, whole: bool) -> Grid:
    """Lay the nodes of a slice: the half thickness, or the whole where the two sides differ."""
    if whole:
        return plate(graded_depth(thickness, 2 * nodes - 1, both_ends=True))
    depth = graded_depth(0.5 * thickness, nodes)
    if shape == "round":
        return cylinder(depth)
    return plate(depth) if shape == "slab" else mid_face(depth, thickness / width)


def _distances(case: Case, path: CoolingPath) -> np.ndarray:
    """Return output distances: an even step, and every place that something is read at."""
    marks = [s.end for s in path.stretches]
    marks += [z for z in (*case.straightener, case.support_end, case.cutoff) if z <= case.cutoff]
    return _even_distances(case.steps.output_step_m, case.cutoff, tuple(marks))


@lru_cache(maxsize=64)
def _even_distances(step: float, end: float, marks: tuple[float, ...]) -> np.ndarray:
    z = np.unique(np.concatenate([np.arange(0.0, end, step), marks]))
    z = z[np.concatenate([[True], np.diff(z) > 1e-9])]
    z.flags.writeable = False
    return z


def _strand(case: Case, travel: Travel | History | None, sections: bool = True) -> Strand:
    steel = case_steel(case)
    table = _table(steel)
    path = cooling_path(case, steel, travel)
    heat = temperatures(case, steel)
    distance = _distances(case, path)
    section_distance = np.array([case.working_length])
    if sections:
        section_distance = np.unique(np.append(np.linspace(0.0, case.cutoff, 101), section_distance))
    times, kept = path.travel.age(distance), path.travel.age(section_distance)
    fractions = tuple(sorted({0.3, 0.7, 1.0, case.shell.solid_fraction}))
    whole = len(path.sides) == 2 and case.section.shape == "slab"
    grid = _grid(case.section.shape, case.thickness, case.width, case.nodes, whole)
    initial = np.full(grid.nodes, float(table.potential(heat.pouring)))
    plans = [schedule(path.faces[0], path.faces[1])] if whole else [schedule(f) for f in path.faces]
    slices = tuple(
        Slice(
            table,
            grid,
            plan,
            initial,
            times,
            kept,
            fractions,
            2 if whole else 1,
            tolerance=case.steps.tolerance,
        )
        for plan in plans
    )
    return Strand(case, steel, path, heat, slices, distance, section_distance, fractions)
