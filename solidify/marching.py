"""The march: one slice or many, from numbers (the lower door) or from cases (`solve`, `solve_many`).

The only place where case, steel, cooling and kernels meet.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from importlib.metadata import version

import numpy as np

from solidify import kernels
from solidify.case import Case
from solidify.cooling import CoolingPath, Travel, cooling_path
from solidify.errors import MarchError, Notice
from solidify.grid import Grid, cylinder, graded_depth, mid_face, plate
from solidify.profiles import crossing, largest_rise, steepest
from solidify.result import MECHANISMS, Balance, Result, ZoneResult
from solidify.schedule import LAW, Face, Schedule, schedule
from solidify.spray import range_notices
from solidify.steel import Steel
from solidify.strand import Temperatures, case_steel, shape_notices, shape_treatment, temperatures, throughput
from solidify.tables import SteelTable, steel_table
from solidify.units import MINUTE, MM

__all__ = ["Face", "March", "Slice", "march", "march_slices", "solve", "solve_many"]

MAX_STEPS = 20_000
"""Most steps, rejected ones counted, before a march gives up."""

_TOLERANCE = 1.0
_NO_SOURCE = np.zeros((1, 1))


@dataclass(frozen=True)
class Slice:
    """One slice as the kernel takes it.

    Parameters
    ----------
    table : SteelTable
        The steel.
    grid : Grid
        Nodes and weights.
    schedule : Schedule
        What acts on both faces.
    initial : ndarray, shape (n,)
        Potentials at the start [W m-1].
    times : ndarray, shape (nt,)
        Ages at which to sample [s], not decreasing, not before `start`.
    profile_times : ndarray, shape (np,)
        Ages at which to keep the whole section [s].
    fractions : tuple of float
        Solid fractions whose depth is followed.
    sides : int
        1: one cooled face; 2: both faces are reported.
    start : float
        Age at the beginning [s].
    step : float
        Fixed step [s]; 0 lets the error control choose.
    tolerance : float
        Relative to the default.
    """

    table: SteelTable
    grid: Grid
    schedule: Schedule
    initial: np.ndarray
    times: np.ndarray
    profile_times: np.ndarray
    fractions: tuple[float, ...] = (0.3, 0.7, 1.0)
    sides: int = 1
    start: float = 0.0
    step: float = 0.0
    tolerance: float = 1.0


@dataclass(frozen=True)
class March:
    """What the kernel gives for one slice.

    Parameters
    ----------
    times : ndarray, shape (nt,)
        Ages of the samples [s].
    surface_temperature, heat_flux, heat : ndarray, shape (side, nt)
        [degC], [W m-2] out of the strand, and heat removed so far [J m-2 of the first face].
    shell : ndarray, shape (side, fraction, nt)
        Depth of each solid fraction from its face [m].
    equivalent_shell : ndarray, shape (side, nt)
        Integral of the solid fraction over depth [m].
    centre_temperature, centre_solid_fraction, centre_depth : ndarray, shape (nt,)
        At the hottest node: [degC], [1] and where it lies [m].
    profile_times : ndarray, shape (np,)
        Ages of the kept sections [s].
    potential, temperature, solid_fraction : ndarray, shape (np, n)
        Kept sections: [W m-1], [degC], [1].
    final_temperature : ndarray, shape (n,)
        At the end [degC].
    booked : ndarray, shape (section, side, mechanism)
        Heat removed in each section of the schedule [J m-2 of the first face].
    closure : ndarray, shape (fraction,)
        Age at which the hottest node passes each solid fraction [s]; NaN when it does not.
    closure_depth : ndarray, shape (fraction,)
        Where that was [m].
    flux_error, table_error, recount_error : float
        The three energy errors [1].
    steps, rejected, iterations : int
        What it took.
    """

    times: np.ndarray
    surface_temperature: np.ndarray
    heat_flux: np.ndarray
    heat: np.ndarray
    shell: np.ndarray
    equivalent_shell: np.ndarray
    centre_temperature: np.ndarray
    centre_solid_fraction: np.ndarray
    centre_depth: np.ndarray
    profile_times: np.ndarray
    potential: np.ndarray
    temperature: np.ndarray
    solid_fraction: np.ndarray
    final_temperature: np.ndarray
    booked: np.ndarray
    closure: np.ndarray
    closure_depth: np.ndarray
    flux_error: float
    table_error: float
    recount_error: float
    steps: int
    rejected: int
    iterations: int


def _offsets(lengths: Sequence[int]) -> np.ndarray:
    return np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)


def _gather_rows(parts: Sequence[tuple[np.ndarray, np.ndarray, np.ndarray]]) -> tuple[tuple[np.ndarray, ...], list[int]]:
    """Put uniform rows of all slices under one another; returns the arrays and where each slice's rows begin."""
    points = max(p[0].shape[1] for p in parts)
    begins, rows, starts, inverses, count = [], [], [], [], 0
    for row, start, inverse in parts:
        begins.append(count)
        count += len(row)
        rows.append(np.pad(row, ((0, 0), (0, points - row.shape[1])), mode="edge"))
        starts.append(start)
        inverses.append(inverse)
    return (np.concatenate(rows), np.concatenate(starts), np.concatenate(inverses)), begins


