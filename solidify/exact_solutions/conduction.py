"""Cooling without freezing: plate, cylinder and half space under convection, flux or a fixed surface; a lump."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

from solidify.exact_solutions.checks import check_positive
from solidify.units import STEFAN_BOLTZMANN, ZERO_CELSIUS

__all__ = [
    "cylinder_constant_flux",
    "cylinder_convection",
    "cylinder_convection_heat",
    "lumped_radiation_time",
    "plate_constant_flux",
    "plate_convection",
    "plate_convection_heat",
    "semi_infinite_convection",
    "semi_infinite_fixed",
    "semi_infinite_flux",
]

Array = NDArray[np.float64]


def _eigenvalues(biot: float, terms: int, cylinder: bool) -> Array:
    """Return the first roots of ``z tan z = Bi`` or ``z J1(z) = Bi J0(z)``."""
    check_positive(biot=biot)
    if cylinder:
        low = np.concatenate(([0.0], special.jn_zeros(1, terms - 1)))
        high = special.jn_zeros(0, terms)

        def residual(z: float) -> float:
            return float(z * special.j1(z) - biot * special.j0(z))
    else:
        low = np.pi * np.arange(terms)
        high = low + 0.5 * np.pi

        def residual(z: float) -> float:
            return float(z * np.sin(z) - biot * np.cos(z))

    roots = [optimize.brentq(residual, a, b, xtol=1e-14, rtol=1e-15) for a, b in zip(low, high, strict=True)]
    return np.asarray(roots)


def _convection(fourier: ArrayLike, position: ArrayLike, biot: float, terms: int, cylinder: bool) -> Array:
    zeta = _eigenvalues(biot, terms, cylinder)
    x = np.asarray(position, dtype=float)[..., None]
    if cylinder:
        weight = 2.0 * special.j1(zeta) / (zeta * (special.j0(zeta) ** 2 + special.j1(zeta) ** 2))
        shape = special.j0(zeta * x)
    else:
        weight = 4.0 * np.sin(zeta) / (2.0 * zeta + np.sin(2.0 * zeta))
        shape = np.cos(zeta * x)
    return (weight * shape * np.exp(-(zeta**2) * np.asarray(fourier, dtype=float)[..., None])).sum(-1)


def _convection_heat(fourier: ArrayLike, biot: float, terms: int, cylinder: bool) -> Array:
    zeta = _eigenvalues(biot, terms, cylinder)
    if cylinder:
        weight = 4.0 * biot**2 / (zeta**2 * (zeta**2 + biot**2))
    else:
        weight = 2.0 * biot**2 / (zeta**2 * (zeta**2 + biot**2 + biot))
    decay = np.exp(-(zeta**2) * np.asarray(fourier, dtype=float)[..., None])
    return 1.0 - (weight * decay).sum(-1)


def plate_convection(fourier: ArrayLike, position: ArrayLike, biot: float, terms: int = 80) -> Array:
    """Return the temperature of a plate cooled by convection on both faces.

    Parameters
    ----------
    fourier : array_like
        ``a t/R^2``, R the half thickness [1]; with 80 terms exact to 1e-10 from 1e-3 on.
    position : array_like
        0 at the centre, 1 at the surface [1]; broadcast with `fourier`.
    biot : float
        ``h R/k`` [1].
    terms : int
        Terms of the series.

    Returns
    -------
    ndarray
        ``(T - T_fluid)/(T_initial - T_fluid)`` [1].

    References
    ----------
    carslaw_jaeger_1959, section 3.11 (from memory, re-derived).

    Examples
    --------
    >>> f"{plate_convection(0.5, 1.0, 0.1):.10f}"
    '0.9217789420'
    """
    return _convection(fourier, position, biot, terms, cylinder=False)


def cylinder_convection(fourier: ArrayLike, position: ArrayLike, biot: float, terms: int = 80) -> Array:
    """Return the temperature of a long cylinder cooled by convection.

    Parameters and returns as `plate_convection`, with R the radius [1].

    References
    ----------
    carslaw_jaeger_1959, section 7.7 (from memory, re-derived).

    Examples
    --------
    >>> f"{cylinder_convection(0.5, 0.0, 0.1):.10f}"
    '0.9293402896'
    """
    return _convection(fourier, position, biot, terms, cylinder=True)


def plate_convection_heat(fourier: ArrayLike, biot: float, terms: int = 80) -> Array:
    """Return the share of a plate's heat that has left it, arguments as `plate_convection` [1]."""
    return _convection_heat(fourier, biot, terms, cylinder=False)


def cylinder_convection_heat(fourier: ArrayLike, biot: float, terms: int = 80) -> Array:
    """Return the share of a cylinder's heat that has left it, arguments as `cylinder_convection` [1]."""
    return _convection_heat(fourier, biot, terms, cylinder=True)


def plate_constant_flux(fourier: ArrayLike, position: ArrayLike, terms: int = 80) -> Array:
    """Return how far a plate has cooled under a constant flux from both faces.

    Parameters as `plate_convection`.

    Returns
    -------
    ndarray
        ``(T_initial - T) k/(q R)`` [1].

    References
    ----------
    carslaw_jaeger_1959, section 3.8 (from memory, re-derived).

    Examples
    --------
    >>> f"{plate_constant_flux(0.1, 1.0):.10f}"
    '0.3568262460'
    """
    n = np.arange(1, terms + 1)
    fo, x = np.asarray(fourier, dtype=float), np.asarray(position, dtype=float)
    decay = np.exp(-((n * np.pi) ** 2) * fo[..., None])
    series = ((-1.0) ** n / n**2 * decay * np.cos(n * np.pi * x[..., None])).sum(-1)
    return fo + (3.0 * x**2 - 1.0) / 6.0 - 2.0 / np.pi**2 * series


