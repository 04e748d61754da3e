"""Freezing under a suddenly cold wall or around a line sink: every front at a multiple of ``sqrt(time)``."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special

from solidify.errors import InputError, Problem
from solidify.exact_solutions.checks import check_positive

__all__ = [
    "FreezingSolution",
    "freezing_band",
    "line_sink",
    "neumann",
    "stefan",
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


def stefan(
    *, wall: float, melting: float, conductivity: float, heat_capacity: float, latent_heat: float
) -> FreezingSolution:
    r"""Return the one-phase solution: liquid at its melting point, wall suddenly cold.

    Valid for a half space. With St = c (Tm - Tw)/L the root is that of
    ``sqrt(pi) z exp(z^2) erf z = St`` and the shell is ``2 z sqrt(a t)``.

    Arguments, result and errors are those of `neumann`, the properties of the solid alone.

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
    check_positive(
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
    check_positive(latent_heat=latent_heat, solidus_above_wall=solidus - wall, superheat=initial - liquidus)
    check_positive(liquidus_above_solidus=liquidus - solidus, share_in_band=1.0 - isothermal_share)
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
    check_positive(sink=sink, latent_heat=latent_heat)
    if len(fronts) == 1:
        check_positive(superheat_plus_1=initial - fronts[0] + 1.0)
        return _similarity(fronts, sink, initial, conductivity, heat_capacity, (latent_heat,), 0.0, True)
    check_positive(superheat=initial - fronts[1], liquidus_above_solidus=fronts[1] - fronts[0])
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
    check_positive(**{f"conductivity[{i}]": k for i, k in enumerate(conductivity)})
    check_positive(**{f"heat_capacity[{i}]": c for i, c in enumerate(heat_capacity)})
    diffusivity = tuple(k / c for k, c in zip(conductivity, heat_capacity, strict=True))
    k = tuple(conductivity)
    return _freeze(
        FreezingSolution((), fronts, wall, initial, k, diffusivity, released, band_solid, cylindrical)
    )