def _laws(s: Slice, surface_begin: int, time_rows: np.ndarray, time_begin: int) -> np.ndarray:
    """Laws of one slice with row numbers of the batch, fixed temperatures turned into potentials."""
    laws = s.schedule.laws.copy()
    for column, begin in (("htc_row", surface_begin), ("emissivity_row", surface_begin), ("time_row", time_begin)):
        c = laws[:, :, LAW[column]]
        c[c >= 0] += begin
    fixed = laws[:, :, LAW["fixed"]] > 0
    for i, side in np.argwhere(fixed):
        row = int(laws[i, side, LAW["time_row"]])
        if row >= 0:
            time_rows[row] = s.table.potential(time_rows[row])
        else:
            laws[i, side, LAW["constant"]] = s.table.potential(laws[i, side, LAW["constant"]])
    return laws


def march_slices(slices: Sequence[Slice], source: tuple[np.ndarray, float, float] | None = None) -> list[March]:
    """March a batch of slices, each with its own steel, grid, schedule and samples.

    Parameters
    ----------
    slices : sequence of Slice
        The batch; results do not depend on what else is in it.
    source : tuple, optional
        Volumetric source (values of shape (k, n) [W m-3], first age [s], values per second), for a batch of one.

    Returns
    -------
    list of March

    Raises
    ------
    MarchError
        If a slice does not finish; says which, why and when.
    """
    tables: list[SteelTable] = []
    table_of = np.zeros(len(slices), dtype=np.int64)
    known: dict[int, int] = {}
    for b, s in enumerate(slices):
        if id(s.table) not in known:
            known[id(s.table)] = len(tables)
            tables.append(s.table)
        table_of[b] = known[id(s.table)]
    surface, surface_begins = _gather_rows(
        [(s.schedule.surface_rows, s.schedule.surface_starts, s.schedule.surface_inverses) for s in slices]
    )
    time, time_begins = _gather_rows(
        [(s.schedule.time_rows, s.schedule.time_starts, s.schedule.time_inverses) for s in slices]
    )
    laws = np.concatenate(
        [_laws(s, a, time[0], b) for s, a, b in zip(slices, surface_begins, time_begins, strict=True)]
    )
    levels = np.array([[s.table.level(f) for f in s.fractions] for s in slices])
    nodes = _offsets([s.grid.nodes for s in slices])
    sections = _offsets([len(s.schedule.ends) for s in slices])
    samples = _offsets([len(s.times) for s in slices])
    profiles = _offsets([len(s.profile_times) for s in slices])
    profile_start = _offsets([(len(s.profile_times) + 1) * s.grid.nodes for s in slices])
    controls = np.zeros((len(slices), 5))
    for b, s in enumerate(slices):
        first = 2.0 * s.table.capacity * float(np.diff(s.grid.depth).min()) ** 2
        controls[b] = s.start, s.step, _TOLERANCE * s.tolerance * s.table.scale, first, MAX_STEPS
    total, n_levels = int(samples[-1]), levels.shape[1]
    surface_out, flux_out, heat_out, solid_out = (np.full((2, total), np.nan) for _ in range(4))
    shell_out = np.full((2, n_levels, total), np.nan)
    centre_out = np.full((2, total), np.nan)
    profile_out = np.full(int(profile_start[-1]), np.nan)
    booked = np.zeros((int(sections[-1]), 2, kernels.N_MECHANISMS))
    closure = np.full((len(slices), 2, n_levels), -1.0)
    account = np.zeros((len(slices), 10))
    values, source_start, source_inverse = source if source is not None else (_NO_SOURCE, 0.0, 1.0)
    kernels.march_batch(
        np.array([0, len(slices)], dtype=np.int64),
        nodes,
        np.concatenate([s.grid.depth for s in slices]),
        np.concatenate([s.grid.conductance for s in slices]),
        np.ascontiguousarray(np.concatenate([s.grid.weights for s in slices], axis=1)),
        np.array([s.grid.curved for s in slices]),
        np.array([s.grid.areas for s in slices]),
        table_of,
        _offsets([len(t.hot) for t in tables]),
        np.concatenate([t.hot for t in tables]),
        np.concatenate([t.cold for t in tables]),
        _offsets([len(t.locator) for t in tables]),
        np.concatenate([t.locator for t in tables]),
        np.array([[t.first, t.inverse, t.low, t.high] for t in tables]),
        sections,
        np.concatenate([s.schedule.ends for s in slices]),
        laws,
        *surface,
        *time,
        values,
        float(source_start),
        float(source_inverse),
        np.concatenate([np.asarray(s.initial, dtype=float) for s in slices]),
        controls,
        levels,
        np.array([s.sides for s in slices], dtype=np.int64),
        samples,
        np.concatenate([np.asarray(s.times, dtype=float) for s in slices]),
        surface_out,
        flux_out,
        heat_out,
        shell_out,
        solid_out,
        centre_out,
        profiles,
        np.concatenate([np.asarray(s.profile_times, dtype=float) for s in slices]),
        profile_start,
        profile_out,
        booked,
        closure,
        account,
        np.zeros((kernels.N_WORK, max(s.grid.nodes for s in slices))),
    )
    marches = []
    for b, s in enumerate(slices):
        if account[b, 0] != 0:
            number = f" (slice {b + 1} of {len(slices)})" if len(slices) > 1 else ""
            raise MarchError(f"the march stopped at {account[b, 1]:.4g} s{number}: {kernels.STATUS[int(account[b, 0])]}")
        m = slice(samples[b], samples[b + 1])
        kept = profile_out[profile_start[b] : profile_start[b + 1]].reshape(-1, s.grid.nodes)
        heat = account[b, 6] + account[b, 7]
        norm = max(abs(heat), 1e-300)
        marches.append(
            March(
                np.asarray(s.times, dtype=float),
                surface_out[: s.sides, m],
                flux_out[: s.sides, m],
                heat_out[: s.sides, m],
                shell_out[: s.sides, :, m],
                solid_out[: s.sides, m],
                s.table.temperature(centre_out[0, m]),
                s.table.solid_fraction(centre_out[0, m]),
                centre_out[1, m],
                np.asarray(s.profile_times, dtype=float),
                kept[:-1],
                s.table.temperature(kept[:-1]),
                s.table.solid_fraction(kept[:-1]),
                s.table.temperature(kept[-1]),
                booked[sections[b] : sections[b + 1]],
                np.where(closure[b, 0] < 0, np.nan, closure[b, 0]),
                np.where(closure[b, 0] < 0, np.nan, closure[b, 1]),
                abs(account[b, 8] - heat) / norm if heat != 0 else abs(account[b, 8]),
                account[b, 5] / s.table.latent_heat,
                abs(account[b, 9] - heat) / norm if heat != 0 else abs(account[b, 9]),
                int(account[b, 2]),
                int(account[b, 3]),
                int(account[b, 4]),
            )
        )
    return marches


