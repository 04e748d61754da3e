"""Growth of the shell beside common practice: K, fitted laws with their intervals, and an exact solution."""

from __future__ import annotations

import math
import warnings
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import OptimizeWarning

from solidify.analysis.derived import product_window
from solidify.analysis.handbook import KWindow, ShellFit, fit_shell, solidification_constant
from solidify.exact_solutions import freezing_band
from solidify.steel import Steel
from solidify.strand.result import Result

__all__ = [
    "LAWS",
    "STRETCHES",
    "ExactGrowth",
    "Growth",
    "HandbookComparison",
    "compare_with_handbook",
]

STRETCHES = ("mould exit", "whole machine")
"""Where K is told: two numbers that are not the same."""

LAWS: dict[str, dict[str, float | None]] = {
    "K√t − C": {"exponent": 0.5, "delay": None},
    "a·t^n": {"exponent": None, "delay": 0.0},
    "a·t^n − C": {"exponent": None, "delay": None},
}
"""Laws that are fitted, as `solidify.analysis.handbook.fit_shell` takes them."""

LEAST_POINTS = 8
"""Points of a profile below which nothing is fitted."""


@dataclass(frozen=True)
class Growth:
    """One definition of the shell over one stretch.

    Parameters
    ----------
    solid_fraction : float
        What bounds the shell [1].
    time, shell : float
        At the end of the stretch: mould exit, or where the definition reached the middle [s] and [m]; NaN when
        it does not before the cut-off.
    k : float
        ``s/√t`` there [m s-1/2].
    fits : mapping of str to ShellFit
        By the names of `LAWS`; a law that could not be fitted is absent. A computed profile has no scatter:
        the intervals say how closely the law follows it, not how well the steel is known.
    """

    solid_fraction: float
    time: float
    shell: float
    k: float
    fits: Mapping[str, ShellFit]


@dataclass(frozen=True)
class ExactGrowth:
    """An exact solution beside the march: a flat strand of the steel's mean properties, its surface held.

    Parameters
    ----------
    surface : float
        Mean over the time of the stretch, held from the start [degC].
    k : float
        Of the solidus front, solid fraction 1.0 [m s-1/2].
    """

    surface: float
    k: float


@dataclass(frozen=True)
class HandbookComparison:
    """A strand beside common practice, by stretch.

    Parameters
    ----------
    side : str
        Side of the strand.
    rows : mapping of str to tuple of Growth
        By `STRETCHES`, one a solid fraction, rising.
    window : mapping of str to KWindow
        Of common practice.
    exact : mapping of str to ExactGrowth
        Absent where the exact solution does not exist.
    """

    side: str
    rows: Mapping[str, tuple[Growth, ...]]
    window: Mapping[str, KWindow]
    exact: Mapping[str, ExactGrowth]


def compare_with_handbook(result: Result, *, side: int = 0, confidence: float = 0.95) -> HandbookComparison:
    """Set the growth of the shell beside common practice, for each definition of the shell.

    Parameters
    ----------
    result : Result
        A marched strand.
    side : int
        Row of the sides.
    confidence : float
        Of the intervals [1].

    Returns
    -------
    HandbookComparison
    """
    rows = {
        where: tuple(_growth(result, i, where, side, confidence) for i in range(len(result.solid_fractions)))
        for where in STRETCHES
    }
    exact = {where: _exact(result, where, side) for where in STRETCHES}
    return HandbookComparison(
        result.sides[side],
        rows,
        {where: product_window(result, where) for where in STRETCHES},
        {where: found for where, found in exact.items() if found is not None},
    )


def _growth(result: Result, i: int, where: str, side: int, confidence: float) -> Growth:
    shells = result.shell_thickness[side, i]
    if where == "mould exit":
        end = result.mould.dwell
        shell = float(result.at(shells, result.mould.working_length))
    else:
        end, shell = _closure(result, i, side)
    growing = (
        (shells > 0) & (result.time > 0) & (result.time <= (result.time[-1] if math.isnan(end) else end))
    )
    growing &= (
        shells < (math.inf if math.isnan(shell) else shell * (1 - 1e-9)) if where != "mould exit" else True
    )
    time, depth = result.time[growing], shells[growing]
    fits = {}
    if len(time) >= LEAST_POINTS:
        for name, law in LAWS.items():
            fit = _fit(time, depth, law, confidence)
            if fit is not None:
                fits[name] = fit
    k = math.nan if math.isnan(end) else float(solidification_constant(shell, end))
    return Growth(float(result.solid_fractions[i]), end, shell, k, fits)


def _closure(result: Result, i: int, side: int) -> tuple[float, float]:
    """Return when a definition reached the middle [s] and its shell there [m]; NaN when it did not."""
    if result.solid_fractions[i] == 1.0:
        end = float(result.summary["solidification_time"])
    else:
        reached = np.flatnonzero(result.centre_solid_fraction >= result.solid_fractions[i])
        end = float(result.time[reached[0]]) if len(reached) else math.nan
        if len(reached) and reached[0] > 0:
            j = int(reached[0])
            ends = result.centre_solid_fraction[j - 1 : j + 1]
            end = float(np.interp(result.solid_fractions[i], ends, result.time[j - 1 : j + 1]))
    return end, math.nan if math.isnan(end) else float(result.shell_thickness[side, i].max())


def _fit(
    time: np.ndarray, shell: np.ndarray, law: Mapping[str, float | None], confidence: float
) -> ShellFit | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", OptimizeWarning)
            return fit_shell(time, shell, exponent=law["exponent"], delay=law["delay"], confidence=confidence)
    except (RuntimeError, OptimizeWarning):
        return None  # the law does not settle on this profile


def _exact(result: Result, where: str, side: int) -> ExactGrowth | None:
    """Solve the three regions for a surface held at its mean over the stretch."""
    end = result.mould.dwell if where == "mould exit" else float(result.summary["solidification_time"])
    if math.isnan(end):
        return None
    inside = result.time <= end
    time, surface = result.time[inside], result.surface_temperature[side, inside]
    steel = result.steel
    wall = float(np.trapezoid(surface, time) / (time[-1] - time[0]))
    hot = max(result.pouring_temperature, steel.liquidus + 1.0)
    if wall >= steel.solidus:
        return None
    spans = [(wall, steel.solidus), (steel.solidus, steel.liquidus), (steel.liquidus, hot)]
    conductivity = [_mean(steel, steel.conductivity, *span) for span in spans]
    heat = [float(np.diff(np.interp(span, steel.temperature, steel.enthalpy))[0]) for span in spans]
    heat[1] -= steel.latent_heat
    capacity = [steel.march_density * h / (b - a) for h, (a, b) in zip(heat, spans, strict=True)]
    solution = freezing_band(
        wall=wall,
        solidus=steel.solidus,
        liquidus=steel.liquidus,
        initial=hot,
        conductivity=conductivity,
        heat_capacity=capacity,
        latent_heat=steel.march_density * steel.latent_heat,
    )
    return ExactGrowth(wall, 2.0 * solution.roots[0] * math.sqrt(conductivity[0] / capacity[0]))


def _mean(steel: Steel, values: np.ndarray, low: float, high: float) -> float:
    t = np.unique(
        np.concatenate(
            [[low, high], steel.temperature[(steel.temperature > low) & (steel.temperature < high)]]
        )
    )
    return float(np.trapezoid(np.interp(t, steel.temperature, values), t) / (high - low))
