"""The lower door of the march: slices from numbers, one or a batch, with one's own steel, faces, weight and source."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from solidify.errors import MarchError
from solidify.solver.boundary import BoundaryCondition, BoundarySchedule, schedule
from solidify.solver.driver import March, Slices, march_blocks
from solidify.solver.enthalpy_table import SteelTable
from solidify.solver.grid import Grid

__all__ = ["BoundaryCondition", "March", "Slice", "march", "march_slices", "marched_slices"]


@dataclass(frozen=True)
class Slice:
    """One slice as the kernel takes it.

    Parameters
    ----------
    table : SteelTable
        The steel.
    grid : Grid
        Nodes and weights.
    schedule : BoundarySchedule
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
    schedule: BoundarySchedule
    initial: np.ndarray
    times: np.ndarray
    profile_times: np.ndarray
    fractions: tuple[float, ...] = (0.3, 0.7, 1.0)
    sides: int = 1
    start: float = 0.0
    step: float = 0.0
    tolerance: float = 1.0

    def block(self) -> Slices:
        """Return the slice as a block of one."""
        return Slices(
            (self.table,),
            self.grid,
            self.schedule,
            np.asarray(self.initial, dtype=float)[None],
            np.asarray(self.times, dtype=float)[None],
            np.asarray(self.profile_times, dtype=float)[None],
            self.fractions,
            self.sides,
            self.start,
            self.step,
            self.tolerance,
        )


def march_slices(
    slices: Sequence[Slice | Slices], source: tuple[np.ndarray, float, float] | None = None
) -> list[March]:
    """March a batch of slices, each with its own steel, grid, schedule and samples.

    Parameters
    ----------
    slices : sequence of Slice or Slices
        The batch, single slices and blocks of them; results do not depend on what else is in it.
    source : tuple, optional
        Volumetric source (values of shape (k, n) [W m-3], first age [s], values per second), for a batch of
        one.

    Returns
    -------
    list of March

    Raises
    ------
    MarchError
        If a slice does not finish; says which, why and when.
    """
    marches = marched_slices(slices, source)
    for b, m in enumerate(marches, 1):
        if isinstance(m, MarchError):
            raise m if len(marches) == 1 else MarchError(f"{m} (slice {b} of {len(marches)})")
    return [m for m in marches if isinstance(m, March)]


def marched_slices(
    slices: Sequence[Slice | Slices], source: tuple[np.ndarray, float, float] | None = None
) -> list[March | MarchError]:
    """March a batch of slices of which some may fail.

    Parameters
    ----------
    slices, source
        As for `march_slices`.

    Returns
    -------
    list of March or MarchError
        Of every slice, those of a block behind one another; the error in the place of a slice that did not
        finish says why and when.
    """
    blocks = [s.block() if isinstance(s, Slice) else s for s in slices]
    return [
        done.errors.get(i) or done.march.of(i)
        for block, done in zip(blocks, march_blocks(blocks, source), strict=True)
        for i in range(len(block))
    ]


def march(
    table: SteelTable,
    grid: Grid,
    outer: Sequence[BoundaryCondition],
    *,
    initial: float | np.ndarray,
    times: np.ndarray,
    inner: Sequence[BoundaryCondition] | None = None,
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
        From `solidify.solver.enthalpy_table.steel_table`.
    grid : Grid
        From `solidify.solver.grid`.
    outer, inner : sequence of BoundaryCondition
        What acts at depth 0 and at the last node; no `inner` means insulated.
    initial : float or array, shape (n,)
        Temperature at the start [degC].
    times : array, shape (nt,)
        Ages at which everything is kept [s]; the march ends at the last.
    start : float
        Age at the start [s].
    source : callable, optional
        Volumetric heat source [W m-3] of shape (k, n) for an array of k ages; sampled finely, linear between.
        The account of heat does not count it: its two errors are then NaN.
    step : float, optional
        Fixed step [s] for tests of order; the last step before a border is shortened to land on it. A fixed
        step that cannot be solved ends the march: it is not halved.
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
        If the faces or times are not in order, or a source meets a weight that turns.
    """
    if source is not None and grid.becomes is not None:
        raise ValueError("source: a slice whose weight turns takes none; take a grid that stays as it is")
    sample = np.atleast_1d(np.asarray(times, dtype=float))
    if np.any(np.diff(sample) < 0) or sample[0] < start:
        raise ValueError("times: must not decrease nor lie before the start")
    end = float(sample[-1])
    plan = schedule(outer, inner, start=start, end=end)
    if plan.ends[0, -1] < end:
        raise ValueError(f"times: the faces end at {plan.ends[0, -1]:g} s, the last sample lies at {end:g} s")
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
    done = march_slices([s], (np.ascontiguousarray(source(ages) * grid.volume), start, 8192 / (end - start)))[
        0
    ]
    return replace(done, flux_error=np.nan, recount_error=np.nan)