def march(
    table: SteelTable,
    grid: Grid,
    outer: Sequence[Face],
    *,
    initial: float | np.ndarray,
    times: np.ndarray,
    inner: Sequence[Face] | None = None,
    start: float = 0.0,
    source: Callable[[np.ndarray], np.ndarray] | None = None,
    step: float | None = None,
    tolerance: float = 1.0,
    solid_fractions: Sequence[float] = (0.3, 0.7, 1.0),
) -> March:
    """March one slice from numbers: one's own steel table, faces, weight, source and initial profile.

    Parameters
    ----------
    table : SteelTable
        From `solidify.tables.steel_table`.
    grid : Grid
        From `solidify.grid`.
    outer, inner : sequence of Face
        What acts at depth 0 and at the last node; no `inner` means insulated.
    initial : float or array, shape (n,)
        Temperature at the start [degC].
    times : array, shape (nt,)
        Ages at which everything is kept [s]; the march ends at the last.
    start : float
        Age at the start [s].
    source : callable, optional
        Volumetric heat source [W m-3] of shape (k, n) for an array of k ages; sampled finely, linear between.
    step : float, optional
        Fixed step [s] for tests of order; the last step before a border is shortened to land on it.
    tolerance : float
        Relative to the default.
    solid_fractions : sequence of float
        Fractions whose depth is followed.

    Returns
    -------
    March

    Raises
    ------
    MarchError
        If the march does not finish.
    ValueError
        If the faces or times are not in order.
    """
    sample = np.atleast_1d(np.asarray(times, dtype=float))
    if np.any(np.diff(sample) < 0) or sample[0] < start:
        raise ValueError("times: must not decrease nor lie before the start")
    end = float(sample[-1])
    plan = schedule(outer, inner, start=start, end=end)
    if plan.ends[-1] < end:
        raise ValueError(f"times: the faces end at {plan.ends[-1]:g} s, the last sample lies at {end:g} s")
    phi = np.ascontiguousarray(np.broadcast_to(table.potential(initial), (grid.nodes,)))
    s = Slice(
        table,
        grid,
        plan,
        phi,
        sample,
        sample,
        tuple(solid_fractions),
        2 if inner is not None else 1,
        start,
        step or 0.0,
        tolerance,
    )
    if source is None:
        return march_slices([s])[0]
    ages = np.linspace(start, end, 8193)
    return march_slices([s], (np.ascontiguousarray(source(ages)), start, 8192 / (end - start)))[0]


