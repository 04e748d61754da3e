"""What is drawn from marches: strands side by side with their summary, and each of them as a `Result`."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from importlib.metadata import version

import numpy as np

from solidify.errors import MarchError, Notice, SolidifyError
from solidify.heat.spray import relation
from solidify.heat.spray_range import joined, surface_notice
from solidify.solver.driver import March, Marched
from solidify.strand.batch import Batch
from solidify.strand.bounds import TOLD, bounded
from solidify.strand.cooling import CoolingPaths
from solidify.strand.mould import with_taper
from solidify.strand.profiles import crossing, read_at
from solidify.strand.result import Balance, Result, ZoneResult
from solidify.strand.result_batch import MOULD_FIGURES, Results, Segment
from solidify.strand.setup import shape_notices, shape_treatment, shape_weight
from solidify.units import MINUTE, MM

__all__ = ["AssembledBatch", "assemble"]

_CENTRE_SOLID = {f"length_at_solid_fraction_{fs:g}".replace(".", "_"): fs for fs in (0.3, 0.7, 0.9, 0.99)}
"""Figure of the summary -> solid fraction that the centre has there [1]."""


@dataclass(frozen=True)
class AssembledBatch:
    """Strands of a batch that are judged alike.

    Parameters
    ----------
    batch : Batch
        Where they come from.
    rows : ndarray of int, shape (strand,)
        Their numbers in the batch.
    march : March
        Of these strands, both sides in one.
    heat : ndarray, shape (strand, side, stretch, mechanism)
        Heat removed [J m-2 of slice surface].
    handed : ndarray, shape (strand, side, stretch)
        See `solidify.strand.result.Balance` [J m-2 of slice surface].
    results : Results
        What they are judged by.
    """

    batch: Batch
    rows: np.ndarray
    march: March
    heat: np.ndarray
    handed: np.ndarray
    results: Results

    @property
    def places(self) -> list[int]:
        """Where each strand stood among the cases given."""
        return [self.batch.places[row] for row in self.rows]

    def result(self, i: int) -> Result:
        """Return one strand by itself.

        Parameters
        ----------
        i : int
            Which of them.

        Returns
        -------
        Result
        """
        batch, results, row = self.batch, self.results, int(self.rows[i])
        case, steel, heat, path = batch.cases[row], batch.steels[row], batch.heats[row], batch.paths[row]
        m = self.march.of(i)
        reference = _reference_temperature(batch.paths, batch.distance)[row]
        with np.errstate(divide="ignore", invalid="ignore"):
            coefficient = m.heat_flux / (m.surface_temperature - reference)
        surface = m.surface_temperature
        there = read_at(batch.distance, surface, [0.0, *(s.end for s in path.stretches)])
        removed = self.heat[i].sum(axis=2)
        return Result(
            case=case,
            steel=steel,
            shape_treatment=shape_treatment(case),
            weight=shape_weight(case),
            sides=batch.sides,
            solid_fractions=results.solid_fractions,
            distance=batch.distance,
            time=m.times,
            surface_temperature=surface,
            shell_thickness=m.shell,
            equivalent_shell=m.equivalent_shell,
            centre_temperature=m.centre_temperature,
            centre_solid_fraction=m.centre_solid_fraction,
            heat_flux=m.heat_flux,
            heat_transfer_coefficient=coefficient,
            section_distance=batch.section_distance,
            depth=results.depth,
            section_temperature=m.temperature,
            section_solid_fraction=m.solid_fraction,
            zones=tuple(
                ZoneResult(
                    s.name,
                    s.kind,
                    s.start,
                    s.end,
                    s.water,
                    s.water_flux,
                    results.mean_flux[i, :, k],
                    removed[:, k],
                    there[:, k],
                    there[:, k + 1],
                )
                for k, s in enumerate(path.stretches)
            ),
            mould=with_taper(path.mould, case, steel, batch.distance, surface),
            pouring_temperature=heat.pouring,
            tundish_temperature=heat.tundish,
            superheat=heat.superheat,
            half_thickness=case.half_thickness,
            thickness=case.thickness,
            width=case.width,
            balance=Balance(
                self.heat[i],
                m.flux_error,
                m.table_error,
                m.recount_error,
                m.steps,
                m.rejected,
                m.iterations,
                len(results.depth),
                self.handed[i],
            ),
            summary={
                name: values[i] if values.ndim > 1 else float(values[i])
                for name, values in results.summary.items()
            },
            sources=path.sources,
            notices=results.notices[i],
            created_by=_created_by(),
            created_at=datetime.now(UTC).isoformat(timespec="seconds"),
            headline=case.shell.solid_fraction,
        )


def assemble(
    batch: Batch, blocks: Sequence[Marched]
) -> tuple[list[AssembledBatch], dict[int, SolidifyError]]:
    """Draw the strands of a batch from their marches.

    Parameters
    ----------
    batch : Batch
        Cases made ready.
    blocks : sequence of Marched
        Of `Batch.slices`.

    Returns
    -------
    list of AssembledBatch
        The strands that finished, those that are judged alike side by side.
    dict of int to SolidifyError
        What stopped the others, by their place among the cases given.
    """
    wrong: dict[int, MarchError] = {}
    march, above, unphysical = bounded(batch, _joined(batch, [block.march for block in blocks]))
    wrong |= unphysical
    for block in blocks:
        wrong |= block.errors
    alike: dict[Hashable, list[int]] = {}
    for i, (case, steel) in enumerate(zip(batch.cases, batch.steels, strict=True)):
        if i not in wrong:
            curve = case.steel.reduction_of_area_percent
            alike.setdefault((id(steel), repr(case.limits), curve), []).append(i)
    heat = _heat(batch, march)
    by_side = march.handed if march.handed.ndim > 2 else march.handed[..., None]
    handed = _by_stretch(batch, np.broadcast_to(by_side, (*by_side.shape[:2], len(batch.sides))))
    whole = len(alike) == 1 and not wrong
    drawn = []
    for own in alike.values():
        rows = np.array(own)
        m, booked = (march, heat) if whole else (march.of_rows(rows), heat[rows])
        drawn.append(
            AssembledBatch(batch, rows, m, booked, handed[rows], _results(batch, rows, m, booked, above))
        )
    return drawn, {batch.places[i]: error for i, error in wrong.items()}


@lru_cache(maxsize=1)
def _created_by() -> str:
    return f"solidify {version('solidify')}"


def _joined(batch: Batch, marches: Sequence[March]) -> March:
    """Put the marches of the strands into one, side by side where their halves were marched apart."""
    m = marches[0]
    if len(marches) == 2:
        return _halves(m, marches[1])
    if len(batch.sides) == 1:
        return m
    # the whole thickness: each shell ends where the two met
    frozen, met = m.times[:, None] >= m.centre_solidified[..., None], m.closure_depth[..., None]
    ends = np.stack((met, batch.cases[0].thickness - met), axis=1)
    solid = batch.fractions.index(1.0)
    grown = np.where(frozen[:, None, solid], ends[:, :, solid], m.equivalent_shell)
    return replace(m, shell=np.where(frozen[:, None], ends, m.shell), equivalent_shell=grown)


def _halves(m: March, other: March) -> March:
    """Put two halves marched apart side by side; the hotter of the two middles speaks for the centre."""
    first = m.centre_temperature >= other.centre_temperature

    def hotter(name: str) -> np.ndarray:
        return np.where(first, getattr(m, name), getattr(other, name))

    def both(name: str) -> np.ndarray:
        return np.concatenate([getattr(m, name), getattr(other, name)], axis=1)

    def across(name: str) -> np.ndarray:
        return np.concatenate([getattr(m, name), getattr(other, name)[..., -2::-1]], axis=-1)

    def most(name: str) -> np.ndarray:
        return np.maximum(getattr(m, name), getattr(other, name))

    open_still = np.isnan(m.centre_solidified) | np.isnan(other.centre_solidified)
    return replace(
        m,
        **{name: hotter(name) for name in ("centre_temperature", "centre_solid_fraction", "centre_depth")},
        **{
            name: both(name)
            for name in ("surface_temperature", "heat_flux", "heat", "shell", "equivalent_shell")
        },
        **{name: across(name) for name in ("potential", "temperature", "solid_fraction")},
        **{name: most(name) for name in ("flux_error", "table_error", "recount_error")},
        **{name: most(name) for name in ("steps", "rejected", "iterations")},
        booked=np.stack([m.booked[:, :, 0], other.booked[:, :, 0]], axis=2),
        handed=np.stack([m.handed, other.handed], axis=2),
        centre_solidified=np.where(open_still, np.nan, np.fmax(m.centre_solidified, other.centre_solidified)),
    )


def _heat(batch: Batch, m: March) -> np.ndarray:
    """Book the heat of each section of the schedule to its stretch, (strand, side, stretch, mechanism) [J m-2]."""
    return _by_stretch(batch, m.booked[:, :, : len(batch.sides)])


def _by_stretch(batch: Batch, values: np.ndarray) -> np.ndarray:
    """Sum what sections of the schedule hold, (strand, section, side, ...), to (strand, side, stretch, ...)."""
    ages = batch.paths.ages
    ends = batch.slices[0].schedule.ends * (1 - 1e-12)
    stretch = (ages[:, None] < ends[..., None]).sum(axis=2)  # (strand, section)
    found = np.zeros((len(batch), ages.shape[1], *values.shape[2:]))
    strand = np.arange(len(batch))
    for section, own in enumerate(stretch.T):
        found[strand, own] += values[:, section]
    return np.ascontiguousarray(found.swapaxes(1, 2))


def _reference_temperature(paths: CoolingPaths, distance: np.ndarray) -> np.ndarray:
    """Return what a coefficient is counted against, (strand, distance) [degC]: water, or the surroundings where dry."""
    ends = np.array([s.end for s in paths.stretches])
    values = np.array(
        [
            s.water_temperature if s.relation or s.kind == "mould" else s.ambient_temperature
            for s in paths.stretches
        ]
    )
    return values[np.minimum(np.searchsorted(ends, distance * (1 - 1e-12)), len(ends) - 1)].T


def _results(batch: Batch, rows: np.ndarray, m: March, heat: np.ndarray, above: np.ndarray) -> Results:
    """Draw the strands in some rows of a batch, whose marches these are."""
    case, steel, paths = batch.cases[rows[0]], batch.steels[rows[0]], batch.paths
    depth = batch.slices[0].grid.depth
    if len(batch.slices) == 2:
        depth = np.concatenate([depth, case.thickness - depth[-2::-1]])
    seconds = np.maximum(np.diff(paths.ages[rows], prepend=0.0), 1e-300)
    exit_row = int(abs(batch.section_distance - case.working_length).argmin())
    results = Results(
        case=case,
        steel=steel,
        sides=batch.sides,
        solid_fractions=np.array(batch.fractions),
        headline=case.shell.solid_fraction,
        distance=batch.distance,
        depth=depth,
        zones=tuple(Segment(s.name, s.kind, s.start, s.end) for s in paths.stretches),
        working_length=case.working_length,
        thickness=case.thickness,
        width=case.width,
        speed=np.array([batch.cases[i].speed for i in rows]),
        superheat=np.array([batch.heats[i].superheat for i in rows]),
        surface_temperature=m.surface_temperature,
        heat_flux=m.heat_flux,
        shell_thickness=m.shell,
        centre_temperature=m.centre_temperature,
        centre_solid_fraction=m.centre_solid_fraction,
        exit_temperature=m.temperature[:, exit_row],
        mean_flux=heat.sum(axis=3) / seconds[:, None],
        mould={name: getattr(paths.mould, name)[rows] for name in MOULD_FIGURES},
        flux_measured=np.full(len(rows), paths.mould.measured),
        balance_error=np.maximum(np.maximum(m.flux_error, m.table_error), m.recount_error),
        notices=_notices(batch, rows, m.surface_temperature, above),
        summary={},
    )
    results.summary.update(_summary(batch, rows, m, results))
    return results


def _notices(
    batch: Batch, rows: np.ndarray, surface: np.ndarray, above: np.ndarray
) -> tuple[tuple[Notice, ...], ...]:
    """Return what a reader should know of each strand, with where its surface left the range of a relation."""
    left: list[dict[str, dict[str, np.ndarray]]] = [{} for _ in rows]
    for s in batch.paths.stretches:
        if not s.relation:
            continue
        inside = slice(*batch.distance.searchsorted((s.start, s.end), "right"))
        law = relation(s.relation)
        low, high = law.surface_range
        high = high if law.depends_on_surface_temperature else np.inf
        there = surface[..., inside]
        off = (there.min(axis=2, initial=np.inf) < low) | (there.max(axis=2, initial=-np.inf) > high)
        off &= s.water_flux[rows] > 0
        for i, side in zip(*off.nonzero(), strict=True):
            label = s.name + (f", {batch.sides[side]} side" if len(batch.sides) > 1 else "")
            left[i].setdefault(s.relation, {})[label] = there[i, side]
    shape, steel = shape_notices(batch.cases[rows[0]]), batch.steels[rows[0]].notices
    found = []
    for row, own in zip(rows, left, strict=True):
        sprayed = [notice for name, zones in own.items() for notice in surface_notice(name, zones)]
        if above[row] > TOLD:
            text = (
                f"the grid made the pool up to {above[row]:.0f} K warmer than it was poured; shown as poured. "
                "More [steps] nodes lessen it"
            )
            sprayed.append(Notice(text, "numbers"))
        found.append((*shape, *joined([*batch.paths.notices[row], *sprayed]), *steel))
    return tuple(found)


def _summary(batch: Batch, rows: np.ndarray, m: March, results: Results) -> dict[str, np.ndarray]:
    """Draw the figures of `solidify.strand.result.SUMMARY` from the profiles."""
    z, surface, centre = results.distance, results.surface_temperature, results.centre_solid_fraction
    none = np.full(len(results), np.nan)
    solid, headline = results.fraction_index(1.0), results.fraction_index(results.headline)
    end, frozen = m.centre_solidified[:, solid], np.isfinite(m.centre_solidified[:, solid])
    length = [np.interp(age, own, z) if age == age else np.nan for age, own in zip(end, m.times, strict=True)]
    whole = len(batch.sides) == 2 and len(batch.slices) == 1
    met = m.closure_depth[:, solid] if whole else np.full(len(results), results.half_thickness)
    points = results.straightener
    ends = (points[0], points[-1]) if points else ()
    at_ends = read_at(z, surface[:, 0], ends).T if points else (none, none)
    water = sum(np.asarray(s.water)[rows] for s in batch.paths.stretches if s.kind == "zone")
    through = batch.throughputs[rows]
    dwell = results.mould["dwell"]
    thin = results.exit_shells.min(axis=1)
    equivalent = read_at(z, m.equivalent_shell, results.working_length).min(axis=1)
    per_root = MM * np.sqrt(dwell / MINUTE)
    return {
        "shell_at_mould_exit": thin,
        "surface_at_mould_exit": read_at(z, surface, results.working_length).max(axis=1),
        "mean_mould_heat_flux": results.mould["mean_flux"],
        "metallurgical_length": np.array(length),
        "solidification_time": end,
        "meeting_depth": np.where(frozen, met, np.nan),
        **dict(zip(_CENTRE_SOLID, crossing(z, centre, list(_CENTRE_SOLID.values())).T, strict=True)),
        "k_mould_exit": thin[:, headline] / per_root,
        "k_mould_exit_at_solid_fraction_0_3": thin[:, results.fraction_index(0.3)] / per_root,
        "k_mould_exit_at_solid_fraction_0_7": thin[:, results.fraction_index(0.7)] / per_root,
        "k_mould_exit_equivalent": equivalent / per_root,
        "k_whole_machine": results.half_thickness / MM / np.sqrt(end / MINUTE),
        "surface_at_straightener_in": at_ends[0],
        "surface_at_straightener_out": at_ends[1],
        "centre_solid_fraction_at_straightener_in": read_at(z, centre, points[0]) if points else none,
        "surface_at_cutoff": surface[:, 0, -1],
        "centre_at_cutoff": results.centre_temperature[:, -1],
        "specific_water": water / through,
        "throughput": through,
        "largest_reheating": results.largest_rise[0].max(axis=1),
        "largest_reheating_rate": results.steepest_rise[0].max(axis=1),
        "largest_cooling_rate": results.steepest_fall[0].max(axis=1),
    }
