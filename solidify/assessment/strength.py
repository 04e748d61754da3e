"""Hot strength of the shell: what steel near its solidus carries, on numbers.

The strength of austenite at a slow pull is taken from a published law of steady creep. Above its range the
strength falls in a straight line to nothing at the zero-strength temperature; below it the strength at its
lower end is kept, which says too little rather than too much.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.strand.profiles import Places
from solidify.units import ZERO_CELSIUS

__all__ = ["SLOW_PULL", "carried_tension", "creep_rate", "flow_stress", "pull_of_head"]

Array = NDArray[np.float64]

SLOW_PULL = 1e-3
"""Strain rate at which the shell below the mould is taken to be pulled [s-1]; common practice, no source."""

RANGE = (900.0, 1400.0)
"""Temperatures that the law of creep holds for [degC]."""

_MPA = 1e6


def creep_rate(stress: ArrayLike, temperature: ArrayLike, carbon: float) -> Array:
    """Return how fast austenite creeps under a stress.

    ``rate = 4.6e17 (s/E)^3 exp(a C) sinh(60.137 s/T) exp(-32714/T)`` with s in MPa, T in kelvin,
    ``E = 230950 - 99.04 T`` MPa and ``a = 2.3 - 2.1 log10(60.137 s/T)``.

    Parameters
    ----------
    stress : array_like
        s, above 0 [Pa].
    temperature : array_like
        900 to 1400 [degC].
    carbon : float
        C [mass %].

    Returns
    -------
    ndarray
        [s-1].

    References
    ----------
    austenite_creep_1992.

    Examples
    --------
    >>> f"{float(creep_rate(17.9e6, 1200.0, 0.1)):.1e}"
    '1.0e-03'
    """
    s, kelvin = np.asarray(stress, dtype=float) / _MPA, np.asarray(temperature, dtype=float) + ZERO_CELSIUS
    modulus = 230950.0 - 99.04 * kelvin
    x = 60.137 * s / kelvin
    softening = np.exp((2.3 - 2.1 * np.log10(x)) * carbon)
    return 4.6e17 * (s / modulus) ** 3 * softening * np.sinh(x) * np.exp(-32714.0 / kelvin)


def flow_stress(
    temperature: ArrayLike, carbon: float, zero_strength: float, rate: float = SLOW_PULL
) -> Array:
    """Return the stress at which the steel yields to a slow pull.

    Parameters
    ----------
    temperature : array_like
        [degC].
    carbon : float
        [mass %].
    zero_strength : float
        Temperature from which on nothing is carried [degC].
    rate : float
        Strain rate [s-1].

    Returns
    -------
    ndarray, shape of `temperature`
        [Pa].

    References
    ----------
    austenite_creep_1992 between 900 and 1400 degC; beyond, as the module says.

    Examples
    --------
    >>> (flow_stress([900.0, 1200.0, 1400.0, 1480.0], 0.1, 1480.0) / 1e6).round(1)
    array([64.8, 17.9,  7.8,  0. ])
    """
    t = np.asarray(temperature, dtype=float)
    high = RANGE[1]
    stress = np.interp(t, *_strength(carbon, rate))
    fall = np.clip((zero_strength - t) / max(zero_strength - high, 1e-9), 0.0, 1.0)
    return np.where(t >= zero_strength, 0.0, stress * np.where(t > high, fall, 1.0))


@lru_cache(maxsize=64)
def _strength(carbon: float, rate: float) -> tuple[Array, Array]:
    """Invert the law of creep on its range: temperatures [degC] and stresses [Pa]."""
    t = np.linspace(*RANGE, 251)
    below, above = np.full(t.shape, np.log(1e3)), np.full(t.shape, np.log(1e10))
    for _ in range(50):
        middle = 0.5 * (below + above)
        fast = creep_rate(np.exp(middle), t, carbon) > rate
        below, above = np.where(fast, below, middle), np.where(fast, middle, above)
    return t, np.exp(0.5 * (below + above))


def carried_tension(
    depth: ArrayLike, temperature: ArrayLike, carbon: float, zero_strength: float, rate: float = SLOW_PULL
) -> Array:
    """Return the tension that shells carry along their face, the sum of the strength over the depth.

    Parameters
    ----------
    depth : array_like, shape (n,)
        Increasing from the surface [m].
    temperature : array_like, shape (..., n)
        Of one shell or several [degC].
    carbon, zero_strength, rate : float
        As for `flow_stress`.

    Returns
    -------
    ndarray, shape (...)
        By metre of length [N/m].

    Examples
    --------
    >>> f"{carried_tension([0.0, 0.01, 0.0101, 0.1], [1200.0, 1200.0, 1500.0, 1500.0], 0.1, 1480.0) / 1e3:.0f} kN/m"
    '180 kN/m'
    """
    x, t = np.asarray(depth, dtype=float), np.asarray(temperature, dtype=float)
    weak = t >= zero_strength
    count = np.where(weak.any(axis=-1), weak.argmax(axis=-1) + 1, len(x))  # to the first that carries nothing
    deepest = max(int(count.max()), 2)
    places, width = _eighths(x[:deepest].tobytes())
    stress = flow_stress(places.of(t[..., :deepest]), carbon, zero_strength, rate)
    part = 0.5 * (stress[..., 1:] + stress[..., :-1]) * width
    rows = zip(part.reshape(-1, part.shape[-1]), count.ravel().tolist(), strict=True)
    return np.array([row[: 8 * (n - 1)].sum() for row, n in rows]).reshape(count.shape)


@lru_cache(maxsize=64)
def _eighths(depth: bytes) -> tuple[Places, Array]:
    """Part each stretch between depths into eight: where, and how wide each part is [m]."""
    x = np.frombuffer(depth)
    fine = np.append(x[:-1, None] + np.arange(8) * (np.diff(x)[:, None] / 8), x[-1])
    return Places(x, fine), np.diff(fine)


def pull_of_head(pressure: float, thickness: float) -> float:
    """Return the tension in a face at its middle from the liquid's pressure, ``p D/2``.

    Cut the strand through the middle of two opposite faces: they hold what the liquid presses on the thickness
    between them. Exact for a strand that nothing supports from outside; in a round, the hoop tension.

    Parameters
    ----------
    pressure : float
        p [Pa].
    thickness : float
        D, from one of the two faces to the other, or the diameter [m].

    Returns
    -------
    float
        By metre of length [N/m].

    Examples
    --------
    >>> f"{pull_of_head(41.2e3, 0.25) / 1e3:.2f} kN/m"
    '5.15 kN/m'
    """
    return 0.5 * pressure * thickness