# From cases


def solve(case: Case, travel: Travel | None = None) -> Result:
    """March the strand of a case from the meniscus to the cut-off.

    Parameters
    ----------
    case : Case
        A checked case.
    travel : Travel, optional
        Where the slice is when; steady casting at the case's speed by default.

    Returns
    -------
    Result

    Raises
    ------
    InputError
        If steel, mould and practice contradict one another.
    MarchError
        If the march does not finish.
    """
    return solve_many([case], travel)[0]


def solve_many(cases: Sequence[Case], travel: Travel | None = None) -> list[Result]:
    """March the strands of many cases as one batch; each result is that of the case alone, bit for bit.

    Parameters
    ----------
    cases : sequence of Case
        Checked cases.
    travel : Travel, optional
        Where every slice is when; steady casting at each case's speed by default.

    Returns
    -------
    list of Result
        In the order of the cases.

    Raises
    ------
    InputError
        If steel, mould and practice of a case contradict one another.
    MarchError
        If a march does not finish.
    """
    strands = [_strand(case, travel) for case in cases]
    marches = march_slices([s for strand in strands for s in strand.slices])
    results, first = [], 0
    for strand in strands:
        last = first + len(strand.slices)
        results.append(_result(strand, marches[first:last]))
        first = last
    return results


@dataclass(frozen=True)
class _Strand:
    """A case made ready: steel, cooling and one slice, or two where the halves are marched apart."""

    case: Case
    steel: Steel
    path: CoolingPath
    heat: Temperatures
    slices: tuple[Slice, ...]
    distance: np.ndarray
    section_distance: np.ndarray
    fractions: tuple[float, ...]


@lru_cache(maxsize=64)
def _table(steel: Steel) -> SteelTable:
    """Build the march table of a steel, once while the steel is in use."""
    density = steel.march_density
    return steel_table(
        steel.temperature, density * steel.enthalpy, steel.conductivity, steel.solid_fraction, kinks=steel.kinks
    )


def _grid(case: Case, whole: bool) -> Grid:
    nodes = case.steps.nodes
    if whole:
        return plate(graded_depth(case.thickness, 2 * nodes - 1, both_ends=True))
    depth = graded_depth(case.half_thickness, nodes)
    if case.section.shape == "round":
        return cylinder(depth)
    return plate(depth) if case.section.shape == "slab" else mid_face(depth, case.thickness / case.width)


def _distances(case: Case, path: CoolingPath) -> np.ndarray:
    """Return output distances: an even step, and every place that something is read at."""
    step = case.steps.output_step_m
    even = np.arange(0.0, case.cutoff, step)
    marks = [s.end for s in path.stretches]
    marks += [z for z in (*case.straightener, case.support_end, case.cutoff) if z <= case.cutoff]
    z = np.unique(np.concatenate([even, marks]))
    keep = np.concatenate([[True], np.diff(z) > 1e-9])
    return z[keep]


