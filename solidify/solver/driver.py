"""Blocks of slices side by side, laid end to end for the kernel, and what it gives for them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, NamedTuple

import numpy as np

from solidify.errors import MarchError
from solidify.solver import kernels
from solidify.solver.boundary import LAW, SURFACE_ROWS, BoundarySchedule
from solidify.solver.enthalpy_table import SteelTable
from solidify.solver.grid import Grid

__all__ = ["MAX_STEPS", "March", "Marched", "Slices", "march_blocks"]

MAX_STEPS = 20_000
"""Most steps, rejected ones counted, before a march gives up."""

_HELP = {
    1: "another number of nodes or another tolerance may pass it, a fixed step must be shorter",
    2: "take fewer nodes or a looser tolerance",
    3: "a prescribed flux takes more heat than the steel holds, or brings some in",
    4: "a number that went in was not finite",
}
"""What may help against each status of `solidify.solver.kernels.STATUS`."""

_TOLERANCE = 1.5
_NO_SOURCE = np.zeros((1, 1))


@dataclass(frozen=True)
class Slices:
    """Slices of one shape side by side: everything with a leading slice axis.

    Parameters
    ----------
    tables : tuple of SteelTable
        The steel of each.
    grid : Grid
        Nodes and weights, of all.
    schedule : BoundarySchedule
        What acts on both faces of each.
    initial : ndarray, shape (slice, n)
        Potentials at the start [W m-1].
    times : ndarray, shape (slice, nt)
        Ages at which to sample [s].
    profile_times : ndarray, shape (slice, np)
        Ages at which to keep the whole section [s].
    fractions, sides, start, step, tolerance
        As in `Slice`, of all.
    """

    tables: tuple[SteelTable, ...]
    grid: Grid
    schedule: BoundarySchedule
    initial: np.ndarray
    times: np.ndarray
    profile_times: np.ndarray
    fractions: tuple[float, ...] = (0.3, 0.7, 1.0)
    sides: int = 1
    start: float = 0.0
    step: float = 0.0
    tolerance: float = 1.0

    def __len__(self) -> int:
        return len(self.tables)


@dataclass(frozen=True)
class March:
    """What the kernel gives for one slice, or with a leading slice axis for slices side by side.

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
    handed : ndarray, shape (section,)
        Heat that had already left those parts of the cross-section which the slice gave up in each section of the
        schedule, since its weight turned [J m-2 of the first face]; 0 where it does not turn. Heat removed is what the
        slice has lost as it stands now, and this.
    centre_solidified : ndarray, shape (fraction,)
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
    handed: np.ndarray
    centre_solidified: np.ndarray
    closure_depth: np.ndarray
    flux_error: Any
    table_error: Any
    recount_error: Any
    steps: Any
    rejected: Any
    iterations: Any

    def of(self, i: int) -> March:
        """Return one of slices side by side."""
        own = {f.name: getattr(self, f.name)[i] for f in fields(self)}
        return March(**own | {name: int(own[name]) for name in ("steps", "rejected", "iterations")})

    def of_rows(self, rows: np.ndarray) -> March:
        """Return some of slices side by side."""
        return March(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})


def _offsets(lengths: Sequence[int]) -> np.ndarray:
    return np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)


def _gather_rows(
    parts: Sequence[tuple[np.ndarray, np.ndarray, np.ndarray]],
) -> tuple[tuple[np.ndarray, ...], list[int]]:
    """Put uniform rows of all slices under one another; returns the arrays and where each slice's rows begin."""
    points = max(p[0].shape[1] for p in parts)
    begins, rows, starts, inverses, count = [], [], [], [], 0
    for row, start, inverse in parts:
        begins.append(count)
        count += len(row)
        short = points - row.shape[1]
        rows.append(np.pad(row, ((0, 0), (0, short)), mode="edge") if short else row)
        starts.append(start)
        inverses.append(inverse)
    return (np.concatenate(rows), np.concatenate(starts), np.concatenate(inverses)), begins


def _both(grid: Grid, name: str) -> np.ndarray:
    """Rows of a grid above those of the grid it turns into, or above themselves."""
    return np.vstack([getattr(each, name) for each in (grid, grid.becomes or grid)])


