"""Hot strength of the shell: what steel near its solidus carries by tension and by bending, on numbers.

Austenite and delta ferrite have a strength each, from a published law of steady creep and from a recalled power
law; delta ferrite is far the weaker. Where both stand side by side they share one stress, and the weak one
yields. In the mushy zone the strength falls with the solid fraction, to none at that of zero strength. Below
900 degC the strength at 900 is kept, which says too little rather than too much.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from solidify.strand.profiles import Places
from solidify.units import ZERO_CELSIUS

__all__ = [
    "BENDING_RATE",
    "TENSION_RATE",
    "HotStrength",
    "bending_safety",
    "creep_rate",
    "delta_stress",
    "flow_stress",
    "hot_strength",
    "shell_strength",
    "tension_safety",
]

Array = NDArray[np.float64]

BENDING_RATE = 1e-3
"""Strain rate at which a face below the mould is taken to bend [s-1]; common practice, no source.

A face that bends faster is strained by one percent within ten seconds, before the sprays have thickened it.
"""

TENSION_RATE = 5e-5
"""Strain rate at which a shell in tension counts as torn [s-1]; derived here.

The one number of the check that was fitted: at this rate the shell that is published as just too thin
(`li_thomas_2000`: 3 mm, 200 mm square, 0.7 m of head) reads 1 in the geometric mean of seven steels.
"""

RANGE = (900.0, 1400.0)
"""Temperatures that the law of creep of austenite was published for [degC]; it is carried on above them."""

HIGHEST = 1545.0
"""Above every liquidus [degC]."""

STRAIN = 0.05
"""Strain at which the stress of delta ferrite is taken [1]: its law hardens, that of austenite is steady creep."""

ZERO_STRENGTH = 0.75
"""Solid fraction below which nothing is carried [1]; won_2000, from memory, as in the steel data."""

_MPA = 1e6


def creep_rate(stress: ArrayLike, temperature: ArrayLike, carbon: float) -> Array:
    r"""Return how fast austenite creeps under a stress.

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

    Notes
    -----
    With s in MPa and T in kelvin,

    .. math:: \dot\varepsilon = 4.6\times10^{17} (s/E)^3 e^{aC} \sinh(60.137\,s/T)\, e^{-32714/T}

    where :math:`E = 230950 - 99.04\,T` MPa and :math:`a = 2.3 - 2.1 \log_{10}(60.137\,s/T)`.

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


def delta_stress(temperature: ArrayLike, carbon: float, rate: float, plastic_strain: float = STRAIN) -> Array:
    r"""Return the stress at which delta ferrite flows.

    Parameters
    ----------
    temperature : array_like
        [degC].
    carbon : float
        C, 0.001 at the least [mass %].
    rate : float
        Strain rate [s-1].
    plastic_strain : float
        e [1].

    Returns
    -------
    ndarray, shape of `temperature`
        [Pa].

    Notes
    -----
    With s in MPa and T in kelvin,

    .. math:: \dot\varepsilon = 0.1 \left( \frac{s}{f\,(T/300)^{-5.52} (1 + 1000 e)^m} \right)^n

    where :math:`f = 1.3678\times10^4\, C^{-0.0556}`, :math:`m = 0.3495 - 9.4156\times10^{-5}\,T` and
    :math:`1/n = 1.617\times10^{-4}\,T - 0.06166`.

    References
    ----------
    delta_power_law_1993 (from memory).

    Examples
    --------
    >>> f"{float(delta_stress(1400.0, 0.1, 1e-3)) / 1e6:.2f} MPa"
    '0.96 MPa'
    """
    kelvin = np.asarray(temperature, dtype=float) + ZERO_CELSIUS
    level = 1.3678e4 * max(carbon, 1e-3) ** -0.0556 * np.float_power(kelvin / 300.0, -5.52)
    hardening = np.float_power(1.0 + 1000.0 * plastic_strain, 0.3495 - 9.4156e-5 * kelvin)
    return _MPA * level * hardening * np.float_power(rate / 0.1, 1.0 / _exponent(kelvin))


def _exponent(kelvin: Array) -> Array:
    """Return the stress exponent of delta ferrite [1] at temperatures [K]."""
    return 1.0 / (1.617e-4 * kelvin - 0.06166)


