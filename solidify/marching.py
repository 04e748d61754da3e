"""The march of cases, from strands made ready to results."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from importlib.metadata import version
from itertools import islice

import numpy as np

from solidify.batch import Strand, attempt, batches
from solidify.case import Case
from solidify.cooling import CoolingPath, History, Travel
from solidify.errors import MarchError, Notice, SolidifyError
from solidify.primary import with_taper
from solidify.profiles import crossing, largest_rise, read_at, steepest
from solidify.result import MECHANISMS, Balance, Result, ZoneResult
from solidify.schedule import Face
from solidify.slices import March, march, marched_slices
from solidify.spray import surface_notices
from solidify.strand import shape_notices, shape_treatment, throughput
from solidify.units import MINUTE, MM

__all__ = ["CHUNK", "Face", "March", "march", "solve", "solve_each", "solve_many"]

CHUNK = 128
"""Cases marched together: enough to share what is laid out once, few enough for memory and a prompt answer."""


def solve(case: Case, travel: Travel | History | None = None) -> Result:
    """March the strand of a case from the meniscus to the cut-off.

    Parameters
    ----------
    case : Case
        A checked case.
    travel : Travel or History, optional
        Where the slice is when, and what water the zones then have; steady casting as in the case by default.

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


def solve_many(
    cases: Iterable[Case],
    travel: Travel | History | None = None,
    *,
    on_chunk: Callable[[int, list[Result | SolidifyError]], object] | None = None,
    chunk: int = CHUNK,
) -> list[Result]:
    """March the strands of many cases; each result is that of the case alone, bit for bit.

    Parameters
    ----------
    cases : iterable of Case
        Checked cases; of a generator a chunk is taken at a time.
    travel : Travel or History, optional
        Where every slice is when, and what water the zones then have; steady casting as in each case by default.
    on_chunk : callable, optional
        Called with the place of its first case (from 0) and the results of each chunk, in order, as soon as it is
        marched. A strand that could not be marched stands there as its error and stops nothing. Only one chunk
        is held in memory.
    chunk : int
        Cases marched together.

    Returns
    -------
    list of Result
        In the order of the cases; empty where `on_chunk` has had them.

    Raises
    ------
    InputError
        If steel, mould and practice of a case contradict one another, and there is no `on_chunk`.
    MarchError
        If a march does not finish, likewise.

    Examples
    --------
    >>> from solidify.case import demo_case
    >>> cases = (demo_case().replace({"casting.superheat_K": k}) for k in (20, 30, 40))
    >>> def show(first, results):
    ...     for i, result in enumerate(results, first):
    ...         print(i, f"{result.summary['metallurgical_length']:.1f} m")
    >>> solve_many(cases, on_chunk=show)
    0 13.0 m
    1 13.2 m
    2 13.5 m
    []
    """
    waiting, first = iter(cases), 0
    kept: list[Result | SolidifyError] = []
    while batch := list(islice(waiting, chunk)):
        results = solve_each(batch, travel)
        if on_chunk is None:
            kept += results
        else:
            on_chunk(first, results)
        first += len(batch)
        del batch, results
    for i, result in enumerate(kept, 1):
        if isinstance(result, MarchError) and len(kept) > 1:
            raise MarchError(f"{result} (strand {i} of {len(kept)})") from result
        if isinstance(result, SolidifyError):
            raise result
    return [r for r in kept if isinstance(r, Result)]


def solve_each(
    cases: Sequence[Case], travel: Travel | History | None = None, *, sections: bool = True
) -> list[Result | SolidifyError]:
    """March the strands of many cases as one batch, of which some may fail.

    Parameters
    ----------
    cases, travel
        As for `solve_many`.
    sections : bool
        Whether to keep the field over the section all along the strand; else only at mould exit. Nothing else
        changes by it.

    Returns
    -------
    list of Result or SolidifyError
        In the order of the cases; the error in the place of a strand that could not be marched.
    """
    ready, wrong = batches(cases, travel, sections=sections)
    found: dict[int, Result | SolidifyError] = {**wrong}
    for batch in ready:
        marches = marched_slices(batch.slices)
        for i, place in enumerate(batch.places):
            own = marches[i :: len(batch)]
            failed = [m for m in own if isinstance(m, MarchError)]
            found[place] = failed[0] if failed else attempt(_result, batch[i], own)
    return [found[i] for i in range(len(cases))]


@lru_cache(maxsize=1)
def _created_by() -> str:
    return f"solidify {version('solidify')}"


def _halves(m: March, other: March) -> March:
    """Put two halves marched apart side by side; the hotter of the two middles speaks for the centre."""
    hot = np.where(m.centre_temperature >= other.centre_temperature, 0, 1)

    def hotter(name: str) -> np.ndarray:
        return np.choose(hot, [getattr(m, name), getattr(other, name)])

    def both(name: str) -> np.ndarray:
        return np.concatenate([getattr(m, name), getattr(other, name)])

    def across(name: str) -> np.ndarray:
        return np.concatenate([getattr(m, name), getattr(other, name)[:, -2::-1]], axis=1)

    open_still = np.isnan(m.closure) | np.isnan(other.closure)
    return replace(
        m,
        centre_temperature=hotter("centre_temperature"),
        centre_solid_fraction=hotter("centre_solid_fraction"),
        centre_depth=hotter("centre_depth"),
        surface_temperature=both("surface_temperature"),
        heat_flux=both("heat_flux"),
        heat=both("heat"),
        shell=both("shell"),
        equivalent_shell=both("equivalent_shell"),
        potential=across("potential"),
        temperature=across("temperature"),
        solid_fraction=across("solid_fraction"),
        booked=np.stack([m.booked[:, 0], other.booked[:, 0]], axis=1),
        closure=np.where(open_still, np.nan, np.fmax(m.closure, other.closure)),
        flux_error=max(m.flux_error, other.flux_error),
        table_error=max(m.table_error, other.table_error),
        recount_error=max(m.recount_error, other.recount_error),
        steps=max(m.steps, other.steps),
        rejected=max(m.rejected, other.rejected),
        iterations=max(m.iterations, other.iterations),
    )