def _turning(block: Slices) -> np.ndarray:
    """Return of each slice where its weight begins to turn, one over the range, and the equivalent solid fraction."""
    found = np.zeros((len(block), 3))
    if block.grid.becomes is not None:
        begin, end = block.grid.turns
        depth = block.grid.depth
        solid = _states(block.tables, block.initial)[1]
        equivalent = (0.5 * (solid[:, 1:] + solid[:, :-1]) * np.diff(depth)).sum(axis=1) / (
            depth[-1] - depth[0]
        )
        found[:, 0], found[:, 1], found[:, 2] = begin, 1.0 / (end - begin), equivalent
    return found


def _laws(block: Slices, surface_begin: int, time_rows: np.ndarray, time_begin: int) -> np.ndarray:
    """Laws of a block with row numbers of the batch, fixed temperatures turned into potentials."""
    laws = block.schedule.laws.copy()
    for column, begin in [*((name, surface_begin) for name in SURFACE_ROWS), ("time_row", time_begin)]:
        c = laws[..., LAW[column]]
        c[c >= 0] += begin
    held = laws[..., LAW["fixed"]] > 0
    for i in np.nonzero(held.any(axis=(1, 2, 3)))[0]:
        table, own = block.tables[i], laws[i]
        curves = np.unique(own[held[i]][:, LAW["time_row"]])
        for row in curves[curves >= 0].astype(int):
            time_rows[row] = table.potential(time_rows[row])
        single = held[i] & (own[..., LAW["time_row"]] < 0)
        own[single, LAW["constant"]] = table.potential(own[single, LAW["constant"]])
    return laws.reshape(-1, *laws.shape[2:])


def _controls(block: Slices) -> np.ndarray:
    """Return start, fixed step, tolerance, first step and most steps of each slice."""
    scale, capacity = (np.array([getattr(t, name) for t in block.tables]) for name in ("scale", "capacity"))
    found = np.empty((len(block), 5))
    found[:, 0], found[:, 1] = block.start, block.step
    found[:, 2] = _TOLERANCE * block.tolerance * scale
    found[:, 3] = 2.0 * capacity * float(np.diff(block.grid.depth).min()) ** 2
    found[:, 4] = MAX_STEPS
    if block.step > 0:
        needed = 2 * ((block.schedule.ends[:, -1] - block.start) / block.step).astype(int)
        found[:, 4] = np.maximum(MAX_STEPS, needed)
    return found


@dataclass(frozen=True)
class Marched:
    """What became of a block of slices.

    Parameters
    ----------
    march : March
        With a leading slice axis; what stands there for a slice that did not finish means nothing.
    errors : dict of int to MarchError
        Why and when slices stopped, by their number in the block.
    """

    march: March
    errors: dict[int, MarchError]