def _strand(case: Case, travel: Travel | None) -> _Strand:
    steel = case_steel(case)
    table = _table(steel)
    path = cooling_path(case, steel, travel)
    heat = temperatures(case, steel)
    distance = _distances(case, path)
    section_distance = np.unique(np.append(np.linspace(0.0, case.cutoff, 101), case.working_length))
    times, kept = path.travel.age(distance), path.travel.age(section_distance)
    fractions = tuple(sorted({0.3, 0.7, 1.0, case.shell.solid_fraction}))
    whole = len(path.sides) == 2 and case.section.shape == "slab"
    grid = _grid(case, whole)
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
    return _Strand(case, steel, path, heat, slices, distance, section_distance, fractions)


def _joined(strand: _Strand, marches: Sequence[March]) -> March:
    """Put the march of a strand into one, side by side where its halves were marched apart."""
    if len(marches) == 1 and len(strand.path.sides) == 1:
        return marches[0]
    m = marches[0]
    if len(marches) == 2:  # two halves; the hotter of the two middles speaks for the centre
        other = marches[1]
        hot = np.where(m.centre_temperature >= other.centre_temperature, 0, 1)
        pick = {
            name: np.choose(hot, [getattr(m, name), getattr(other, name)])
            for name in ("centre_temperature", "centre_solid_fraction", "centre_depth")
        }
        side = {
            name: np.concatenate([getattr(m, name), getattr(other, name)])
            for name in ("surface_temperature", "heat_flux", "heat", "shell", "equivalent_shell")
        }
        section = {
            name: np.concatenate([getattr(m, name), getattr(other, name)[:, -2::-1]], axis=1)
            for name in ("potential", "temperature", "solid_fraction")
        }
        worst = {
            name: max(getattr(m, name), getattr(other, name))
            for name in ("flux_error", "table_error", "recount_error", "steps", "rejected", "iterations")
        }
        booked = np.stack([m.booked[:, 0], other.booked[:, 0]], axis=1)
        closure = np.where(np.isnan(m.closure) | np.isnan(other.closure), np.nan, np.fmax(m.closure, other.closure))
        return replace(m, **pick, **side, **section, **worst, booked=booked, closure=closure)
    # the whole thickness: each shell ends where the two met
    shell = m.shell.copy()
    thickness = strand.case.thickness
    for k, (age, met) in enumerate(zip(m.closure, m.closure_depth, strict=True)):
        if np.isfinite(age):
            shell[0, k, m.times >= age] = met
            shell[1, k, m.times >= age] = thickness - met
    return replace(m, shell=shell)


def _result(strand: _Strand, marches: Sequence[March]) -> Result:
    case, path, steel = strand.case, strand.path, strand.steel
    m = _joined(strand, marches)
    grid = strand.slices[0].grid
    depth = grid.depth
    if len(marches) == 2:
        depth = np.concatenate([depth, case.thickness - depth[-2::-1]])
    sides = len(path.sides)
    number = np.searchsorted(path.ages, strand.slices[0].schedule.ends * (1 - 1e-12))
    heat = np.zeros((sides, len(path.stretches), len(MECHANISMS)))
    for section, stretch in enumerate(number):
        heat[:, stretch] += m.booked[section, :sides]
    reference = _reference_temperature(path, strand.distance)
    with np.errstate(divide="ignore", invalid="ignore"):
        coefficient = m.heat_flux / (m.surface_temperature - reference)
    result = Result(
        case=case,
        steel=steel,
        shape_treatment=shape_treatment(case),
        sides=path.sides,
        solid_fractions=np.array(strand.fractions),
        distance=strand.distance,
        time=m.times,
        surface_temperature=m.surface_temperature,
        shell_thickness=m.shell,
        equivalent_shell=m.equivalent_shell,
        centre_temperature=m.centre_temperature,
        centre_solid_fraction=m.centre_solid_fraction,
        heat_flux=m.heat_flux,
        heat_transfer_coefficient=coefficient,
        section_distance=strand.section_distance,
        depth=depth,
        section_temperature=m.temperature,
        section_solid_fraction=m.solid_fraction,
        zones=(),
        mould=path.mould,
        pouring_temperature=strand.heat.pouring,
        tundish_temperature=strand.heat.tundish,
        superheat=strand.heat.superheat,
        half_thickness=case.half_thickness,
        thickness=case.thickness,
        width=case.width,
        balance=Balance(
            heat, m.flux_error, m.table_error, m.recount_error, m.steps, m.rejected, m.iterations, len(depth)
        ),
        summary={},
        sources=path.sources,
        created_by=f"solidify {version('solidify')}",
        created_at=datetime.now(UTC).isoformat(timespec="seconds"),
        headline=case.shell.solid_fraction,
    )
    zones = _zones(result, path)
    result = replace(result, zones=zones)
    notices = (*shape_notices(case), *path.notices, *steel.notices, *_spray_notices(result, path))
    return replace(result, summary=_summary(result, m), notices=notices)


