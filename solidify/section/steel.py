"""The steel table of a section: the enthalpy averaged over two kelvins."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from solidify.solver.enthalpy_table import SteelTable, steel_table
from solidify.steel import Steel

__all__ = ["HALF_RANGE", "section_table"]

HALF_RANGE = 1.0
"""The enthalpy of the freezing range is its mean from this much below to this much above a temperature [K].

A cell of a section freezes at its node. Where much heat is set free within a kelvin, as by the peritectic reaction, a
node stays there for a while and the step must end at it; averaged, the march takes a fifth of the time. Surfaces move
by less than 0.3 K, the end of solidification by less than 0.1 %, the heat content not at all."""

_STEP, _BEYOND = 0.25, 30.0
"""Spacing of the averaged stretch, and how far it reaches beyond the freezing range [K]."""


@lru_cache(maxsize=16)
def section_table(steel: Steel) -> SteelTable:
    """Build the table of a section.

    Parameters
    ----------
    steel : Steel
        A steel; that of equal value is found again.

    Returns
    -------
    SteelTable
        Solid fraction and conductivity are those of the steel.
    """
    t, h = steel.temperature, steel.march_density * steel.enthalpy
    half = HALF_RANGE
    low = max(steel.solidus - _BEYOND, float(t[0]) + 2 * half)
    high = min(steel.liquidus + _BEYOND, float(t[-1]) - 2 * half)
    even = np.arange(low, high, _STEP)
    fine = np.unique(np.concatenate([even - half, even + half, t]))
    # of a release at one temperature the steel has two enthalpies there: their mean stands in the integral
    mean = _mean(even, half, fine, t, h)
    below, above = t < low - _STEP, t > even[-1] + _STEP
    temperature = np.concatenate([t[below], even, t[above]])
    k, f = (
        np.concatenate([a[below], np.interp(even, t, a), a[above]])
        for a in (steel.conductivity, steel.solid_fraction)
    )
    if steel.liquidus - steel.solidus < 2.0 * half:  # the solid fraction goes with the heat
        f[below.sum() : below.sum() + len(even)] = _mean(even, half, fine, t, steel.solid_fraction)
    kinks = steel.kinks[(steel.kinks < low - _STEP) | (steel.kinks > even[-1] + _STEP)]
    return steel_table(
        temperature,
        np.concatenate([h[below], mean, h[above]]),
        k,
        f,
        kinks=np.concatenate([kinks, even[:: round(1.0 / _STEP)]]),
    )


def _mean(at: np.ndarray, half: float, fine: np.ndarray, t: np.ndarray, curve: np.ndarray) -> np.ndarray:
    """Mean of a curve over `half` below to `half` above each temperature; a jump counts on its own side."""
    pieces = np.interp(0.5 * (fine[1:] + fine[:-1]), t, curve) * np.diff(fine)
    whole = np.concatenate([[0.0], np.cumsum(pieces)])
    return (np.interp(at + half, fine, whole) - np.interp(at - half, fine, whole)) / (2.0 * half)