def cylinder_constant_flux(fourier: ArrayLike, position: ArrayLike, terms: int = 80) -> Array:
    """Return how far a long cylinder has cooled under a constant flux, as `plate_constant_flux`.

    References
    ----------
    carslaw_jaeger_1959, section 7.8 (from memory, re-derived).

    Examples
    --------
    >>> f"{cylinder_constant_flux(0.1, 0.0):.10f}"
    '0.0269218592'
    """
    beta = special.jn_zeros(1, terms)
    fo, x = np.asarray(fourier, dtype=float), np.asarray(position, dtype=float)
    decay = np.exp(-(beta**2) * fo[..., None])
    series = (decay * special.j0(beta * x[..., None]) / (beta**2 * special.j0(beta))).sum(-1)
    return 2.0 * fo + 0.5 * x**2 - 0.25 - 2.0 * series


def semi_infinite_flux(
    depth: ArrayLike,
    time: ArrayLike,
    *,
    initial: float,
    flux: float,
    conductivity: float,
    heat_capacity: float,
) -> Array:
    """Return the temperature of a half space that gives off a constant flux from time 0.

    Parameters
    ----------
    depth, time : array_like
        [m] and [s], time above 0.
    initial : float
        [degC].
    flux : float
        Out of the body [W/m2].
    conductivity : float
        [W/(m K)].
    heat_capacity : float
        By volume [J/(m3 K)].

    Returns
    -------
    ndarray
        [degC].

    References
    ----------
    carslaw_jaeger_1959, section 2.9 (from memory, re-derived).

    Examples
    --------
    Copper plate, 300 kW/m2 for 120 s (incropera_dewitt_2007, example 5.10; printed 45.4 degC at 150 mm):

    >>> t = semi_infinite_flux(0.15, 120.0, initial=20, flux=-3e5, conductivity=401,
    ...                        heat_capacity=401 / 117e-6)
    >>> f"{t:.2f}"
    '45.41'
    """
    depth, time = np.asarray(depth, dtype=float), np.asarray(time, dtype=float)
    root = np.sqrt(conductivity / heat_capacity * time)
    z = depth / (2.0 * root)
    return initial - 2.0 * flux / conductivity * root * (
        np.exp(-(z**2)) / np.sqrt(np.pi) - z * special.erfc(z)
    )


def semi_infinite_convection(
    depth: ArrayLike,
    time: ArrayLike,
    *,
    initial: float,
    fluid: float,
    coefficient: float,
    conductivity: float,
    heat_capacity: float,
) -> Array:
    """Return the temperature of a half space cooled by convection from time 0.

    Parameters
    ----------
    depth, time, initial, conductivity, heat_capacity
        As in `semi_infinite_flux`.
    fluid : float
        [degC].
    coefficient : float
        [W/(m2 K)].

    Returns
    -------
    ndarray
        [degC].

    References
    ----------
    carslaw_jaeger_1959, section 2.7 (from memory, re-derived).
    """
    depth, time = np.asarray(depth, dtype=float), np.asarray(time, dtype=float)
    root = np.sqrt(conductivity / heat_capacity * time)
    z = depth / (2.0 * root)
    far = np.exp(-(z**2)) * special.erfcx(z + coefficient * root / conductivity)
    return initial + (fluid - initial) * (special.erfc(z) - far)


def semi_infinite_fixed(
    depth: ArrayLike,
    time: ArrayLike,
    *,
    initial: float,
    surface: float,
    conductivity: float,
    heat_capacity: float,
) -> Array:
    """Return the temperature of a half space whose surface is held at a temperature from time 0.

    Parameters
    ----------
    depth, time, initial, conductivity, heat_capacity
        As in `semi_infinite_flux`.
    surface : float
        [degC].

    Returns
    -------
    ndarray
        [degC].

    References
    ----------
    carslaw_jaeger_1959, section 2.4 (from memory, re-derived).
    """
    depth, time = np.asarray(depth, dtype=float), np.asarray(time, dtype=float)
    z = depth / (2.0 * np.sqrt(conductivity / heat_capacity * time))
    return surface + (initial - surface) * special.erf(z)


def lumped_radiation_time(
    temperature: ArrayLike, *, initial: float, ambient: float, emissivity: float, heat_per_area: float
) -> Array:
    """Return how long a body without inner gradients takes to cool to a temperature by radiation.

    Parameters
    ----------
    temperature : array_like
        Between `ambient` and `initial` [degC].
    initial, ambient : float
        [degC].
    emissivity : float
        [1].
    heat_per_area : float
        Heat capacity of the body over its radiating surface [J/(m2 K)].

    Returns
    -------
    ndarray, shape of `temperature`
        [s].

    References
    ----------
    bejan_kraus_2003, equation (3.283), page 231 (read).

    Examples
    --------
    >>> t = lumped_radiation_time(900.0, initial=1200, ambient=30, emissivity=0.8, heat_per_area=100640)
    >>> f"{t:.3f} s"
    '227.406 s'
    """
    t, ti = np.asarray(temperature, dtype=float) + ZERO_CELSIUS, initial + ZERO_CELSIUS
    ta = ambient + ZERO_CELSIUS

    def primitive(x: Any) -> Any:
        return np.log((x + ta) / (x - ta)) + 2.0 * np.arctan(x / ta)

    return heat_per_area / (4.0 * emissivity * STEFAN_BOLTZMANN * ta**3) * (primitive(t) - primitive(ti))
