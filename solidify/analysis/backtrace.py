"""Back-tracing: when and where a depth of the piece froze, in which zone and under what surface.

A crack or a band of segregation found at a depth was made while the freezing front stood there. Between two
solid fractions the depth was freezing; what the strand met on that stretch is what the mark can come from.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solidify.errors import InputError, Problem, closest
from solidify.strand.profiles import crossing, highest, largest_rise, steepest
from solidify.strand.result import Result
from solidify.units import MM

__all__ = ["FREEZING", "FrontPass", "Trace", "cold_depth", "front_table", "trace_depth"]

FREEZING = (0.7, 1.0)
"""Solid fractions between which a mark is traced unless others are asked for [1]; common practice, no source."""

AS_PRINTED = 0.05 * MM
"""Half of the last digit of a printed depth [m]: a depth read from a table is not refused for its rounding."""

SPAN = 0.5
"""Length over which rates of the surface count, as for the limits [m]."""


@dataclass(frozen=True)
class FrontPass:
    """The freezing front at one depth.

    Parameters
    ----------
    depth : float
        From the surface of its side, hot [m].
    solid_fraction : float
        What bounds the front [1].
    distance, time : float
        From the meniscus [m] and [s]; NaN when the depth does not get there before the cut-off.
    zone : str
        Stretch of the strand; empty when the depth does not get there.
    surface_temperature : float
        Of that side, there [degC].
    """

    depth: float
    solid_fraction: float
    distance: float
    time: float
    zone: str
    surface_temperature: float


@dataclass(frozen=True)
class Trace:
    """How one depth froze.

    Parameters
    ----------
    depth : float
        From the surface of the side, hot [m].
    side : str
        ``"both"``, ``"loose"`` or ``"fixed"``.
    start, end : FrontPass
        Where it passed the lower and the higher solid fraction.
    zones : tuple of str
        Every stretch of the strand it was freezing in.
    met : tuple of str
        Borders, bending and straightening points on the way from start to end, with their distance.
    steepest_rise, steepest_fall : float
        Of the surface over any 0.5 m that overlaps the freezing [K/m]; NaN without 0.5 m below the mould.
    steepest_rise_at : float
        Where that 0.5 m begins [m].
    largest_rise : float
        Of the surface below the mould until the depth was frozen, local minimum to next maximum [K].
    coldest_surface, coldest_at : float
        Lowest surface below the mould until the depth was frozen [degC] and where [m]; NaN in the mould.
    """

    depth: float
    side: str
    start: FrontPass
    end: FrontPass
    zones: tuple[str, ...]
    met: tuple[str, ...]
    steepest_rise: float
    steepest_rise_at: float
    steepest_fall: float
    largest_rise: float
    coldest_surface: float
    coldest_at: float


def trace_depth(
    result: Result, depth: float, *, between: Sequence[float] = FREEZING, side: str | None = None
) -> Trace:
    """Find when and where a depth froze, and what the surface did meanwhile.

    Parameters
    ----------
    result : Result
        A marched strand.
    depth : float
        From the surface of the side, hot, up to where the sides meet [m].
    between : (float, float)
        Two solid fractions of the result, the lower first [1].
    side : str, optional
        ``"loose"`` or ``"fixed"`` where the two differ; loose by default.

    Returns
    -------
    Trace

    Raises
    ------
    InputError
        For a depth outside the piece, a fraction the result does not hold, or a side it does not have.
    """
    row = _side(result, side)
    problems = [*_fraction_problems(result, between), *_depth_problems(result, depth, row)]
    if problems:
        raise InputError(problems)
    depth = min(depth, _deepest(result, row))
    low, high = between
    start, end = (_front(result, depth, f, row) for f in (low, high))
    cutoff = result.case.cutoff
    first, last = (cutoff if math.isnan(f.distance) else f.distance for f in (start, end))
    exit_ = result.mould.working_length
    z, surface = result.distance, result.surface_temperature[row]
    reach = max(first - SPAN, exit_), min(max(last + SPAN, exit_), cutoff)
    rise, rise_at = map(float, steepest(z, surface, *reach))
    coldest, coldest_at = (
        map(float, highest(z, -surface, exit_, last)) if last > exit_ else (math.nan, math.nan)
    )
    return Trace(
        depth,
        result.sides[row],
        start,
        end,
        tuple(s.name for s in result.zones if s.start < last and s.end > first),
        _met(result, first, last),
        rise,
        rise_at,
        float(steepest(z, -surface, *reach)[0]),
        float(largest_rise(z, surface, exit_, last)[0]) if last > exit_ else 0.0,
        -coldest,
        coldest_at,
    )


def front_table(
    result: Result, depths: Sequence[float] | None = None, *, side: str | None = None
) -> tuple[tuple[FrontPass, ...], ...]:
    """Tell depth by depth where the front passed: depth, distance, time, zone.

    Parameters
    ----------
    result : Result
        A marched strand.
    depths : sequence of float, optional
        From the surface, hot [m]; every 10 mm and the middle by default.
    side : str, optional
        As for `trace_depth`.

    Returns
    -------
    tuple of tuple of FrontPass
        One row a depth, one entry a solid fraction of the result, rising.

    Raises
    ------
    InputError
        As `trace_depth`.
    """
    row = _side(result, side)
    if depths is None:
        deepest = _deepest(result, row)
        depths = [*np.arange(10 * MM, deepest - 1 * MM, 10 * MM).tolist(), deepest]
    problems = [p for depth in depths for p in _depth_problems(result, depth, row)]
    if problems:
        raise InputError(problems)
    deepest = _deepest(result, row)
    return tuple(
        tuple(_front(result, min(depth, deepest), float(f), row) for f in result.solid_fractions)
        for depth in depths
    )


def cold_depth(result: Result, depth: float) -> float:
    """Return what a hot depth reads on a sample at room temperature [m].

    Parameters
    ----------
    result : Result
        A marched strand.
    depth : float
        As cast [m].

    Returns
    -------
    float
        Shrunk from the solidus to the coldest row of the steel; NaN where the steel has no shrinkage.
    """
    return depth * (1.0 - abs(float(result.steel.shrinkage[0])))


def _front(result: Result, depth: float, fraction: float, row: int) -> FrontPass:
    shell = result.shell_thickness[row, result.fraction_index(fraction)]
    length = float(result.summary["metallurgical_length"])
    # each fraction of two unequal sides meets at a depth of its own; round-off must not hide that they met
    met = float(shell.max()) if math.isfinite(length) else math.inf
    at = float(crossing(result.distance, shell, min(depth, met) * (1.0 - 1e-12)))
    if fraction == 1.0 and depth >= _deepest(result, row) * (1.0 - 1e-9) and math.isfinite(length):
        at = length  # found inside a step of the march
    if math.isnan(at):
        return FrontPass(depth, fraction, math.nan, math.nan, "", math.nan)
    return FrontPass(
        depth,
        fraction,
        at,
        float(result.at(result.time, at)),
        next((s.name for s in result.zones if at <= s.end), result.zones[-1].name),
        float(result.at(result.surface_temperature[row], at)),
    )


def _met(result: Result, first: float, last: float) -> tuple[str, ...]:
    """Name what lies strictly after the first and up to the last place, in order."""
    case = result.case
    found = [(s.end, f"end of {s.name}") for s in result.zones[:-1]]
    found += [(z, f"bending point {i}") for i, z in enumerate(case.bending, start=1)]
    found += [(z, f"straightening point {i}") for i, z in enumerate(case.straightener, start=1)]
    return tuple(f"{name} {z:.2f} m" for z, name in sorted(found) if first < z <= last)


def _side(result: Result, side: str | None) -> int:
    if side is None or (len(result.sides) == 1 and side in ("both", "loose", "fixed")):
        return 0
    if side not in result.sides:
        allowed = ", ".join(result.sides)
        raise InputError(Problem("side", repr(side), allowed, closest(side, result.sides)))
    return result.sides.index(side)


def _fraction_problems(result: Result, between: Sequence[float]) -> list[Problem]:
    known = [float(f) for f in result.solid_fractions]
    problems = [
        Problem(
            "solid fraction",
            f"{f:g}",
            ", ".join(f"{k:g}" for k in known),
            do="take one of these"
            + (f", or run the case again with [shell] solid_fraction = {f:g}" if 0.01 <= f <= 1.0 else ""),
        )
        for f in between
        if not any(math.isclose(f, k, abs_tol=1e-9) for k in known)
    ]
    if len(between) != 2 or not between[0] < between[-1]:
        given = ", ".join(f"{f:g}" for f in between)
        problems.append(Problem("solid fractions to trace between", given, "two, the lower first"))
    return problems


def _deepest(result: Result, row: int) -> float:
    """Return how deep the shell of a side can grow: to the middle, or where the two sides met [m]."""
    if len(result.sides) == 1:
        return result.half_thickness
    met = float(result.shell_thickness[row, result.fraction_index(1.0)].max())
    return met if math.isfinite(result.summary["metallurgical_length"]) else max(met, result.half_thickness)


def _depth_problems(result: Result, depth: float, row: int) -> list[Problem]:
    deepest = _deepest(result, row)
    if 0.0 < depth <= deepest + AS_PRINTED:
        return []
    return [
        Problem(
            "depth" if len(result.sides) == 1 else f"depth, {result.sides[row]} side",
            f"{depth / MM:g} mm",
            f"above 0, up to {deepest / MM:.4g} mm, where the sides meet",
            do="count from the nearer surface",
        )
    ]
