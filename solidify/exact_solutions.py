"""Exact solutions of conduction and freezing, to check a march against and to think with.

All are for one density, no flow in the liquid, and properties constant within each phase unless a function
says otherwise. Depths run from the cooled face, temperatures are in degrees Celsius, and every function takes
arrays wherever it takes a depth or a time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

from solidify.errors import InputError, Problem
from solidify.units import STEFAN_BOLTZMANN, ZERO_CELSIUS

__all__ = [
    "FreezingSolution",
    "convective_freezing_bounds",
    "cylinder_constant_flux",
    "cylinder_convection",
    "cylinder_convection_heat",
    "freezing_band",
    "kirchhoff_plate_flux",
    "kirchhoff_potential",
    "kirchhoff_steady",
    "kirchhoff_temperature",
    "line_sink",
    "lumped_radiation_time",
    "neumann",
    "plate_constant_flux",
    "plate_convection",
    "plate_convection_heat",
    "semi_infinite_convection",
    "semi_infinite_fixed",
    "semi_infinite_flux",
    "stefan",
    "travelling_front",
    "travelling_front_flux",
]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class FreezingSolution:
    """A similarity solution of freezing: every front lies at a fixed multiple of ``sqrt(time)``.

    Made by `stefan`, `neumann`, `freezing_band` and `line_sink`. Phases are counted from the cold side:
    solid, the freezing band if there is one, liquid. Front j divides phase j from phase j + 1.

    Parameters
    ----------
    roots : tuple of float
        Of each front, depth (or radius) over ``2 sqrt(a t)``, a the diffusivity of the solid [1].
    front_temperature : tuple of float
        [degC].
    wall : float
        Temperature of the wall [degC]; of a line sink the heat it takes [W/m].
    initial : float
        Temperature of the liquid far away [degC].
    conductivity : tuple of float
        Of each phase [W/(m K)].
    diffusivity : tuple of float
        Of each phase, latent heat of the band included [m2/s].
    latent_heat : tuple of float
        Released at each front [J/m3].
    band_solid : float
        Solid fraction on the band's side of the first front [1]; not used without a band.
    cylindrical : bool
        True around a line sink.
    """

    roots: tuple[float, ...]
    front_temperature: tuple[float, ...]
    wall: float
    initial: float
    conductivity: tuple[float, ...]
    diffusivity: tuple[float, ...]
    latent_heat: tuple[float, ...]
    band_solid: float
    cylindrical: bool

    def front(self, time: ArrayLike, which: int = 0) -> Array:
        """Return where a front is.

        Parameters
        ----------
        time : array_like
            Since freezing began [s].
        which : int
            0 the first front (solidus), -1 the last (liquidus).

        Returns
        -------
        ndarray, shape of `time`
            Depth from the wall or radius from the line [m].
        """
        return 2.0 * self.roots[which] * np.sqrt(self.diffusivity[0] * np.asarray(time, dtype=float))

    def temperature(self, position: ArrayLike, time: ArrayLike) -> Array:
        """Return the temperature.

        Parameters
        ----------
        position : array_like
            Depth from the wall or radius from the line, above 0 for the latter [m].
        time : array_like
            Above 0 [s]; broadcast with `position`.

        Returns
        -------
        ndarray
            [degC].
        """
        position, time = np.asarray(position, dtype=float), np.asarray(time, dtype=float)
        return self._temperature(position / (2.0 * np.sqrt(self.diffusivity[0] * time)))

    def surface_heat_flux(self, time: ArrayLike) -> Array:
        """Return the heat flux through the wall, ``q0/sqrt(time)``.

        Parameters
        ----------
        time : array_like
            Above 0 [s].

        Returns
        -------
        ndarray, shape of `time`
            [W/m2].

        Raises
        ------
        InputError
            Around a line sink, which has no wall.
        """
        if self.cylindrical:
            raise InputError(
                Problem("surface_heat_flux", "a line sink", "a plane wall", do="use .wall, in W/m")
            )
        k, a = self.conductivity[0], self.diffusivity[0]
        slope = (self.front_temperature[0] - self.wall) / special.erf(self.roots[0])
        return k * slope / np.sqrt(np.pi * a * np.asarray(time, dtype=float))

    def heat_removed(self, time: ArrayLike) -> Array:
        """Return the heat taken by the wall since freezing began [J/m2], ``2 q t``."""
        time = np.asarray(time, dtype=float)
        return 2.0 * self.surface_heat_flux(1.0) * np.sqrt(time)

    def equivalent_shell(self, time: ArrayLike) -> Array:
        """Return the thickness that all solid would have if it were dense.

        Parameters
        ----------
        time : array_like
            [s].

        Returns
        -------
        ndarray, shape of `time`
            Integral of the solid fraction over the depth [m]; around a line sink the radius of the same
            cross-section.
        """
        z, power = self.roots[0], 2 if self.cylindrical else 1
        if len(self.roots) > 1:
            x, w = np.polynomial.legendre.leggauss(60)
            low, high = self.roots
            node = 0.5 * (high + low) + 0.5 * (high - low) * x
            span = self.front_temperature[1] - self.front_temperature[0]
            fraction = self.band_solid * (self.front_temperature[1] - self._temperature(node)) / span
            z = z**power + 0.5 * (high - low) * float(w @ (fraction * power * node ** (power - 1)))
            z = z ** (1 / power)
        return 2.0 * z * np.sqrt(self.diffusivity[0] * np.asarray(time, dtype=float))

    def _temperature(self, z: Array) -> Array:
        primitive, _ = _PRIMITIVES[self.cylindrical]
        ratio = [float(np.sqrt(self.diffusivity[0] / a)) for a in self.diffusivity]
        first = self.front_temperature[0]
        if self.cylindrical:
            solid = first + self.wall / (4.0 * np.pi * self.conductivity[0]) * (
                primitive(z) - primitive(self.roots[0])
            )
        else:
            solid = self.wall + (first - self.wall) * special.erf(z) / special.erf(self.roots[0])
        parts, where = [solid], [z <= self.roots[0]]
        ends = (*self.front_temperature, self.initial)
        for j, n in enumerate(ratio[1:]):
            low = primitive(n * self.roots[j])
            last = j + 1 == len(self.roots)
            high = 0.0 if last else primitive(n * self.roots[j + 1])
            parts.append(ends[j] + (ends[j + 1] - ends[j]) * (primitive(n * z) - low) / (high - low))
            where.append(np.full(z.shape, True) if last else z <= self.roots[j + 1])
        return np.select(where, parts)


def _wall_primitive(z: Any) -> Any:
    return -special.erfc(z)  # not erf, which reads 1 from 5.9 on: bands are steep


def _wall_slope(z: Any) -> Any:
    return 2.0 / np.sqrt(np.pi) * np.exp(-(z**2))


def _line_primitive(z: Any) -> Any:
    return -special.exp1(z**2)


def _line_slope(z: Any) -> Any:
    return 2.0 / z * np.exp(-(z**2))


_PRIMITIVES: dict[bool, tuple[Callable[[Any], Any], Callable[[Any], Any]]] = {
    False: (_wall_primitive, _wall_slope),
    True: (_line_primitive, _line_slope),
}


_STEEPEST = 26.0
"""Where exp(-z^2) leaves the range of floating point: no band can be steeper."""


def _inverse_primitive(value: float, low: float, cylindrical: bool) -> float:
    """Return z above `low` whose primitive is `value`."""
    if not cylindrical:
        return float(special.erfcinv(-value))
    high = max(2.0 * low, 1.0)
    while _line_primitive(high) < value:
        high *= 2.0
    return float(optimize.brentq(lambda z: _line_primitive(z) - value, low, high, xtol=1e-15, rtol=1e-14))


def _freeze(solution: FreezingSolution) -> FreezingSolution:
    """Find the roots by shooting from the first front; everything else is taken from `solution`."""
    cylindrical = solution.cylindrical
    primitive, slope = _PRIMITIVES[cylindrical]
    k, a0 = solution.conductivity, solution.diffusivity[0]
    n = [float(np.sqrt(a0 / a)) for a in solution.diffusivity]
    temperature = (*solution.front_temperature, solution.initial)
    fronts = len(solution.front_temperature)

    def shoot(first: float) -> tuple[float, tuple[float, ...]]:
        if cylindrical:
            flux = solution.wall / (4.0 * np.pi) * slope(first)
        else:
            flux = k[0] * (temperature[0] - solution.wall) * slope(first) / special.erf(first)
        roots = [first]
        for j in range(fronts - 1):
            flux -= 2.0 * a0 * roots[j] * solution.latent_heat[j]
            start = n[j + 1] * roots[j]
            drive = k[j + 1] * (temperature[j + 1] - temperature[j]) * n[j + 1] * slope(start)
            if flux <= 0.0 or start > _STEEPEST or primitive(start) + drive / flux >= 0.0:
                return -1.0, tuple(roots)
            roots.append(_inverse_primitive(primitive(start) + drive / flux, start, cylindrical) / n[j + 1])
            flux *= slope(n[j + 1] * roots[j + 1]) / slope(start)
        flux -= 2.0 * a0 * roots[-1] * solution.latent_heat[-1]
        superheat, start = temperature[-1] - temperature[-2], n[-1] * roots[-1]
        if superheat:
            flux += k[-1] * superheat * n[-1] * slope(start) / primitive(start)
        return flux, tuple(roots)

    low, high = 1e-9, 1e-3
    while shoot(high)[0] > 0.0:
        low, high = high, 2.0 * high
    root = optimize.brentq(lambda z: shoot(z)[0], low, high, xtol=1e-16, rtol=1e-15, maxiter=300)
    _, roots = shoot(root)
    if len(roots) < fronts:  # the last bisection step fell just beyond the admissible side
        _, roots = shoot(np.nextafter(root, 0.0))
    if n[1] * roots[0] > 0.99 * _STEEPEST and fronts > 1:
        span = f"{temperature[1] - temperature[0]:g} K"
        raise InputError(
            Problem("freezing range", span, "about 0.5 K or more", do="use the two-phase solution")
        )
    return replace(solution, roots=roots)


def _check(**values: float) -> None:
    """Refuse values that are not finite and above zero, all at once."""
    bad = [
        Problem(name, f"{value:g}", "a finite number above 0")
        for name, value in values.items()
        if not (np.isfinite(value) and value > 0.0)
    ]
    if bad:
        raise InputError(bad)


def stefan(
    *, wall: float, melting: float, conductivity: float, heat_capacity: float, latent_heat: float
) -> FreezingSolution:
    r"""Return the one-phase solution: liquid at its melting point, wall suddenly cold.

    Valid for a half space. With St = c (Tm - Tw)/L the root is that of
    ``sqrt(pi) z exp(z^2) erf z = St`` and the shell is ``2 z sqrt(a t)``.

    Parameters
    ----------
    wall, melting : float
        Temperatures of wall and melting point [degC].
    conductivity : float
        Of the solid [W/(m K)].
    heat_capacity : float
        Of the solid, by volume [J/(m3 K)].
    latent_heat : float
        By volume [J/m3].

    Returns
    -------
    FreezingSolution

    Raises
    ------
    InputError
        Unless every property is above 0 and the wall is colder than the melting point.

    References
    ----------
    carslaw_jaeger_1959, section 11.2 (from memory, re-derived).

    Examples
    --------
    >>> s = stefan(wall=1000, melting=1500, conductivity=30, heat_capacity=5.032e6, latent_heat=2.0128e9)
    >>> f"{s.roots[0]:.7f} {1e3 * s.front(60.0):.3f} mm"
    '0.6758643 25.566 mm'
    """
    return neumann(
        wall=wall,
        melting=melting,
        initial=melting,
        conductivity=(conductivity, conductivity),
        heat_capacity=(heat_capacity, heat_capacity),
        latent_heat=latent_heat,
    )


def neumann(
    *,
    wall: float,
    melting: float,
    initial: float,
    conductivity: Sequence[float],
    heat_capacity: Sequence[float],
    latent_heat: float,
) -> FreezingSolution:
    """Return the two-phase solution: superheated liquid, melting at one temperature, wall suddenly cold.

    Parameters
    ----------
    wall, melting, initial : float
        Temperatures of wall, melting point and liquid [degC].
    conductivity : sequence of 2 floats
        Of solid and liquid [W/(m K)].
    heat_capacity : sequence of 2 floats
        Of solid and liquid, by volume [J/(m3 K)].
    latent_heat : float
        By volume [J/m3].

    Returns
    -------
    FreezingSolution

    Raises
    ------
    InputError
        Unless every property is above 0 and ``wall < melting <= initial``.

    References
    ----------
    carslaw_jaeger_1959, section 11.2 (from memory, re-derived).

    Examples
    --------
    >>> s = neumann(wall=1000, melting=1500, initial=1530, conductivity=(30, 34),
    ...             heat_capacity=(7400 * 680, 7400 * 820), latent_heat=7400 * 272e3)
    >>> f"{s.roots[0]:.7f}"
    '0.6422757'
    """
    _check(
        latent_heat=latent_heat, melting_above_wall=melting - wall, superheat_plus_1=initial - melting + 1.0
    )
    return _similarity((melting,), wall, initial, conductivity, heat_capacity, (latent_heat,), 0.0, False)


def freezing_band(
    *,
    wall: float,
    solidus: float,
    liquidus: float,
    initial: float,
    conductivity: Sequence[float],
    heat_capacity: Sequence[float],
    latent_heat: float,
    isothermal_share: float = 0.0,
) -> FreezingSolution:
    """Return the three-region solution: solid, freezing band, superheated liquid; wall suddenly cold.

    The solid fraction falls linearly with temperature through the band, so that the band has the constant
    heat capacity ``c + L (1 - f)/(liquidus - solidus)``; the share f of the latent heat is released at the
    solidus. The liquid must be superheated: without it the liquidus runs away to infinity.

    Parameters
    ----------
    wall, solidus, liquidus, initial : float
        Temperatures [degC].
    conductivity : sequence of 3 floats
        Of solid, band and liquid [W/(m K)].
    heat_capacity : sequence of 3 floats
        Of solid, band (without latent heat) and liquid, by volume [J/(m3 K)].
    latent_heat : float
        By volume [J/m3].
    isothermal_share : float
        Share of the latent heat released at the solidus [1].

    Returns
    -------
    FreezingSolution

    Raises
    ------
    InputError
        Unless every property is above 0 and ``wall < solidus < liquidus < initial``.

    References
    ----------
    tien_geiger_1967, cho_sunderland_1969 (from memory, re-derived).

    Examples
    --------
    >>> s = freezing_band(wall=1000, solidus=1460, liquidus=1510, initial=1540, conductivity=(30, 32, 34),
    ...                   heat_capacity=(7400 * 680, 7400 * 750, 7400 * 820), latent_heat=7400 * 272e3)
    >>> [f"{z:.7f}" for z in s.roots]
    ['0.5663824', '0.7532452']
    """
    _check(latent_heat=latent_heat, solidus_above_wall=solidus - wall, superheat=initial - liquidus)
    _check(liquidus_above_solidus=liquidus - solidus, share_in_band=1.0 - isothermal_share)
    return _with_band(
        (solidus, liquidus), wall, initial, conductivity, heat_capacity, latent_heat, isothermal_share, False
    )


def line_sink(
    *,
    sink: float,
    front_temperature: Sequence[float],
    initial: float,
    conductivity: Sequence[float],
    heat_capacity: Sequence[float],
    latent_heat: float,
    isothermal_share: float = 0.0,
) -> FreezingSolution:
    """Return freezing outward from a line that takes heat at a constant rate, the exact cylindrical solution.

    Parameters
    ----------
    sink : float
        Heat taken by each metre of the line [W/m].
    front_temperature : sequence of 1 or 2 floats
        The melting point, or solidus and liquidus [degC].
    initial : float
        Temperature of the liquid, above the liquidus if there is a band [degC].
    conductivity, heat_capacity : sequence of 2 or 3 floats
        Of each phase from the line outward, as in `neumann` or `freezing_band` [W/(m K)], [J/(m3 K)].
    latent_heat : float
        By volume [J/m3].
    isothermal_share : float
        Share of the latent heat released at the solidus of a band [1].

    Returns
    -------
    FreezingSolution

    Raises
    ------
    InputError
        Unless every property is above 0 and the temperatures rise outward.

    References
    ----------
    paterson_1952; with a band ozisik_uzzell_1979 (both from memory, re-derived).

    Examples
    --------
    >>> s = line_sink(sink=60e3, front_temperature=(1500,), initial=1530, conductivity=(30, 34),
    ...               heat_capacity=(7400 * 680, 7400 * 820), latent_heat=7400 * 272e3)
    >>> f"{s.roots[0]:.7f} {1e3 * s.front(60.0):.3f} mm"
    '0.4961641 18.768 mm'
    """
    fronts = tuple(front_temperature)
    _check(sink=sink, latent_heat=latent_heat)
    if len(fronts) == 1:
        _check(superheat_plus_1=initial - fronts[0] + 1.0)
        return _similarity(fronts, sink, initial, conductivity, heat_capacity, (latent_heat,), 0.0, True)
    _check(superheat=initial - fronts[1], liquidus_above_solidus=fronts[1] - fronts[0])
    return _with_band(fronts, sink, initial, conductivity, heat_capacity, latent_heat, isothermal_share, True)


def _with_band(
    fronts: tuple[float, ...],
    wall: float,
    initial: float,
    conductivity: Sequence[float],
    heat_capacity: Sequence[float],
    latent_heat: float,
    isothermal_share: float,
    cylindrical: bool,
) -> FreezingSolution:
    solid, band, liquid = heat_capacity
    band_latent = latent_heat * (1.0 - isothermal_share)
    capacities = (solid, band + band_latent / (fronts[1] - fronts[0]), liquid)
    released = (latent_heat * isothermal_share, 0.0)
    return _similarity(
        fronts, wall, initial, conductivity, capacities, released, 1.0 - isothermal_share, cylindrical
    )


def _similarity(
    fronts: tuple[float, ...],
    wall: float,
    initial: float,
    conductivity: Sequence[float],
    heat_capacity: Sequence[float],
    released: tuple[float, ...],
    band_solid: float,
    cylindrical: bool,
) -> FreezingSolution:
    _check(**{f"conductivity[{i}]": k for i, k in enumerate(conductivity)})
    _check(**{f"heat_capacity[{i}]": c for i, c in enumerate(heat_capacity)})
    diffusivity = tuple(k / c for k, c in zip(conductivity, heat_capacity, strict=True))
    k = tuple(conductivity)
    return _freeze(
        FreezingSolution((), fronts, wall, initial, k, diffusivity, released, band_solid, cylindrical)
    )


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
    time : array_like
        [s].
    speed : float
        [m/s].
    latent_heat : float
        By volume [J/m3].
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
    time : array_like
        [s].
    coefficient : float
        [W/(m2 K)].
    ambient, melting : float
        [degC].
    conductivity : float
        [W/(m K)].
    heat_capacity, latent_heat : float
        By volume [J/(m3 K)] and [J/m3].

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


def _eigenvalues(biot: float, terms: int, cylinder: bool) -> Array:
    """Return the first roots of ``z tan z = Bi`` or ``z J1(z) = Bi J0(z)``."""
    _check(biot=biot)
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

    Parameters
    ----------
    fourier : array_like
        ``a t/R^2``, R the half thickness [1].
    position : array_like
        0 at the centre, 1 at the surface [1]; broadcast with `fourier`.
    terms : int
        Terms of the series.

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
    depth, time : array_like
        [m] and [s], time above 0.
    initial, fluid : float
        [degC].
    coefficient : float
        [W/(m2 K)].
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
    depth, time : array_like
        [m] and [s], time above 0.
    initial, surface : float
        [degC].
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