def _reference_temperature(path: CoolingPath, distance: np.ndarray) -> np.ndarray:
    """Return the temperature a coefficient is counted against: the water's, or the surroundings' where dry."""
    ends = np.array([s.end for s in path.stretches])
    values = np.array(
        [s.water_temperature if s.relation or s.kind == "mould" else s.ambient_temperature for s in path.stretches]
    )
    return values[np.minimum(np.searchsorted(ends, distance * (1 - 1e-12)), len(ends) - 1)]


def _zones(result: Result, path: CoolingPath) -> tuple[ZoneResult, ...]:
    zones = []
    begin = 0.0
    for i, (s, age) in enumerate(zip(path.stretches, path.ages, strict=True)):
        removed = result.balance.heat[:, i].sum(axis=1)
        zones.append(
            ZoneResult(
                s.name,
                s.kind,
                s.start,
                s.end,
                s.water,
                s.water_flux,
                removed / max(float(age) - begin, 1e-300),
                removed,
                result.at(result.surface_temperature, s.start),
                result.at(result.surface_temperature, s.end),
            )
        )
        begin = float(age)
    return tuple(zones)


def _spray_notices(result: Result, path: CoolingPath) -> list[Notice]:
    """Say where the surface left the range of a zone's spray relation."""
    found = []
    for s in path.stretches:
        if not s.relation:
            continue
        inside = (result.distance > s.start) & (result.distance <= s.end)
        for side in range(len(path.sides)):
            if s.water_flux[side] > 0:
                label = f'zone "{s.name}"' + (f", {path.sides[side]} side" if len(path.sides) > 1 else "")
                said = range_notices(s.relation, s.water_flux[side], result.surface_temperature[side, inside], where=label)
                found += [n for n in said if "surface" in n.text]
    return found


def _summary(result: Result, m: March) -> dict[str, float | np.ndarray]:
    """Draw the figures of `solidify.result.SUMMARY` from the profiles."""
    case, mould = result.case, result.mould
    exit_, first = mould.working_length, case.zone_bounds[0][1]
    z, surface = result.distance, result.surface_temperature
    shells = result.at(result.shell_thickness, exit_)
    solid = result.fraction_index(1.0)
    end = float(m.closure[solid])
    length = float(np.interp(end, result.time, z)) if np.isfinite(end) else np.nan
    points = case.straightener
    water = [s.water for s in result.zones if s.kind == "zone"]
    through = throughput(case, result.steel)
    falls = [steepest(z, -s, first, case.cutoff)[0] for s in surface]
    rises = [steepest(z, s, exit_, case.cutoff)[0] for s in surface]
    headline = shells[:, result.fraction_index(result.headline)].min()
    return {
        "shell_at_mould_exit": shells.min(axis=0),
        "surface_at_mould_exit": float(result.at(surface, exit_).max()),
        "mean_mould_heat_flux": mould.mean_flux,
        "metallurgical_length": length,
        "solidification_time": end,
        "length_at_solid_fraction_0_99": crossing(z, result.centre_solid_fraction, 0.99),
        "k_mould_exit": float(headline / MM / np.sqrt(mould.dwell / MINUTE)),
        "k_whole_machine": float(result.half_thickness / MM / np.sqrt(end / MINUTE)),
        "surface_at_straightener_in": float(result.at(surface[0], points[0])) if points else np.nan,
        "surface_at_straightener_out": float(result.at(surface[0], points[-1])) if points else np.nan,
        "centre_solid_fraction_at_straightener_in": (
            float(result.at(result.centre_solid_fraction, points[0])) if points else np.nan
        ),
        "surface_at_cutoff": float(surface[0, -1]),
        "centre_at_cutoff": float(result.centre_temperature[-1]),
        "specific_water": float(sum(water)) / through,
        "throughput": through,
        "largest_reheating": max(largest_rise(z, s, exit_, case.cutoff)[0] for s in surface),
        "largest_reheating_rate": float(np.nanmax(rises)) if not np.all(np.isnan(rises)) else np.nan,
        "largest_cooling_rate": float(np.nanmax(falls)) if not np.all(np.isnan(falls)) else np.nan,
    }