def flow_stress(
    temperature: ArrayLike,
    carbon: float,
    rate: float = BENDING_RATE,
    delta: ArrayLike = 0.0,
    solid_fraction: ArrayLike = 1.0,
) -> Array:
    r"""Return the stress at which steel yields to a slow pull.

    Parameters
    ----------
    temperature : array_like
        [degC].
    carbon : float
        [mass %].
    rate : float
        Strain rate [s-1].
    delta : array_like
        Share of delta ferrite in what is solid [1].
    solid_fraction : array_like
        [1].

    Returns
    -------
    ndarray
        [Pa].

    Notes
    -----
    Both phases are under one stress s and creep side by side, each with its share of the strain. As power laws
    of the exponent n of delta ferrite that is

    .. math:: s = \left( x_\delta s_\delta^{-n} + (1 - x_\delta) s_\gamma^{-n} \right)^{-1/n}

    a tenth of delta ferrite already brings the strength near that of delta ferrite alone. In the mushy zone s
    falls in a straight line of the solid fraction to none at 0.75. The strength of the mixture is derived here.

    References
    ----------
    austenite_creep_1992 for austenite, above 1400 degC carried on; delta_power_law_1993 for delta ferrite.

    Examples
    --------
    >>> (flow_stress([900.0, 1200.0, 1400.0], 0.1) / 1e6).round(1)
    array([64.8, 17.9,  7.8])
    >>> (flow_stress(1400.0, 0.1, delta=[0.0, 0.1, 1.0]) / 1e6).round(1)
    array([7.8, 1.5, 1. ])
    """
    t = np.asarray(temperature, dtype=float)
    share = np.asarray(delta, dtype=float)
    n = _exponent(t + ZERO_CELSIUS)
    austenite = np.interp(t, *_austenite(carbon, rate))
    ratio = np.float_power(austenite / delta_stress(t, carbon, rate), n)
    mixed = austenite * np.float_power(1.0 - share + share * ratio, -1.0 / n)
    left = (np.asarray(solid_fraction, dtype=float) - ZERO_STRENGTH) / (1.0 - ZERO_STRENGTH)
    return mixed * np.clip(left, 0.0, 1.0)


@lru_cache(maxsize=64)
def _austenite(carbon: float, rate: float) -> tuple[Array, Array]:
    """Invert the law of creep: temperatures [degC] and stresses [Pa]."""
    t = np.arange(RANGE[0], HIGHEST + 1.0, 2.0)
    below, above = np.full(t.shape, np.log(1e3)), np.full(t.shape, np.log(1e10))
    for _ in range(50):
        middle = 0.5 * (below + above)
        fast = creep_rate(np.exp(middle), t, carbon) > rate
        below, above = np.where(fast, below, middle), np.where(fast, middle, above)
    return t, np.exp(0.5 * (below + above))


class HotStrength(NamedTuple):
    """Strength of one steel over temperature, for one strain rate.

    Parameters
    ----------
    temperature : ndarray, shape (n,)
        Rising [degC].
    stress : ndarray, shape (n,)
        What is carried; 0 from the temperature of zero strength on [Pa].
    """

    temperature: Array
    stress: Array

    @property
    def none_from(self) -> float:
        """Temperature from which on nothing is carried [degC]."""
        carries = self.stress > 0.0
        return float(self.temperature[min(int(carries.nonzero()[0].max(initial=-1)) + 1, len(carries) - 1)])


def hot_strength(
    temperature: Array, solid_fraction: Array, delta: Array, carbon: float, rate: float
) -> HotStrength:
    """Return the strength of a steel over temperature.

    Parameters
    ----------
    temperature, solid_fraction, delta : ndarray, shape (n,)
        Rising [degC]; solid fraction, and delta ferrite as a share of the steel [1].
    carbon : float
        [mass %].
    rate : float
        Strain rate [s-1].

    Returns
    -------
    HotStrength

    Examples
    --------
    >>> t = np.array([900.0, 1480.0, 1520.0])
    >>> steel = hot_strength(t, np.array([1.0, 1.0, 0.0]), np.zeros(3), 0.1, 1e-3)
    >>> (np.interp([1200.0, 1495.0], *steel) / 1e6).round(1)
    array([17.9,  0. ])
    """
    own = temperature[(temperature > RANGE[0]) & (temperature < HIGHEST)]
    at = np.union1d(np.arange(RANGE[0], HIGHEST, 2.0), own)
    solid = np.interp(at, temperature, solid_fraction)
    share = np.interp(at, temperature, delta) / np.maximum(solid, 1e-9)
    return HotStrength(at, flow_stress(at, carbon, rate, np.clip(share, 0.0, 1.0), solid))


