"""Conduction with a conductivity linear in temperature, through its potential."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.exact_solutions.conduction import plate_constant_flux

__all__ = [
    "kirchhoff_plate_flux",
    "kirchhoff_potential",
    "kirchhoff_steady",
    "kirchhoff_temperature",
]

Array = NDArray[np.float64]


def kirchhoff_potential(
    temperature: ArrayLike, *, conductivity: float, slope: float, reference: float
) -> Array:
    """Return the conduction potential of ``k = k0 (1 + b (T - T_ref))``, zero at the reference.

    Parameters
    ----------
    temperature : array_like
        [degC].
    conductivity : float
        At the reference, k0 [W/(m K)].
    slope : float
        b [1/K].
    reference : float
        T_ref [degC].

    Returns
    -------
    ndarray, shape of `temperature`
        Integral of k over temperature [W/m].

    References
    ----------
    carslaw_jaeger_1959, section 1.6 (from memory).
    """
    t = np.asarray(temperature, dtype=float) - reference
    return conductivity * (t + 0.5 * slope * t**2)


def kirchhoff_temperature(
    potential: ArrayLike, *, conductivity: float, slope: float, reference: float
) -> Array:
    """Return the temperature [degC] of a potential [W/m], the inverse of `kirchhoff_potential`."""
    u = np.asarray(potential, dtype=float) / conductivity
    return reference + 2.0 * u / (1.0 + np.sqrt(1.0 + 2.0 * slope * u))


def kirchhoff_steady(
    share: ArrayLike, first: float, second: float, *, conductivity: float, slope: float, reference: float
) -> Array:
    """Return the steady temperature between two faces when conductivity is linear in temperature.

    Parameters
    ----------
    share : array_like
        Way from the first face to the second: ``x/L`` in a plate, ``ln(r/r1)/ln(r2/r1)`` in a hollow
        cylinder [1].
    first, second : float
        Temperatures of the faces [degC].
    conductivity, slope, reference : float
        As in `kirchhoff_potential`.

    Returns
    -------
    ndarray, shape of `share`
        [degC].

    References
    ----------
    carslaw_jaeger_1959, section 1.6 (from memory, re-derived).

    Examples
    --------
    >>> t = kirchhoff_steady(0.5, 1450, 600, conductivity=25, slope=4e-4, reference=1000)
    >>> f"{t:.6f}"
    '1060.517526'
    """
    law = {"conductivity": conductivity, "slope": slope, "reference": reference}
    u1, u2 = kirchhoff_potential(first, **law), kirchhoff_potential(second, **law)
    return kirchhoff_temperature(u1 + (u2 - u1) * np.asarray(share, dtype=float), **law)


def kirchhoff_plate_flux(
    position: ArrayLike,
    time: ArrayLike,
    *,
    initial: float,
    flux: float,
    half_thickness: float,
    conductivity: float,
    heat_capacity: float,
    slope: float,
    reference: float,
) -> Array:
    """Return the temperature of a plate under constant flux whose k and c are linear with the same slope.

    The diffusivity is then constant and the potential obeys the linear equation.

    Parameters
    ----------
    position : array_like
        0 at the centre, 1 at the surface [1].
    time : array_like
        [s].
    initial : float
        [degC].
    flux : float
        Out of each face [W/m2].
    half_thickness : float
        [m].
    conductivity, heat_capacity : float
        At the reference [W/(m K)] and [J/(m3 K)].
    slope, reference : float
        As in `kirchhoff_potential`.

    Returns
    -------
    ndarray
        [degC].

    References
    ----------
    segal_praagman_1986 for the half space (read as quoted, re-derived); the plate derived here.

    Examples
    --------
    >>> t = kirchhoff_plate_flux(1.0, 600.0, initial=1250, flux=120e3, half_thickness=0.1, conductivity=30,
    ...                          heat_capacity=4.81e6, slope=3e-4, reference=1000)
    >>> f"{t:.4f}"
    '978.3002'
    """
    fourier = conductivity / heat_capacity / half_thickness**2 * np.asarray(time, dtype=float)
    law = {"conductivity": conductivity, "slope": slope, "reference": reference}
    fall = flux * half_thickness * plate_constant_flux(fourier, position)
    return kirchhoff_temperature(kirchhoff_potential(initial, **law) - fall, **law)
