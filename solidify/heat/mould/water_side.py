"""The mould water and the copper: the heat they take, velocity, film coefficient, hot face."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.errors import InputError, Problem
from solidify.heat import water
from solidify.sources import load_data

__all__ = [
    "copper_hot_face",
    "mean_flux_from_water",
    "slot_velocity",
    "tube_slot_area",
    "water_film_coefficient",
    "water_rise",
]

Array = NDArray[np.float64]

Number = float | Array
"""One number, or one of each of several moulds; shapes broadcast."""


def mean_flux_from_water(flow: Number, rise: Number, area: Number, inlet_temperature: Number = 30.0) -> Array:
    """Return the mean mould flux from the heat taken up by the mould water.

    Parameters
    ----------
    flow : float or ndarray
        Mould water, measured at the inlet [m3 s-1].
    rise : float or ndarray
        Outlet minus inlet temperature [K].
    area : float or ndarray
        Strand surface facing that water, from meniscus to mould exit [m2].
    inlet_temperature : float or ndarray
        [degC].

    Returns
    -------
    ndarray, shapes broadcast
        Mean flux [W m-2].

    Raises
    ------
    InputError
        If flow, rise or area is not positive, or the water would boil.

    Examples
    --------
    >>> round(mean_flux_from_water(4000 / 60e3, 5.2, 1.5 * 0.8) / 1e6, 2)
    1.2
    """
    given = {"mould water flow": (flow, "m3/s"), "water rise": (rise, "K"), "area": (area, "m2")}
    problems = [
        Problem(k, f"{np.min(v):g} {unit}", "above 0")
        for k, (v, unit) in given.items()
        if not np.all(np.asarray(v) > 0.0)
    ]
    if problems:
        raise InputError(problems)
    mass_flow = water.density(inlet_temperature) * flow
    return mass_flow * water.specific_heat(inlet_temperature + 0.5 * rise) * rise / area


def water_rise(mean_flux: Number, area: Number, flow: Number, inlet_temperature: Number = 30.0) -> Array:
    """Return how much the mould water warms up.

    Parameters
    ----------
    mean_flux : float or ndarray
        [W m-2].
    area : float or ndarray
        Strand surface facing that water [m2].
    flow : float or ndarray
        Mould water, measured at the inlet [m3 s-1].
    inlet_temperature : float or ndarray
        [degC].

    Returns
    -------
    ndarray, shapes broadcast
        Rise [K].

    Raises
    ------
    InputError
        If flow is not positive, or the water would boil.

    Examples
    --------
    >>> round(water_rise(1.2e6, 1.5 * 0.8, 4000 / 60e3), 1)
    5.2
    """
    if not np.all(np.asarray(flow) > 0.0):
        raise InputError(Problem("mould water flow", f"{np.min(flow):g} m3/s", "above 0"))
    capacity_flow = water.density(inlet_temperature) * flow
    rise = np.zeros(())
    for _ in range(4):  # the specific heat varies by 1e-5 a kelvin: each pass gains four digits
        rise = mean_flux * area / (capacity_flow * water.specific_heat(inlet_temperature + 0.5 * rise))
    return rise


def tube_slot_area(width: Number, thickness: Number, wall: Number, gap: Number) -> Number:
    """Return the area of the water slot around a mould tube.

    Parameters
    ----------
    width, thickness : float or ndarray
        Inner size of the tube [m].
    wall : float or ndarray
        Copper wall [m].
    gap : float or ndarray
        Water gap [m].

    Returns
    -------
    ndarray, shapes broadcast
        Slot area [m2].

    Examples
    --------
    >>> round(tube_slot_area(0.130, 0.130, 0.012, 0.0035) * 1e6)
    2205
    """
    return 2.0 * gap * (width + thickness + 4.0 * wall + 2.0 * gap)


def slot_velocity(flow: Number, slot_area: Number) -> Number:
    """Return the mean velocity of the mould water [m s-1] from flow [m3 s-1] and slot area [m2].

    Parameters
    ----------
    flow : float or ndarray
        Of the water [m3 s-1].
    slot_area : float or ndarray
        Of all slots that the flow passes [m2].

    Returns
    -------
    ndarray, shapes broadcast
        [m s-1].

    Examples
    --------
    >>> round(slot_velocity(1300 / 60e3, tube_slot_area(0.130, 0.130, 0.012, 0.0035)), 1)
    9.8
    """
    return flow / slot_area


def water_film_coefficient(velocity: Number, hydraulic_diameter: Number, water_temperature: Number) -> Array:
    """Return the coefficient between mould copper and mould water.

    Parameters
    ----------
    velocity : float or ndarray
        Mean velocity in the slot [m s-1].
    hydraulic_diameter : float or ndarray
        Of the slot: twice the gap [m].
    water_temperature : float or ndarray
        Bulk of the water [degC].

    Returns
    -------
    ndarray, shapes broadcast
        Coefficient [W m-2 K-1].

    Notes
    -----
    Dittus and Boelter, ``Nu = 0.023 Re^0.8 Pr^0.4``, turbulent flow without boiling; from memory.

    Examples
    --------
    >>> round(water_film_coefficient(10.0, 0.007, 40.0) / 1e3)
    39
    """
    d = load_data("mould.toml")["water_film"]
    viscosity, density = water.viscosity(water_temperature), water.density(water_temperature)
    conductivity = water.conductivity(water_temperature)
    reynolds = density * velocity * hydraulic_diameter / viscosity
    prandtl = viscosity * water.specific_heat(water_temperature) / conductivity
    nusselt = d["c"] * np.float_power(reynolds, d["m"]) * np.float_power(prandtl, d["n"])
    return nusselt * conductivity / hydraulic_diameter


def copper_hot_face(
    flux: ArrayLike,
    wall: Number,
    film_coefficient: Number,
    water_temperature: Number,
    conductivity: float | None = None,
) -> Array:
    """Return an estimate of the temperature of the copper's hot face.

    Parameters
    ----------
    flux : array_like
        Local flux [W m-2].
    wall : float or ndarray
        Copper between hot face and water [m].
    film_coefficient : float or ndarray
        Copper to water, see `water_film_coefficient` [W m-2 K-1].
    water_temperature : float or ndarray
        [degC].
    conductivity : float, optional
        Of the copper [W m-1 K-1]; default 350, silver-bearing copper, common practice.

    Returns
    -------
    ndarray
        Hot-face temperature [degC]: plane wall, no coating, no boiling, no scale.

    Examples
    --------
    >>> round(float(copper_hot_face(2.5e6, 0.012, 39e3, 40.0)))
    190
    """
    k = load_data("mould.toml")["copper"]["conductivity"] if conductivity is None else conductivity
    return water_temperature + np.asarray(flux, dtype=float) * (1.0 / film_coefficient + wall / k)
