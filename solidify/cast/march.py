"""The march of some slices of a cast, and the result of one."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np

from solidify.cast.definition import Cast
from solidify.cast.findings import SliceResults, slice_results
from solidify.cast.layout import Births, CastLayout, SliceBatch, births
from solidify.errors import MarchError
from solidify.solver.driver import Marched, march_blocks
from solidify.solver.march import March
from solidify.strand.assemble import AssembledBatch, assemble
from solidify.strand.result import Result

__all__ = ["march_slices_of", "solve_slice"]


def march_slices_of(
    layout: CastLayout, own: Births, *, sections: bool = False
) -> tuple[SliceBatch, AssembledBatch, SliceResults, np.ndarray]:
    """March some slices of a cast.

    Parameters
    ----------
    layout : CastLayout
        Of the cast.
    own : Births
        Which.
    sections : bool
        As `CastLayout.lay`.

    Returns
    -------
    SliceBatch, AssembledBatch, SliceResults
        What was marched, and what came of it.
    ndarray, shape (side, slice, stand, reading)
        Surface while each slice stood [degC]; NaN where it was not in the machine.

    Raises
    ------
    MarchError
        If one of them does not finish; it names the slice.
    """
    made = layout.lay(own, sections=sections)
    blocks = march_blocks(made.marched)
    for block in blocks:
        for i, error in block.errors.items():
            raise MarchError(f"slice at {own.label[i]:.2f} m of cast: {error}")
    stood = np.empty((len(layout.sides), *made.stood_time.shape))
    stood[:] = np.nan
    if made.order is not None:
        wanted, count = made.order, len(layout.base.distance)
        surface = np.concatenate([block.march.surface_temperature for block in blocks], axis=1)
        surface = surface[:, : len(layout.sides)]
        extra = np.take_along_axis(surface, wanted[:, None, count:], axis=2)
        stood = np.moveaxis(extra.reshape(len(own), -1, *made.stood_time.shape[1:]), 1, 0)
        stood = np.where(np.isnan(made.stood_time), np.nan, stood)
        blocks = [Marched(_at(block.march, wanted[:, :count]), {}) for block in blocks]
    (drawn,), _ = assemble(made.batch, blocks)
    speed = np.asarray(layout.cast.clock.speed_at(own.time))
    results = slice_results(drawn.results, made, speed)
    return made, replace(drawn, results=results), results, stood


_SAMPLED = (
    "times",
    "surface_temperature",
    "heat_flux",
    "heat",
    "shell",
    "equivalent_shell",
    "centre_temperature",
    "centre_solid_fraction",
    "centre_depth",
)


def _at(march: March, columns: np.ndarray) -> March:
    """Return a march with some of its samples, (slice, sample) of each."""
    taken = {}
    for f in fields(March):
        value = getattr(march, f.name)
        if f.name in _SAMPLED:
            index = columns.reshape(len(columns), *[1] * (value.ndim - 2), -1)
            taken[f.name] = np.take_along_axis(value, index, axis=-1)
        else:
            taken[f.name] = value
    return March(**taken)


def solve_slice(cast: Cast, label: float) -> Result:
    """March the slice of one label, with the section all along the strand.

    Parameters
    ----------
    cast : Cast
        A cast.
    label : float
        Length cast before it [m].

    Returns
    -------
    Result
    """
    layout = CastLayout(cast)
    own = births(cast, np.array([label]))
    rows = np.array([int(np.abs(own.label - label).argmin())])
    _, drawn, _, _ = march_slices_of(layout, own.of(rows), sections=True)
    return drawn.result(0)
