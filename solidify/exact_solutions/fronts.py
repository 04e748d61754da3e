"""Freezing fronts under a given flux or under convection: one in closed form, one between bounds."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "convective_freezing_bounds",
    "travelling_front",
    "travelling_front_flux",
]

Array = NDArray[np.float64]


def travelling_front(
    depth: ArrayLike,
    time: ArrayLike,
    *,
    speed: float,
    melting: float,
    conductivity: float,
    heat_capacity: float,
    latent_heat: float,
) -> Array:
    """Return the temperature behind a front that advances at constant speed under `travelling_front_flux`.

    The liquid is at its melting point; the shell is ``speed * time``. The one freezing problem with a
    prescribed flux that has a closed form: ``T = Tm - (L/c) (exp((v/a)(v t - x)) - 1)``.

    Parameters
    ----------
    depth : array_like
        From the cooled face [m].
    time : array_like
        [s].
    speed : float
        Of the front [m/s].
    melting : float
        [degC].
    conductivity : float
        [W/(m K)].
    heat_capacity, latent_heat : float
        By volume [J/(m3 K)] and [J/m3].

    Returns
    -------
    ndarray
        [degC].

    References
    ----------
    mitchell_vynnycky_2009 (abstract read; re-derived).

    Examples
    --------
    >>> t = travelling_front(0.0, 10.0, speed=0.6e-3, melting=1500, conductivity=30,
    ...                      heat_capacity=7400 * 680, latent_heat=7400 * 272e3)
    >>> f"{t:.4f}"
    '1168.3483'
    """
    a = conductivity / heat_capacity
    behind = np.maximum(speed * np.asarray(time, dtype=float) - np.asarray(depth, dtype=float), 0.0)
    return melting - latent_heat / heat_capacity * np.expm1(speed / a * behind)


def travelling_front_flux(time: ArrayLike, *, speed: float, latent_heat: float, diffusivity: float) -> Array:
    """Return the surface flux that drives a front at constant speed, ``L v exp(v^2 t/a)``.

    Parameters
    ----------
    time, speed, latent_heat
        As in `travelling_front`.
    diffusivity : float
        [m2/s].

    Returns
    -------
    ndarray, shape of `time`
        Out of the strand [W/m2].
    """
    return latent_heat * speed * np.exp(speed**2 * np.asarray(time, dtype=float) / diffusivity)


def convective_freezing_bounds(
    time: ArrayLike,
    *,
    coefficient: float,
    ambient: float,
    melting: float,
    conductivity: float,
    heat_capacity: float,
    latent_heat: float,
) -> tuple[Array, Array]:
    """Return a thickness that the shell surely has, and one that it surely has not, under steady convection.

    Liquid at its melting point, constant coefficient and ambient temperature, half space. In units of k/h the
    quasi-steady shell s solves ``s + s^2/2 = St t h^2/(k c)``; the true one is not above it, and not below
    ``s/(1 + (St/2) s/(1 + s))``.

    Parameters
    ----------
    coefficient : float
        [W/(m2 K)].
    ambient : float
        [degC].
    time, melting, conductivity, heat_capacity, latent_heat
        As in `travelling_front`.

    Returns
    -------
    tuple of ndarray
        Lower and upper bound [m].

    References
    ----------
    Derived here from convexity of the profile; solomon_alexiades_wilson_1984 (from memory) treat the class.
    """
    stefan_number = heat_capacity * (melting - ambient) / latent_heat
    length = conductivity / coefficient
    scaled = conductivity / heat_capacity / length**2 * np.asarray(time, dtype=float)
    high = np.sqrt(1.0 + 2.0 * stefan_number * scaled) - 1.0
    low = high / (1.0 + 0.5 * stefan_number * high / (1.0 + high))
    return length * low, length * high
