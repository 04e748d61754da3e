"""What no strand can be, whatever was asked: hotter than poured, colder than all that cools it, thicker than itself."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from solidify.errors import MarchError
from solidify.solver.driver import March
from solidify.strand.batch import Batch
from solidify.units import MM

__all__ = ["TOLD", "WARMER", "bounded"]

WARMER = 25.0
"""A node may come out this much above the pouring temperature [K].

The march keeps the heat of a cell exactly, with straight lines between nodes. Where a steel that freezes within some
kelvin begins without superheat, the node ahead of the front holds what the bend of the line takes away. It falls with
the number of nodes; of 10,000 random strands the largest was 19 K. Such a node is shown at the pouring temperature.
"""

TOLD = 1.0
"""From here on the result says so [K]."""

COLDER = 1.0
"""The surface may come out this much below what cools it [K]."""

THICKER = 1e-6
"""Share of the thickness that a shell may exceed it by."""

FLUX, TABLE, RECOUNT = 1e-8, 0.02, 1e-3
"""Largest errors of the heat account, as `solidify.strand.result.Balance` has them; a hundred times the usual."""


def bounded(batch: Batch, march: March) -> tuple[March, np.ndarray, dict[int, MarchError]]:
    """Hold marches to what a strand can be.

    Parameters
    ----------
    batch : Batch
        Where they come from.
    march : March
        Of its strands, both sides in one.

    Returns
    -------
    March
        With no temperature above the hottest of steel and surroundings.
    ndarray, shape (strand,)
        How much of the temperatures was above it [K].
    dict of int to MarchError
        Why a strand is none, by its row.
    """
    hottest, coldest = _hottest(batch), _coldest(batch)
    errors: dict[int, MarchError] = {}

    def refuse(wrong: np.ndarray, say: Callable[[int], str]) -> None:
        for i in np.flatnonzero(wrong):
            errors.setdefault(int(i), MarchError(f"the march left what can be: {say(int(i))}"))

    fields = {
        name: getattr(march, name) for name in ("surface_temperature", "centre_temperature", "temperature")
    }
    with np.errstate(invalid="ignore"):
        tops = np.array([_most(values) for values in fields.values()])
        above = np.maximum(tops.max(axis=0) - hottest, 0.0)
        below = coldest[:, None, :] - march.surface_temperature
        thickness = batch.cases[0].thickness
        depth = thickness if len(batch.sides) == 2 and len(batch.slices) == 1 else 0.5 * thickness
        shells = (march.shell, march.equivalent_shell)
        thin = np.min([_least(values) for values in shells], axis=0)
        thick = np.max([_most(values) for values in shells], axis=0)
        profiles = (*fields.values(), *shells, march.heat_flux, march.centre_solid_fraction)
        finite = np.isfinite(np.array([_most(np.abs(values)) for values in profiles])).all(axis=0)
        refuse(np.logical_not(finite), lambda i: "numbers without end")
        refuse(
            above > WARMER,
            lambda i: (
                f"{above[i]:.0f} K warmer than poured; give more [steps] nodes, or widen the freezing range"
            ),
        )
        refuse(_most(below) > COLDER, lambda i: _cold(batch, i, march, coldest[i]))
        slack = THICKER * thickness
        refuse(
            (thin < -slack) | (thick > depth + slack),
            lambda i: (
                f"a shell of {thin[i] / MM:.1f} to {thick[i] / MM:.1f} mm in {depth / MM:.1f} mm of steel"
            ),
        )
        for name, most in (("flux error", FLUX), ("table error", TABLE), ("recount error", RECOUNT)):
            found = getattr(march, name.replace(" ", "_"))
            refuse(np.logical_not(found <= most), partial(_unbalanced, name, found))
    if above.any():
        limited = {
            name: np.minimum(values, hottest.reshape(-1, *[1] * (values.ndim - 1)))
            for name, values in fields.items()
        }
        march = replace(march, **limited)
    return march, above, errors


def _unbalanced(name: str, found: np.ndarray, i: int) -> str:
    return f"the heat account has a {name} of {found[i]:.1e}"


def _most(values: np.ndarray) -> np.ndarray:
    """Largest of each strand; NaN where there is one."""
    return values.reshape(len(values), -1).max(axis=1)


def _least(values: np.ndarray) -> np.ndarray:
    return values.reshape(len(values), -1).min(axis=1)


def _hottest(batch: Batch) -> np.ndarray:
    """Hottest of what is poured and what is around it, shape (strand,) [degC]."""
    found = np.array([heat.pouring for heat in batch.heats])
    for s in batch.paths.stretches:
        found = np.maximum(found, np.maximum(s.water_temperature, s.ambient_temperature))
    return found


def _coldest(batch: Batch) -> np.ndarray:
    """Coldest of what has cooled the slice by then, shape (strand, distance) [degC]."""
    found = np.empty((len(batch), len(batch.distance)))
    least = np.array([heat.pouring for heat in batch.heats])
    begin = 0
    for s in batch.paths.stretches:
        least = np.minimum(least, np.minimum(s.water_temperature, s.ambient_temperature))
        end = int(batch.distance.searchsorted(s.end * (1 + 1e-12), "right"))
        found[:, begin:end] = least[:, None]
        begin = end
    found[:, begin:] = least[:, None]
    return found


def _cold(batch: Batch, i: int, march: March, coldest: np.ndarray) -> str:
    """Say where the surface is colder than all that has cooled it, and what takes too much."""
    below = coldest - march.surface_temperature[i]
    side, place = np.unravel_index(int(below.argmax()), below.shape)
    first = int((below[side] > COLDER).argmax())
    z = float(batch.distance[first])
    stretch = next((s for s in batch.paths.stretches if z <= s.end * (1 + 1e-12)), batch.paths.stretches[-1])
    where = f'zone "{stretch.name}"' if stretch.kind == "zone" else stretch.name
    temperature = march.surface_temperature[i, side, place]
    return (
        f"the surface cools to {temperature:.0f} °C, below the coldest water or air so far, {coldest[place]:.0f} °C; "
        f"from {z:.2f} m, {where}, on; a prescribed heat flux there, or before, takes more than the steel can give: "
        "lower it, or give a heat-transfer coefficient"
    )