def _joined(strand: Strand, marches: Sequence[March]) -> March:
    """Put the march of a strand into one, side by side where its halves were marched apart."""
    if len(marches) == 1 and len(strand.path.sides) == 1:
        return marches[0]
    m = marches[0]
    if len(marches) == 2:
        return _halves(m, marches[1])
    # the whole thickness: each shell ends where the two met
    shell = m.shell.copy()
    thickness = strand.case.thickness
    for k, (age, met) in enumerate(zip(m.closure, m.closure_depth, strict=True)):
        if np.isfinite(age):
            shell[0, k, m.times >= age] = met
            shell[1, k, m.times >= age] = thickness - met
    return replace(m, shell=shell)


def _result(strand: Strand, marches: Sequence[March]) -> Result:
    case, path, steel = strand.case, strand.path, strand.steel
    m = _joined(strand, marches)
    grid = strand.slices[0].grid
    depth = grid.depth
    if len(marches) == 2:
        depth = np.concatenate([depth, case.thickness - depth[-2::-1]])
    sides = len(path.sides)
    number = np.searchsorted(path.ages, strand.slices[0].schedule.ends[0] * (1 - 1e-12))
    heat = np.zeros((sides, len(path.stretches), len(MECHANISMS)))
    for section, stretch in enumerate(number):
        heat[:, stretch] += m.booked[section, :sides]
    reference = _reference_temperature(path, strand.distance)
    with np.errstate(divide="ignore", invalid="ignore"):
        coefficient = m.heat_flux / (m.surface_temperature - reference)
    notices = (*shape_notices(case), *path.notices, *steel.notices)
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
        zones=_zones(path, heat.sum(axis=2), strand.distance, m.surface_temperature),
        mould=with_taper(path.mould, case, steel, strand.distance, m.surface_temperature),
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
        notices=(*notices, *_spray_notices(path, strand.distance, m.surface_temperature)),
        created_by=_created_by(),
        created_at=datetime.now(UTC).isoformat(timespec="seconds"),
        headline=case.shell.solid_fraction,
    )
    result.summary.update(_summary(result, m))
    return result


def _reference_temperature(path: CoolingPath, distance: np.ndarray) -> np.ndarray:
    """Return the temperature a coefficient is counted against: the water's, or the surroundings' where dry."""
    ends = np.array([s.end for s in path.stretches])
    values = np.array(
        [
            s.water_temperature if s.relation or s.kind == "mould" else s.ambient_temperature
            for s in path.stretches
        ]
    )
    return values[np.minimum(np.searchsorted(ends, distance * (1 - 1e-12)), len(ends) - 1)]


def _zones(
    path: CoolingPath, removed: np.ndarray, distance: np.ndarray, surface: np.ndarray
) -> tuple[ZoneResult, ...]:
    """Sum up each stretch; `removed` is the heat taken in it, (side, stretch) [J m-2]."""
    mean = removed / np.maximum(np.diff(path.ages, prepend=0.0), 1e-300)
    borders = [0.0, *(s.end for s in path.stretches)]
    there = [read_at(distance, surface, z) for z in borders]
    return tuple(
        ZoneResult(
            s.name,
            s.kind,
            s.start,
            s.end,
            s.water,
            s.water_flux,
            mean[:, i],
            removed[:, i],
            there[i],
            there[i + 1],
        )
        for i, s in enumerate(path.stretches)
    )


def _spray_notices(path: CoolingPath, distance: np.ndarray, surface: np.ndarray) -> list[Notice]:
    """Say where the surface left the range of a zone's spray relation."""
    found: list[Notice] = []
    for s in path.stretches:
        if not s.relation:
            continue
        inside = slice(*distance.searchsorted((s.start, s.end), "right"))
        for side in range(len(path.sides)):
            if s.water_flux[side] > 0:
                label = f'zone "{s.name}"' + (f", {path.sides[side]} side" if len(path.sides) > 1 else "")
                found += surface_notices(s.relation, surface[side, inside], where=label)
    return found


def _meeting_depth(result: Result, m: March, solid: int) -> float:
    """Return where the two shells met [m]: off the middle where the whole thickness was marched."""
    if not np.isfinite(m.closure[solid]):
        return np.nan
    whole = len(result.sides) == 2 and result.case.section.shape == "slab"
    return float(m.closure_depth[solid]) if whole else result.half_thickness


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
    headline = shells[:, result.fraction_index(result.headline)].min()
    return {
        "shell_at_mould_exit": shells.min(axis=0),
        "surface_at_mould_exit": float(result.at(surface, exit_).max()),
        "mean_mould_heat_flux": mould.mean_flux,
        "metallurgical_length": length,
        "solidification_time": end,
        "meeting_depth": _meeting_depth(result, m, solid),
        "length_at_solid_fraction_0_99": float(crossing(z, result.centre_solid_fraction, 0.99)),
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
        "largest_reheating": float(largest_rise(z, surface, exit_, case.cutoff)[0].max()),
        "largest_reheating_rate": float(steepest(z, surface, exit_, case.cutoff)[0].max()),
        "largest_cooling_rate": float(steepest(z, -surface, first, case.cutoff)[0].max()),
    }