def march_blocks(
    blocks: Sequence[Slices], source: tuple[np.ndarray, float, float] | None = None
) -> list[Marched]:
    """March blocks of slices as one batch, of which some may fail.

    Parameters
    ----------
    blocks : sequence of Slices
        The batch; results do not depend on what else is in it.
    source
        As for `march_slices`.

    Returns
    -------
    list of Marched
        One for each block.
    """
    steels = [table for block in blocks for table in block.tables]
    tables = [*{id(table): table for table in steels}.values()]
    place = {id(table): i for i, table in enumerate(tables)}
    table_of = np.array([place[id(table)] for table in steels], dtype=np.int64)
    plans = [block.schedule for block in blocks]
    surface, surface_begins = _gather_rows(
        [(p.surface_rows, p.surface_starts, p.surface_inverses) for p in plans]
    )
    time, time_begins = _gather_rows([(p.time_rows, p.time_starts, p.time_inverses) for p in plans])
    laws = np.concatenate(
        [_laws(block, a, time[0], b) for block, a, b in zip(blocks, surface_begins, time_begins, strict=True)]
    )
    wanted = [block.fractions for block in blocks for _ in block.tables]
    read = {
        (i, f): [tables[i].level(each) for each in f]
        for i, f in set(zip(table_of.tolist(), wanted, strict=True))
    }
    levels = np.array([read[key] for key in zip(table_of.tolist(), wanted, strict=True)])
    grids = [block.grid for block in blocks for _ in block.tables]
    times, profile_times = (
        [own for block in blocks for own in getattr(block, name)] for name in ("times", "profile_times")
    )
    nodes = _offsets([grid.nodes for grid in grids])
    sections = _offsets([p.ends.shape[1] for p in plans for _ in range(len(p.ends))])
    samples, profiles = (_offsets(list(map(len, each))) for each in (times, profile_times))
    profile_start = _offsets(
        [(len(z) + 1) * grid.nodes for z, grid in zip(profile_times, grids, strict=True)]
    )
    sides = np.array([block.sides for block in blocks for _ in block.tables], dtype=np.int64)
    total, n_levels = int(samples[-1]), levels.shape[1]
    faces = int(sides.max())  # of a face that no slice reports, memory is asked for but never touched
    surface_out, flux_out, heat_out, solid_out = (np.empty((2, total)) for _ in range(4))
    shell_out = np.empty((2, n_levels, total))
    for out in (surface_out, flux_out, heat_out, solid_out, shell_out):
        out[:faces] = np.nan
    centre_out = np.full((2, total), np.nan)
    profile_out = np.full(int(profile_start[-1]), np.nan)
    booked = np.zeros((int(sections[-1]), 2, kernels.N_MECHANISMS))
    handed = np.zeros(int(sections[-1]))
    count = len(steels)
    centre_solidified = np.full((count, 2, n_levels), -1.0)
    account = np.zeros((count, 10))
    values, source_start, source_inverse = source if source is not None else (_NO_SOURCE, 0.0, 1.0)
    kernels.march_batch(
        np.array([0, count], dtype=np.int64),
        nodes,
        np.concatenate([grid.depth for grid in grids]),
        np.concatenate([_both(grid, "conductance") for grid in grids], axis=1),
        np.concatenate([_both(grid, "weights") for grid in grids], axis=1),
        np.array([grid.curved for grid in grids]),
        np.concatenate([_turning(block) for block in blocks]),
        np.array([grid.areas for grid in grids]),
        table_of,
        _offsets([len(t.hot) for t in tables]),
        np.concatenate([t.hot for t in tables]),
        np.concatenate([t.cold for t in tables]),
        _offsets([len(t.locator) for t in tables]),
        np.concatenate([t.locator for t in tables]),
        np.array([[t.first, t.inverse, *t.reach, 0.002 * t.steepest, *t.steep, *t.mushy] for t in tables]),
        sections,
        np.concatenate([p.ends.ravel() for p in plans]),
        laws,
        *surface,
        *time,
        values,
        float(source_start),
        float(source_inverse),
        np.concatenate([block.initial.ravel() for block in blocks]),
        np.concatenate([_controls(block) for block in blocks]),
        levels,
        sides,
        samples,
        np.concatenate(times),
        surface_out,
        flux_out,
        heat_out,
        shell_out,
        solid_out,
        centre_out,
        profiles,
        np.concatenate(profile_times),
        profile_start,
        profile_out,
        booked,
        handed,
        centre_solidified,
        account,
        kernels.work_space(max(grid.nodes for grid in grids), n_levels),
    )
    outputs = _Outputs(
        surface_out,
        flux_out,
        heat_out,
        shell_out,
        solid_out,
        centre_out,
        profile_out,
        booked,
        handed,
        centre_solidified,
        account,
    )
    begins = _offsets(list(map(len, blocks)))[:-1].tolist()
    return [
        _marched(block, b, outputs, (int(samples[b]), int(profile_start[b]), int(sections[b])))
        for block, b in zip(blocks, begins, strict=True)
    ]


class _Outputs(NamedTuple):
    """Arrays that the kernel has filled for a batch."""

    surface: np.ndarray
    flux: np.ndarray
    heat: np.ndarray
    shell: np.ndarray
    solid: np.ndarray
    centre: np.ndarray
    profile: np.ndarray
    booked: np.ndarray
    handed: np.ndarray
    centre_solidified: np.ndarray
    account: np.ndarray


