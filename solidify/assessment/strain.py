"""Strain of the shell between rolls and at bending and straightening points: handbook formulas on numbers.

The strand is a strip clamped at both rolls under the head of liquid steel; creep enters through a modulus
that falls towards the solidus. These are works formulas for comparing machines, not a stress analysis.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.units import MINUTE

__all__ = [
    "bulging",
    "bulging_strain",
    "ferrostatic_pressure",
    "head",
    "misalignment_strain",
    "straightening_strain",
]

Array = NDArray[np.float64]

GRAVITY = 9.80665
"""Standard acceleration of free fall [m s-2]; SI Brochure, 9th edition, BIPM 2019 (from memory)."""

LIQUID_DENSITY = 7000.0
"""Of liquid steel, for the head [kg m-3]; common practice, no source."""


def head(
    distance: ArrayLike,
    vertical_length: float,
    radius: float | None,
    straightener: Sequence[float] = (),
    radius_after: Sequence[float] | None = None,
) -> Array:
    """Return the height of the meniscus over a place on the strand.

    The strand runs down the vertical part, then along arcs: of the machine's radius to the first
    straightening point, then of the radius after each. Where those are not given, the curvature falls to
    zero in equal steps.

    Parameters
    ----------
    distance : array_like
        From the meniscus [m].
    vertical_length : float
        Straight part below the meniscus [m].
    radius : float, optional
        Of the arc [m]; none for a vertical machine.
    straightener : sequence of float
        Straightening points from the meniscus [m].
    radius_after : sequence of float, optional
        Radius after each point, infinite for straight [m].

    Returns
    -------
    ndarray, shape of `distance`
        [m].

    Examples
    --------
    >>> float(head(2.0, 2.5, 9.5))
    2.0
    >>> round(float(head(0.5 * np.pi * 10.0, 0.0, 10.0)), 3)
    10.0
    """
    place = np.asarray(distance, dtype=float)
    if radius is None:
        return place.copy()
    course = _course(
        vertical_length, radius, tuple(straightener), None if radius_after is None else tuple(radius_after)
    )
    start, height, angle, curvature, sine, fall = course[:, course[0, 1:].searchsorted(place)]
    length = place - start
    end = np.minimum(angle + curvature * length, 0.5 * math.pi)
    straight = curvature == 0.0
    return height + np.where(straight, fall * length, (np.sin(end) - sine) / (curvature + straight))


@lru_cache(maxsize=64)
def _course(
    vertical_length: float,
    radius: float,
    straightener: tuple[float, ...],
    radius_after: tuple[float, ...] | None,
) -> Array:
    """Lay out the strand, a column a piece: start, meniscus over it, angle to the vertical, curvature, sine, cosine."""
    count = len(straightener)
    after = (
        [1.0 / r for r in radius_after]
        if radius_after is not None
        else [(1.0 - (i + 1) / count) / radius for i in range(count)]
    )
    z = y = angle = 0.0
    pieces = []
    for curvature, end in zip(
        [0.0, 1.0 / radius, *after], [vertical_length, *straightener, 1e6], strict=True
    ):
        fall = max(math.cos(angle), 0.0)
        pieces.append((z, y, angle, curvature, math.sin(angle), fall))
        if end > z:
            level = min(angle + curvature * (end - z), 0.5 * math.pi)
            y += (math.sin(level) - math.sin(angle)) / curvature if curvature else fall * (end - z)
            z, angle = end, level
    return np.array(pieces).T


def ferrostatic_pressure(height: ArrayLike, density: float = LIQUID_DENSITY) -> Array:
    """Return the pressure [Pa] of liquid steel under a head [m].

    Parameters
    ----------
    height : array_like
        Of the liquid above [m].
    density : float
        Of the liquid [kg m-3].

    Returns
    -------
    ndarray, shape of `height`
        [Pa].

    Examples
    --------
    >>> round(float(ferrostatic_pressure(5.0)) / 1e3)
    343
    """
    return GRAVITY * density * np.asarray(height, dtype=float)


def bulging(
    pressure: ArrayLike,
    pitch: ArrayLike,
    shell: ArrayLike,
    surface: ArrayLike,
    solidus: float,
    speed: ArrayLike,
) -> Array:
    """Return how far the shell bulges half-way between two rolls.

    ``d = p l^4 sqrt(t) / (32 E s^3)`` with t the minutes from roll to roll and
    ``E = 10 GPa (T_s - T_m) / (T_s - 100)``, T_m the mean of surface and solidus.

    Parameters
    ----------
    pressure : array_like
        Of the liquid steel, p [Pa].
    pitch : array_like
        Roll centre to roll centre, l [m].
    shell : array_like
        Solid shell, s [m].
    surface : array_like
        Surface temperature [degC].
    solidus : float
        T_s [degC].
    speed : array_like
        Casting speed [m s-1].

    Returns
    -------
    ndarray
        [m].

    References
    ----------
    lankford_1972 (from memory).

    Examples
    --------
    >>> f"{1e3 * float(bulging(343e3, 0.30, 0.06, 623.0, 1477.0, 0.02)):.3f} mm"
    '0.065 mm'
    """
    mean = 0.5 * (np.asarray(surface, dtype=float) + solidus)
    modulus = 10e9 * (solidus - mean) / (solidus - 100.0)
    length = np.asarray(pitch, dtype=float)
    minutes = length / speed / MINUTE
    thickness = np.asarray(shell, dtype=float)
    stiffness = (
        32.0 * modulus * thickness**2 * thickness
    )  # third and fourth power as products: a tenth of the time
    return np.asarray(pressure) * (length**2) ** 2 * np.sqrt(minutes) / stiffness


def bulging_strain(deflection: ArrayLike, pitch: ArrayLike, shell: ArrayLike) -> Array:
    """Return the strain [1] at the freezing front from bulging [m], ``16 s d / l^2``.

    Exact for a clamped strip under even pressure, whose support moment is ``p l^2 / 12``.

    Parameters
    ----------
    deflection : array_like
        How far the shell bulges half-way between two rolls, d [m].
    pitch : array_like
        From roll to roll, l [m].
    shell : array_like
        Thickness of the shell, s [m].

    Returns
    -------
    ndarray, shapes broadcast
        [1].

    Examples
    --------
    >>> f"{100 * float(bulging_strain(0.065e-3, 0.30, 0.06)):.2f} %"
    '0.07 %'
    """
    return 16.0 * np.asarray(shell) * np.asarray(deflection) / np.asarray(pitch) ** 2


def misalignment_strain(error: float, pitch: ArrayLike, shell: ArrayLike) -> Array:
    """Return the strain [1] at the freezing front from one roll out of line [m], ``3 s e / l^2``.

    Exact for a clamped strip of which one support moves, whose moment is ``6 E I e / l^2``.

    Parameters
    ----------
    error : float
        Of the roll against its neighbours, e [m].
    pitch : array_like
        From roll to roll, l [m].
    shell : array_like
        Thickness of the shell, s [m].

    Returns
    -------
    ndarray, shapes broadcast
        [1].

    Examples
    --------
    >>> f"{100 * float(misalignment_strain(1e-3, 0.30, 0.06)):.2f} %"
    '0.20 %'
    """
    return 3.0 * np.asarray(shell) * error / np.asarray(pitch) ** 2


def straightening_strain(depth: ArrayLike, radius_before: ArrayLike, radius_after: ArrayLike) -> Array:
    """Return the strain [1] of a fibre where the radius changes, ``x |1/R - 1/R'|``.

    Parameters
    ----------
    depth : array_like
        Distance x of the fibre from the neutral axis: half the thickness at the surface, less the shell at
        the freezing front [m].
    radius_before, radius_after : array_like
        Of the neutral axis, infinite for straight [m].

    Returns
    -------
    ndarray

    Examples
    --------
    >>> f"{100 * float(straightening_strain(0.125 - 0.09, 10.0, float('inf'))):.2f} %"
    '0.35 %'
    """
    before, after = np.asarray(radius_before, dtype=float), np.asarray(radius_after, dtype=float)
    return np.asarray(depth, dtype=float) * np.abs(1.0 / before - 1.0 / after)
