"""A plain two-dimensional reference: the quarter of a rectangular section, cooled alike on both faces.

Its own code, which shares nothing with the march: cell-centred enthalpy, explicit Euler, the potential read from a fine
uniform table over the enthalpy, surface temperatures from the half cell by Newton's method. `verify` proves it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit

from solidify.exact_solutions import plate_convection

Law = tuple[float, ...]
"""End [s]; a, b of a flux a - b sqrt(t) + d / sqrt(t) >= 0; h, water [degC]; emissivity, surroundings [degC]; fixed T
or NaN; d, which may be left out."""


@dataclass(frozen=True)
class Curves:
    """Property curves over the potential phi = integral of k dT, and phi over the enthalpy, for the reference."""

    temperature: np.ndarray  # [degC], increasing
    enthalpy: np.ndarray  # [J m-3]
    potential: np.ndarray  # [W m-1]
    solid_fraction: np.ndarray

    @classmethod
    def of(
        cls,
        temperature: np.ndarray,
        enthalpy: np.ndarray,
        conductivity: np.ndarray,
        solid_fraction: np.ndarray,
    ) -> Curves:
        """Refine curves that are linear in temperature between knots and integrate the conductivity."""
        fine = np.unique(np.concatenate([temperature, np.linspace(temperature[0], temperature[-1], 20001)]))
        k = np.interp(fine, temperature, conductivity)
        phi = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(fine) * (k[1:] + k[:-1]))])
        return cls(
            fine, np.interp(fine, temperature, enthalpy), phi, np.interp(fine, temperature, solid_fraction)
        )

    def level(self, fraction: float) -> float:
        """Potential at which the solid fraction falls to `fraction`, seen from the solid side."""
        return float(np.interp(-fraction, -self.solid_fraction, self.potential))

    @property
    def solidus(self) -> float:
        """Highest potential at which all is solid [W m-1]."""
        return float(self.potential[np.nonzero(self.solid_fraction >= 1.0)[0][-1]])


@njit(nogil=True, error_model="numpy")
def _surface_potential(inner, guess, distance, now, law, start, inverse, temperatures):
    """Potential of the face from half-cell conduction = heat exchange; also the flux and the temperature."""
    phi = guess
    q = 0.0
    temp = 0.0
    for _ in range(8):
        u = (phi - start) * inverse
        k = min(max(int(u), 0), temperatures.shape[0] - 2)
        slope = temperatures[k + 1] - temperatures[k]
        temp = temperatures[k] + (u - k) * slope
        slope *= inverse
        if not np.isnan(law[7]):  # fixed temperature
            change = (law[7] - temp) / slope
            phi += change
            q = (inner - phi) / distance
            if abs(change * slope) < 1e-9:
                break
            continue
        kelvin = temp + 273.15
        around = law[6] + 273.15
        root = np.sqrt(max(now, 1e-12))
        q = max(law[1] - law[2] * root + law[8] / root, 0.0) + law[3] * (temp - law[4])
        q += law[5] * 5.670374419e-8 * (kelvin**4 - around**4)
        dq = (law[3] + 4.0 * law[5] * 5.670374419e-8 * kelvin**3) * slope
        change = (inner - phi - distance * q) / (1.0 + distance * dq)
        phi += change
        if abs(change * slope) < 1e-6:
            break
    return phi, q, temp


@njit(nogil=True, error_model="numpy")
def _march(enthalpy, dx, dy, laws, h0, per_h, potentials, fastest, p0, per_p, temperatures, times, courant, level, beyond, both, profiles, surfaces, marks):  # fmt: skip
    """Explicit march of cells (depth below the wide face, distance from mid-width) of widths dx (n), dy (m).

    `profiles` (nt, n) takes the potentials under the wide mid-face, `surfaces` (nt) its temperature, `marks` when the
    centre passed `level`, heat removed, age at the end, steps. Ends with `times`, or at `beyond` times the age at which
    the centre has passed.
    """
    n, m = enthalpy.shape
    phi = np.empty((n, m))
    wide = np.full(m, p0 + (temperatures.shape[0] - 1) / per_p)
    narrow = np.full(n, wide[0])
    flux = np.zeros(m + 1)
    above = np.zeros(m)
    wide_t = np.zeros(m)
    top = potentials.shape[0] - 2
    down = np.zeros(n)  # distance to the next centre
    for i in range(n - 1):
        down[i] = 0.5 * (dx[i] + dx[i + 1])
    out = np.zeros(m)
    for j in range(m - 1):
        out[j] = 0.5 * (dy[j] + dy[j + 1])
    now = 0.0
    sample = 0
    steps = 0
    section = 0
    law = laws[0]
    removed = 0.0
    before = 1e300
    then = 0.0
    dt = 0.0
    while True:
        for i in range(n):
            for j in range(m):
                u = (enthalpy[i, j] - h0) * per_h
                k = min(max(int(u), 0), top)
                phi[i, j] = potentials[k] + (u - k) * (potentials[k + 1] - potentials[k])
        for j in range(m):
            wide[j], above[j], wide_t[j] = _surface_potential(
                phi[0, j], min(wide[j], phi[0, j]), 0.5 * dx[0], now, law, p0, per_p, temperatures
            )
        # the centre and what was asked for, on the symmetry planes to second order
        centre = (81.0 * phi[n - 1, 0] - 9.0 * (phi[n - 2, 0] + phi[n - 1, 1]) + phi[n - 2, 1]) / 64.0
        if marks[0] < 0.0 and centre <= level:
            marks[0] = then + (now - then) * (before - level) / (before - centre) if steps > 0 else 0.0
        before = centre
        then = now
        while sample < times.shape[0] and now >= times[sample] * (1.0 - 1e-12):
            for i in range(n):
                profiles[sample, i] = (9.0 * phi[i, 0] - phi[i, 1]) / 8.0
            surfaces[sample] = (9.0 * wide_t[0] - wide_t[1]) / 8.0
            sample += 1
        if sample == times.shape[0] or 0.0 <= beyond * marks[0] <= now:
            break
        if section < laws.shape[0] - 1 and now >= laws[section, 0] * (1.0 - 1e-12):
            section += 1  # what was sampled above belongs to the stretch before
            law = laws[section]
            continue
        if steps % 20 == 0:
            quickest = 0.0
            for i in range(n):
                a = 1.0 / (down[i] * dx[i]) if i < n - 1 else 0.0
                a += 1.0 / (down[i - 1] * dx[i]) if i > 0 else 2.0 / dx[i] ** 2
                for j in range(m):
                    b = 1.0 / (out[j] * dy[j]) if j < m - 1 else 2.0 / dy[j] ** 2
                    b += 1.0 / (out[j - 1] * dy[j]) if j > 0 else 0.0
                    k = min(max(int((enthalpy[i, j] - h0) * per_h), 0), top)
                    quickest = max(quickest, fastest[k] * (a + b))
            dt = courant / quickest
        step = min(dt, times[sample] - now)
        if section < laws.shape[0] - 1:
            step = min(step, laws[section, 0] - now)
        for i in range(n):
            if both:
                narrow[i], flux[m], _ = _surface_potential(
                    phi[i, m - 1],
                    min(narrow[i], phi[i, m - 1]),
                    0.5 * dy[m - 1],
                    now,
                    law,
                    p0,
                    per_p,
                    temperatures,
                )
                removed += flux[m] * dx[i] * step
            for j in range(1, m):
                flux[j] = (phi[i, j - 1] - phi[i, j]) / out[j - 1]
            for j in range(m):
                if i == 0:
                    removed += above[j] * dy[j] * step
                below = (phi[i + 1, j] - phi[i, j]) / down[i] if i < n - 1 else 0.0
                enthalpy[i, j] += step * ((below - above[j]) / dx[i] + (flux[j] - flux[j + 1]) / dy[j])
                above[j] = below
        now += step
        steps += 1
    marks[1] = removed
    marks[2] = now
    marks[3] = steps
    return sample


@dataclass(frozen=True)
class Quarter:
    """What the reference gives under the wide mid-face."""

    times: np.ndarray
    depth: np.ndarray  # cell centres [m]
    potential: np.ndarray  # (nt, n)
    surface: np.ndarray  # (nt,) [degC]
    end: float  # centre solid [s]; NaN if it did not get there
    removed: float  # heat through both faces [J m-1]
    enthalpy: np.ndarray  # of the cells at the end [J m-3]
    steps: int

    def front(self, level: float, half: float) -> np.ndarray:
        """Depth at which the potential passes `level` [m]."""
        out = np.empty(len(self.times))
        for k, p in enumerate(self.potential):
            i = int(np.argmax(p > level)) if np.any(p > level) else len(p)
            if i == 0:
                out[k] = 0.0
            elif i == len(p):
                out[k] = half
            else:
                u = (level - p[i - 1]) / (p[i] - p[i - 1])
                out[k] = self.depth[i - 1] + u * (self.depth[i] - self.depth[i - 1])
        return out


def widths(half: float, first: float, cap: float) -> np.ndarray:
    """Cell widths from the surface inwards: growing by an eighth from `first` to `cap` [m]."""
    w = [first]
    while sum(w) < half:
        w.append(min(1.125 * w[-1], cap))
    return np.array(w) * (half / sum(w))


def quarter(
    curves: Curves,
    dx: np.ndarray,
    dy: np.ndarray,
    laws: Sequence[Law],
    *,
    initial: float,
    times: np.ndarray,
    level: float | None = None,
    beyond: float = 1.0,
    both: bool = True,
    courant: float = 0.95,
) -> Quarter:
    """March a quarter section of cells `dx` below the wide face and `dy` from the narrow face.

    `both` false insulates the narrow face; the march stops at `beyond` times the age at which the centre passes the
    potential `level`.
    """
    h = np.linspace(curves.enthalpy[0], curves.enthalpy[-1], 32769)
    phi = np.interp(h, curves.enthalpy, curves.potential)
    fastest = np.maximum.accumulate(np.diff(phi) / np.diff(h))
    p = np.linspace(curves.potential[0], curves.potential[-1], 16385)
    t = np.interp(p, curves.potential, curves.temperature)
    rows = np.array([(*law, 0.0)[:9] for law in laws], dtype=float)
    enthalpy = np.full((len(dx), len(dy)), np.interp(initial, curves.temperature, curves.enthalpy))
    times = np.asarray(times, dtype=float)
    profiles = np.full((len(times), len(dx)), np.nan)
    surfaces = np.full(len(times), np.nan)
    marks = np.array([-1.0, 0.0, 0.0, 0.0])
    done = _march(
        enthalpy, dx, np.ascontiguousarray(dy[::-1]), rows, h[0], 1.0 / (h[1] - h[0]), phi,
        fastest, p[0], 1.0 / (p[1] - p[0]), t, times, courant, -np.inf if level is None else level, beyond, both,
        profiles, surfaces, marks,
    )  # fmt: skip
    if not (np.all(np.isfinite(enthalpy)) and enthalpy.min() >= h[0]):
        raise ArithmeticError(
            f"the reference left its property curves: {enthalpy.min():.3g} J/m3 in a corner"
        )
    end = float(marks[0]) if marks[0] >= 0 else float("nan")
    depth = np.cumsum(dx) - 0.5 * dx
    return Quarter(
        times[:done], depth, profiles[:done], surfaces[:done], end, marks[1], enthalpy, int(marks[3])
    )


# ----------------------------------------------------------------------------------------------------------------
# proofs


@dataclass(frozen=True)
class Check:
    """One proof of the reference: what, what was found, what is expected."""

    name: str
    found: str
    expected: str
    good: bool


NAN = float("nan")


def product_errors(cells: Sequence[int]) -> list[float]:
    """Largest error under the mid-face of a 160 x 240 mm section with constant properties [K].

    Exact: the product of two plate solutions (H.S. Carslaw and J.C. Jaeger, Conduction of Heat in Solids, 1959, 1.15
    and 3.11, recalled).
    """
    k, c, h, water, hot = 30.0, 7400.0 * 680.0, 450.0, 30.0, 1200.0
    t = np.array([0.0, 1300.0])
    curves = Curves.of(t, c * t, np.full(2, k), np.ones(2))
    half, half_width = 0.08, 0.12
    times = np.linspace(60.0, 600.0, 10)
    fourier, along = k / c * times / half**2, k / c * times / half_width**2
    across = plate_convection(along, 0.0, h * half_width / k)
    law = (1e9, 0.0, 0.0, h, water, 0.0, water, NAN)
    worst = []
    for n in cells:
        dx, dy = np.full(n, half / n), np.full(n, half_width / n)
        q = quarter(curves, dx, dy, [law], initial=hot, times=times)
        depth = np.append(0.0, q.depth)
        found = np.column_stack([q.surface, q.potential / k])
        exact = np.column_stack([plate_convection(fourier, 1.0 - x / half, h * half / k) for x in depth])
        worst.append(float(np.abs(found - water - (hot - water) * exact * across[:, None]).max()))
    return worst


def corner_front(n: int) -> tuple[float, float]:
    """Depth of the front beside a corner at fixed temperature over sqrt(4 a t): on the diagonal, and far from it.

    Equal properties, superheat 0.3 and latent heat 0.25 times c (freezing - wall), n x n cells.
    """
    diffusivity, melting, width, end, length = 1e-5, 1000.0, 4.0, 250.0, 0.25
    t = np.array([-100.0, melting - 0.5 * width, melting + 0.5 * width, 1500.0])
    h = t + 0.25 * melting * np.array([0.0, 0.0, 1.0, 1.0])
    curves = Curves.of(t, h, np.full(4, diffusivity), np.array([1.0, 1.0, 0.0, 0.0]))
    cells = np.full(n, length / n)
    law = (1e9, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    q = quarter(curves, cells, cells, [law], initial=1300.0, times=np.array([end]))
    scale = 2.0 * np.sqrt(diffusivity * end)
    solid = np.interp(
        q.enthalpy, curves.enthalpy, curves.solid_fraction
    )  # columns run from mid-width to the face
    diagonal = float(np.diagonal(solid[:, ::-1]).sum() * cells[0])
    return diagonal / scale, float(solid[:, 0].sum() * cells[0]) / scale