def _marched(block: Slices, first: int, out: _Outputs, begins: tuple[int, int, int]) -> Marched:
    """Take the slices of a block out of the batch; `begins` are its first sample, kept potential and section."""
    count, nodes = len(block), block.grid.nodes
    sample, profile, section = begins

    def sampled(values: np.ndarray) -> np.ndarray:
        """Return samples of shape (..., batch) as (slice, ..., nt)."""
        own = values[..., sample : sample + block.times.size]
        return np.moveaxis(own.reshape(*own.shape[:-1], *block.times.shape), -2, 0)

    account = out.account[first : first + count]
    size = count * (block.profile_times.shape[1] + 1) * nodes
    kept = out.profile[profile : profile + size].reshape(count, -1, nodes)
    sections = block.schedule.ends.size
    booked = out.booked[section : section + sections].reshape(count, -1, *out.booked.shape[1:])
    handed = out.handed[section : section + sections].reshape(count, -1)
    centre_solidified = out.centre_solidified[first : first + count]
    heat = account[:, 6] + account[:, 7]
    turned_over = np.abs(booked).reshape(count, -1).sum(axis=1)
    norm = np.where(turned_over != 0, np.maximum(np.maximum(np.abs(heat), turned_over), 1e-300), 1.0)
    counted = np.where(turned_over != 0, heat, 0.0)
    centre, solid_centre = _states(block.tables, sampled(out.centre[0]))
    temperature, fraction = _states(block.tables, kept)
    closed = np.where(centre_solidified[:, :1] < 0, np.nan, centre_solidified)
    march = March(
        times=block.times,
        surface_temperature=sampled(out.surface[: block.sides]),
        heat_flux=sampled(out.flux[: block.sides]),
        heat=sampled(out.heat[: block.sides]),
        shell=sampled(out.shell[: block.sides]),
        # a sample lies on a parabola through a step, which may leave what its ends are
        equivalent_shell=np.clip(sampled(out.solid[: block.sides]), 0.0, block.grid.depth[-1]),
        centre_temperature=centre,
        centre_solid_fraction=solid_centre,
        centre_depth=sampled(out.centre[1]),
        profile_times=block.profile_times,
        potential=kept[:, :-1],
        temperature=temperature[:, :-1],
        solid_fraction=fraction[:, :-1],
        final_temperature=temperature[:, -1],
        booked=booked,
        handed=handed,
        centre_solidified=closed[:, 0],
        closure_depth=_met(block, closed, sampled(out.centre[1])),
        flux_error=np.abs(account[:, 8] - counted) / norm,
        table_error=account[:, 5] / np.array([table.latent_heat for table in block.tables]),
        recount_error=np.abs(account[:, 9] - counted) / norm,
        steps=account[:, 2].astype(int),
        rejected=account[:, 3].astype(int),
        iterations=account[:, 4].astype(int),
    )
    errors = {
        int(i): _refusal(int(account[i, 0]), float(account[i, 1]), block.tables[i], kept[i, -1])
        for i in np.flatnonzero(account[:, 0])
    }
    return Marched(march, errors)


def _met(block: Slices, closed: np.ndarray, hottest: np.ndarray) -> np.ndarray:
    """Return the depths where two sides met, (slice, fraction) [m].

    The kernel looks for the vertex of a parabola about the node that is hottest at the end of a step. Where another
    one was when the sides met, as two of them cool to one temperature, the vertex lies anywhere: there the depth of
    the hottest node at the nearest samples is taken.
    """
    ages, depths = closed[:, 0], closed[:, 1].copy()
    grid = block.grid.depth
    if block.sides < 2 or not block.times.shape[1]:
        return depths
    for i, k in zip(*np.isfinite(ages).nonzero(), strict=True):
        after = min(int(block.times[i].searchsorted(ages[i, k])), block.times.shape[1] - 1)
        near = hottest[i, max(after - 1, 0) : after + 1]
        low, high = grid.searchsorted([near.min(), near.max()])
        if not grid[max(low - 2, 0)] <= depths[i, k] <= grid[min(high + 2, len(grid) - 1)]:
            depths[i, k] = near[0]
    return depths


def _states(tables: Sequence[SteelTable], potential: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return temperature and solid fraction of slices side by side, each by its own steel."""
    steels = {id(table): table for table in tables}
    if len(steels) == 1:
        return tables[0].state(potential)
    temperature, fraction = np.empty(potential.shape), np.empty(potential.shape)
    for key, table in steels.items():
        own = [i for i, t in enumerate(tables) if id(t) == key]
        temperature[own], fraction[own] = table.state(potential[own])
    return temperature, fraction


def _refusal(status: int, age: float, table: SteelTable, potential: np.ndarray) -> MarchError:
    """Say when a march stopped and why, where the slice then was, and what may help."""
    low, high = table.temperature(np.array([potential.min(), potential.max()]))
    state = f"the slice then was at {low:.0f} to {high:.0f} °C"
    if status == 3:
        state += " where {:.0f} to {:.0f} °C are known".format(*table.temperature(np.array(table.reach)))
    return MarchError(f"the march stopped at {age:.4g} s: {kernels.STATUS[status]}; {state}; {_HELP[status]}")