def shell_strength(depth: ArrayLike, temperature: ArrayLike, steel: HotStrength) -> tuple[Array, Array]:
    r"""Return what shells carry by tension and by bending when all of them yields.

    Parameters
    ----------
    depth : array_like, shape (n,)
        Increasing from the surface [m].
    temperature : array_like, shape (..., n)
        Of one shell or several [degC].
    steel : HotStrength
        Of the steel.

    Returns
    -------
    tension : ndarray, shape (...)
        By metre of length [N/m].
    moment : ndarray, shape (...)
        By metre of length [N].

    Notes
    -----
    .. math:: N = \int s\,dx \qquad M = \int s\,|x - x_0|\,dx

    about the depth x_0 that has half of N on either side. A shell of even strength and thickness d has
    ``N = s d`` and ``M = s d^2 / 4``; one thinned to the share u of its thickness ``u N`` and ``u^2 M``.

    Examples
    --------
    >>> steel = HotStrength(np.array([900.0, 1450.0, 1450.1]), np.array([10e6, 10e6, 0.0]))
    >>> tension, moment = shell_strength([0.0, 0.01, 0.0100001, 0.1], [1200.0, 1200.0, 1500.0, 1500.0], steel)
    >>> f"{tension / 1e3:.0f} kN/m, {moment:.0f} N"
    '100 kN/m, 250 N'
    """
    x, t = np.asarray(depth, dtype=float), np.asarray(temperature, dtype=float)
    hollow = (t >= steel.none_from).argmax(axis=-1).max() + 1  # what is deeper carries nothing in any of them
    deepest = int(hollow) if hollow > 1 and (t[..., -1] >= steel.none_from).all() else len(x)
    places, fine = _eighths(x[:deepest].tobytes())
    stress = np.interp(places.of(t[..., :deepest]), *steel)
    width, before, after = np.diff(fine), stress[..., :-1], stress[..., 1:]
    forces = 0.5 * (before + after) * width
    tension = np.cumsum(forces, axis=-1)
    levers = before * (2.0 * fine[:-1] + fine[1:]) + after * (fine[:-1] + 2.0 * fine[1:])
    moment = np.cumsum(levers * (width / 6.0), axis=-1)
    half = (tension >= 0.5 * tension[..., -1:]).argmax(axis=-1)[..., None]
    above, piece, moment_above = (np.take_along_axis(a, half, -1) for a in (tension, forces, moment))
    below = above - 0.5 * tension[..., -1:]
    back = below / np.where(piece > 0.0, piece, 1.0)  # share of the piece that lies below x_0
    moment_above = moment_above - back * piece * (fine[half + 1] - 0.5 * back * width[half])
    return tension[..., -1], (moment[..., -1:] - 2.0 * moment_above)[..., 0]


@lru_cache(maxsize=64)
def _eighths(depth: bytes) -> tuple[Places, Array]:
    """Part each stretch between depths into eight [m]."""
    x = np.frombuffer(depth)
    fine = np.append(x[:-1, None] + np.arange(8) * (np.diff(x)[:, None] / 8), x[-1])
    return Places(x, fine), fine


def tension_safety(tension: ArrayLike, pressure: float, span: float) -> Array:
    """Return the tension that faces carry over that from the liquid's pressure, ``N / (p L/2)``.

    Parameters
    ----------
    tension : array_like
        N, what one face carries [N/m].
    pressure : float
        p [Pa].
    span : float
        L, what the two faces hold together: their distance, or a diameter [m].

    Returns
    -------
    ndarray
        [1].

    Notes
    -----
    Cut the strand between two opposite faces: the two others hold what the liquid presses on the distance L.
    Exact for a strand that nothing supports from outside; in a round, the hoop tension.

    Examples
    --------
    >>> float(tension_safety(15e3, 50e3, 0.2))
    3.0
    """
    return np.asarray(tension, dtype=float) / (0.5 * pressure * span)


def bending_safety(support: ArrayLike, middle: ArrayLike, pressure: float, span: float) -> Array:
    """Return the pressure that a face carries by bending over that of the liquid, ``8 (M_s + M_m) / (p l^2)``.

    Parameters
    ----------
    support, middle : array_like
        M_s and M_m, what the shell carries fully yielding at its supports and half-way between them [N].
    pressure : float
        p [Pa].
    span : float
        l, from roll to roll, or the width of a face between its corners [m].

    Returns
    -------
    ndarray
        [1].

    Notes
    -----
    A strip held at both ends yields at three places: at both supports and in the middle. Equilibrium of one
    half of it asks for ``M_s + M_m = p l^2 / 8``; with even strength that is ``M = p l^2 / 16``, the plastic
    limit of a clamped strip. The first hinge forms at a support under three quarters of this (``p l^2 / 12``).

    Examples
    --------
    >>> round(float(bending_safety(100.0, 100.0, 50e3, 0.2)), 3)
    0.8
    """
    both = np.asarray(support, dtype=float) + np.asarray(middle, dtype=float)
    return 8.0 * both / (pressure * span**2)
