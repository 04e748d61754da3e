"""A steel from one's own numbers, constants or short tables."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from solidify.errors import InputError, Notice, Problem
from solidify.sources import EVIDENCE
from solidify.steel.coefficients import entries
from solidify.steel.curve import BOTTOM, TOP, Steel, distinct_kinks, merged_temperatures
from solidify.steel.path import LEAST_RANGE
from solidify.steel.properties import pool_factor, stirred_limits, stirring_problems
from solidify.units import ZERO_CELSIUS

__all__ = ["steel_from_numbers"]

Numbers = float | Sequence[Sequence[float]]
"""One value, or pairs of temperature [degC] and value, rising in temperature."""

_Table = tuple[np.ndarray, np.ndarray]
_HOTTEST = 1e4
_COLDEST = -ZERO_CELSIUS


def _table(name: str, given: Numbers, unit: str, problems: list[Problem]) -> _Table:
    """Return knots [degC] and values of a number or a table, noting what is wrong with it."""
    nothing = np.array([BOTTOM]), np.array([1.0])
    if isinstance(given, int | float | np.number) and not isinstance(given, bool):
        rows = [(BOTTOM, float(given))]
    else:
        try:
            rows = [(float(row[0]), float(row[1])) for row in given]  # type: ignore[union-attr]
            tidy = len(rows) > 0 and all(len(row) == 2 for row in given)  # type: ignore[union-attr]
        except (TypeError, ValueError, IndexError):
            tidy = False
        if not tidy:
            problems.append(
                Problem(name, repr(given), f"a number in {unit} or [[temperature_C, {unit}], ...]")
            )
            return nothing
    before = len(problems)
    for i, (t, value) in enumerate(rows):
        where = name if len(rows) == 1 else f"{name} row {i + 1}"
        if not (math.isfinite(value) and value > 0.0):
            problems.append(Problem(where, f"{value} {unit}", f"above 0 {unit}"))
        if not _COLDEST < t < _HOTTEST:
            problems.append(Problem(where, f"{t} degC", "a temperature in degC"))
        elif i and t <= rows[i - 1][0]:
            problems.append(
                Problem(
                    where,
                    f"{t:g} degC after {rows[i - 1][0]:g} degC",
                    "rising temperatures",
                    do="sort the rows",
                )
            )
    if len(problems) > before:
        return nothing
    knots, values = np.array(rows).T
    return knots, values


def steel_from_numbers(
    liquidus: float,
    solidus: float,
    latent_heat: float,
    density: float,
    specific_heat: Numbers,
    conductivity: Numbers,
    liquid_specific_heat: Numbers | None = None,
    liquid_conductivity: Numbers | None = None,
    liquid_conductivity_factor: float = 5.0,
    stirred_liquid_fraction: tuple[float, float] | None = None,
) -> Steel:
    """Return a steel from constants or short tables.

    Parameters
    ----------
    liquidus, solidus : float
        [degC]; a range below 0.2 K is widened to it, downwards, with a notice.
    latent_heat : float
        [J/kg]
    density : float
        [kg/m3]
    specific_heat : float or pairs
        Of the solid [J/(kg K)], a number or ``[[degC, value], ...]``; flat beyond its ends.
    conductivity : float or pairs
        Of the solid [W/(m K)], likewise.
    liquid_specific_heat : float or pairs, optional
        Of the liquid [J/(kg K)]; default: the solid's at the liquidus.
    liquid_conductivity : float or pairs, optional
        Of the liquid at rest [W/(m K)]; default: the solid's at the liquidus.
    liquid_conductivity_factor : float
        What stirring multiplies the conductivity of the open pool by, 1 to 50 [1].
    stirred_liquid_fraction : (float, float), optional
        Liquid fraction up to which nothing is stirred, and from which all is [1]; default 0.8 and 1.0.

    Returns
    -------
    Steel
        Without composition, class or shrinkage.

    Raises
    ------
    InputError
        With everything that is wrong.

    Notes
    -----
    Solid fraction is linear between solidus and liquidus. Specific heat is fs cs + (1 - fs) cl; enthalpy is
    its exact integral plus the latent heat. Conductivity is fs ks + (1 - fs) kl (1 + (factor - 1) r).

    Examples
    --------
    >>> steel = steel_from_numbers(1510.0, 1460.0, 272e3, 7400.0, 680.0, 30.0, 820.0, 34.0, 1.0)
    >>> round(steel.heat_between(1510.0, 1460.0))
    309500
    """
    problems: list[Problem] = []
    numbers = (
        ("liquidus", liquidus, 100.0, 3000.0, "degC"),
        ("solidus", solidus, BOTTOM + 1.0, 3000.0, "degC"),
        ("latent_heat", latent_heat, 0.0, 2e6, "J/kg"),
        ("density", density, 100.0, 30000.0, "kg/m3"),
    )
    for name, value, low, high, unit in numbers:
        if not (isinstance(value, int | float | np.number) and low <= value <= high):
            problems.append(Problem(name, f"{value} {unit}".strip(), f"{low:g} to {high:g} {unit}".strip()))
    problems += stirring_problems(liquid_conductivity_factor, stirred_liquid_fraction)
    if not problems and solidus > liquidus:
        problems.append(Problem("solidus", f"{solidus:g} degC", f"at most the liquidus, {liquidus:g} degC"))
    heat = _table("specific_heat", specific_heat, "J/(kg K)", problems)
    conduct = _table("conductivity", conductivity, "W/(m K)", problems)
    liquid_heat = liquid_conduct = None
    if liquid_specific_heat is not None:
        liquid_heat = _table("liquid_specific_heat", liquid_specific_heat, "J/(kg K)", problems)
    if liquid_conductivity is not None:
        liquid_conduct = _table("liquid_conductivity", liquid_conductivity, "W/(m K)", problems)
    if problems:
        raise InputError(problems)

    notices = []
    if liquidus - solidus < LEAST_RANGE:
        text = (
            f"the freezing range {liquidus - solidus:.3g} K is widened to {LEAST_RANGE} K, below the liquidus"
        )
        notices.append(Notice(text, "steel"))
        solidus = liquidus - LEAST_RANGE
    return _assembled(
        float(liquidus),
        float(solidus),
        float(latent_heat),
        float(density),
        (heat, liquid_heat or _constant(heat, liquidus)),
        (conduct, liquid_conduct or _constant(conduct, liquidus)),
        float(liquid_conductivity_factor),
        stirred_limits(stirred_liquid_fraction),
        tuple(notices),
    )


def _constant(table: _Table, temperature: float) -> _Table:
    return np.array([BOTTOM]), np.interp([temperature], *table)


def _assembled(
    liquidus: float,
    solidus: float,
    latent_heat: float,
    density: float,
    heat: tuple[_Table, _Table],
    conduct: tuple[_Table, _Table],
    factor: float,
    stirred: tuple[float, float],
    notices: tuple[Notice, ...],
) -> Steel:
    """Return the curve of checked numbers."""
    span = liquidus - solidus
    ramp = [solidus + share * span for share in stirred]
    knots = np.concatenate([table[0] for table in (*heat, *conduct)])
    top = max(TOP, liquidus + 100.0)
    knots = np.concatenate((knots[(knots > BOTTOM) & (knots < top)], ramp))
    kinks = distinct_kinks(knots, (solidus, liquidus))
    inside = solidus + span * 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, 81)))
    temperature = merged_temperatures(kinks, inside, top)

    def fraction(t: np.ndarray) -> np.ndarray:
        return np.clip((liquidus - t) / span, 0.0, 1.0)

    def specific(t: np.ndarray) -> np.ndarray:
        fs = fraction(t)
        return fs * np.interp(t, *heat[0]) + (1.0 - fs) * np.interp(t, *heat[1])

    # between knots the blend is a quadratic in temperature, so Simpson's rule is exact
    start, end = temperature[:-1], temperature[1:]
    mean = (specific(start) + 4.0 * specific(0.5 * (start + end)) + specific(end)) / 6.0
    fs = fraction(temperature)
    sensible = np.concatenate(([0.0], np.cumsum(mean * (end - start))))
    conductivity = fs * np.interp(temperature, *conduct[0])
    conductivity += (1.0 - fs) * np.interp(temperature, *conduct[1]) * pool_factor(fs, factor, stirred)
    known = ("user", EVIDENCE["user"])
    hot = {name: fs for name, fs in entries("segregation")["hot_strength"].items() if isinstance(fs, float)}
    return Steel(
        temperature=temperature,
        enthalpy=sensible + latent_heat * (1.0 - fs),
        conductivity=conductivity,
        solid_fraction=fs,
        density=np.full(temperature.size, density),
        shrinkage=np.full(temperature.size, np.nan),
        kinks=kinks,
        liquidus=liquidus,
        solidus=solidus,
        march_density=density,
        latent_heat=latent_heat,
        temperatures={name: liquidus - span * value for name, value in hot.items()},
        path_model="linear",
        evidence={"properties": known},
        notices=notices,
    )
