"""Other ways to march the reference strand: explicit, and general-purpose integrators with a compiled right side.

All use cell-centred enthalpy, the potential from a fine uniform table over the enthalpy and the surface temperature
from the half cell; nothing is shared with the march but the property curves.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numba import njit
from reference_strand import AROUND, EMISSIVITY, HALF, SHELL, TIMES, WATER, Answer, Strand, steel
from scipy.integrate import solve_ivp
from scipy.sparse import diags_array

_CELLS = 16384  # of the tables
FIRST = 0.03  # width of the first cell of the integrators, times their number [m]


@cache
def curves() -> tuple[np.ndarray, ...]:
    """Scales, potential over equal steps of enthalpy, temperature over equal steps of potential, steepest potential.

    The scales are first enthalpy, its steps per J m-3, first potential, its steps per W m-1 and the potential of the
    shell; the steepest dphi/dH up to each enthalpy bounds the explicit step.
    """
    s = steel()
    t = np.unique(np.concatenate([s.temperature, np.linspace(s.temperature[0], s.temperature[-1], 20001)]))
    k = np.interp(t, s.temperature, s.conductivity)
    h = s.march_density * np.interp(t, s.temperature, s.enthalpy)
    phi = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(t) * (k[1:] + k[:-1]))])
    hs = np.linspace(h[0], h[-1], _CELLS + 1)
    ps = np.linspace(phi[0], phi[-1], _CELLS + 1)
    over_h = np.interp(hs, h, phi)
    fastest = np.maximum.accumulate(np.diff(over_h) / np.diff(hs))
    level = float(np.interp(-SHELL, -np.interp(t, s.temperature, s.solid_fraction), phi))
    scale = np.array([hs[0], 1.0 / (hs[1] - hs[0]), ps[0], 1.0 / (ps[1] - ps[0]), level])
    return scale, over_h, np.interp(ps, phi, t), fastest


def start(strand: Strand) -> float:
    """Enthalpy at the start [J m-3]."""
    s = steel()
    return float(s.march_density * np.interp(strand.pouring, s.temperature, s.enthalpy))


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def _potential(h, scale, over_h):
    u = (h - scale[0]) * scale[1]
    k = int(u)
    return over_h[k] + (u - k) * (over_h[k + 1] - over_h[k])


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def _face(inner, guess, distance, now, row, scale, temperatures):
    """Potential, flux and temperature of the surface."""
    phi = guess
    for _ in range(6):
        u = (phi - scale[2]) * scale[3]
        k = int(u)
        slope = temperatures[k + 1] - temperatures[k]
        temp = temperatures[k] + (u - k) * slope
        slope *= scale[3]
        if row[3] == 0.0:
            q = row[1] - row[2] * np.sqrt(now)
            dq = 0.0
        else:
            kelvin = temp + 273.15
            q = row[3] * (temp - WATER) + EMISSIVITY * 5.670374419e-8 * (kelvin**4 - (AROUND + 273.15) ** 4)
            dq = (row[3] + 4.0 * EMISSIVITY * 5.670374419e-8 * kelvin**3) * slope
        change = (inner - phi - distance * q) / (1.0 + distance * dq)
        phi += change
        if abs(change * slope) < 1e-5:
            break
    return phi, q, temp


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def read_shell(phi, surface, middle, level):
    if surface > level:
        return 0.0
    before, x = surface, 0.0
    for i in range(phi.shape[0]):
        if phi[i] > level:
            return x + (level - before) / (phi[i] - before) * (middle[i] - x)
        before, x = phi[i], middle[i]
    return HALF


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def _explicit(h, dx, rows, times, scale, over_h, temperatures, fastest, middle, shell, surface):
    n = h.shape[0]
    phi = np.empty(n)
    now = 0.0
    section = 0
    sample = 0
    steps = 0
    dt = 0.0
    face = scale[2] + (temperatures.shape[0] - 2) / scale[3]
    while True:
        for i in range(n):
            u = (h[i] - scale[0]) * scale[1]
            k = int(u)
            phi[i] = over_h[k] + (u - k) * (over_h[k + 1] - over_h[k])
        row = rows[section]
        face, q, temp = _face(phi[0], min(face, phi[0]), 0.5 * dx, now, row, scale, temperatures)
        if now >= times[sample]:
            shell[sample] = read_shell(phi, face, middle, scale[4])
            surface[sample] = temp
            sample += 1
            if sample == times.shape[0]:
                return steps
        if now >= row[0]:
            section += 1
            row = rows[section]
            face, q, temp = _face(phi[0], min(face, phi[0]), 0.5 * dx, now, row, scale, temperatures)
        if steps % 50 == 0:
            dt = 0.5 * dx * dx / fastest[int((h.max() - scale[0]) * scale[1])]
        step = dt
        if now + step >= times[sample] - 1e-9:
            step = times[sample] - now
        if now + step >= row[0] - 1e-9:
            step = row[0] - now
        c = step / (dx * dx)
        flow = q * dx
        for i in range(n - 1):
            below = phi[i + 1] - phi[i]
            h[i] += c * (below - flow)
            flow = below
        h[n - 1] -= c * flow
        now += step
        if now + 1e-9 > times[sample]:
            now = times[sample]
        steps += 1


def explicit(strand: Strand, cells: int) -> Answer:
    """March by explicit Euler at its stability limit on equal cells."""
    scale, over_h, temperatures, fastest = curves()
    dx = HALF / cells
    shell, surface = np.empty(len(TIMES)), np.empty(len(TIMES))
    middle = dx * (np.arange(cells) + 0.5)
    h = np.full(cells, start(strand))
    _explicit(h, dx, strand.rows, TIMES, scale, over_h, temperatures, fastest, middle, shell, surface)
    return Answer(shell, surface)


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def _rate(now, y, out, dx, row, scale, over_h, temperatures):
    """Rate of the enthalpies in GJ m-3; called by the integrators."""
    n = y.shape[0]
    top = over_h.shape[0] - 2
    before = 0.0
    flow = 0.0
    for i in range(n):
        u = (y[i] * 1e9 - scale[0]) * scale[1]
        k = min(max(int(u), 0), top)
        phi = over_h[k] + (u - k) * (over_h[k + 1] - over_h[k])
        if i == 0:
            _, flow, _ = _face(phi, phi - 1000.0, 0.5 * dx[0], max(now, 0.0), row, scale, temperatures)
        else:
            below = 2.0 * (phi - before) / (dx[i] + dx[i - 1])
            out[i - 1] = (below - flow) / dx[i - 1] * 1e-9
            flow = below
        before = phi
    out[n - 1] = -flow / dx[n - 1] * 1e-9


@njit(nogil=True, error_model="numpy", fastmath={"contract"})
def _read(y, times, rows, numbers, scale, over_h, temperatures, dx, middle, shell, surface):
    n = y.shape[1]
    phi = np.empty(n)
    for k in range(y.shape[0]):
        for i in range(n):
            phi[i] = _potential(y[k, i] * 1e9, scale, over_h)
        face, _, surface[k] = _face(
            phi[0], phi[0], 0.5 * dx[0], times[k], rows[numbers[k]], scale, temperatures
        )
        shell[k] = read_shell(phi, face, middle, scale[4])


def graded(cells: int) -> np.ndarray:
    """Widths that grow to a cap."""
    low, high = HALF / cells * 0.5, HALF / cells * 50
    for _ in range(60):
        cap = 0.5 * (low + high)
        w = np.minimum(FIRST / cells * 1.17 ** np.arange(cells), cap)
        if w.sum() > HALF:
            high = cap
        else:
            low = cap
    return w * (HALF / w.sum())


Stretch = Callable[[Callable, float, float, np.ndarray, np.ndarray, float], np.ndarray]


def _right_side(dx: np.ndarray, row: np.ndarray) -> Callable:
    scale, over_h, temperatures, _ = curves()

    def rate(now, state, out):  # type: ignore[no-untyped-def]
        _rate(now, state, out, dx, row, scale, over_h, temperatures)

    return rate


def _integrate(strand: Strand, cells: int, rtol: float, stretch: Stretch) -> Answer:
    """Let an integrator run from zone border to zone border; `stretch` gives the states at the samples and the end."""
    scale, over_h, temperatures, _ = curves()
    dx = graded(cells)
    y = np.full(cells, start(strand) * 1e-9)
    states, numbers = [y], [0]
    begin = 0.0
    for number, row in enumerate(strand.rows):
        end = float(row[0])
        inside = (begin < TIMES) & (end > TIMES)
        at = np.append(TIMES[inside], end)

        found = stretch(_right_side(dx, row), begin, end, y, at, rtol)
        y = found[-1].copy()
        keep = found if np.isin(end, TIMES) else found[:-1]
        states += list(keep)
        numbers += [number] * len(keep)
        begin = end
    shell, surface = np.empty(len(TIMES)), np.empty(len(TIMES))
    middle = np.cumsum(dx) - 0.5 * dx
    _read(
        np.array(states),
        TIMES,
        strand.rows,
        np.array(numbers),
        scale,
        over_h,
        temperatures,
        dx,
        middle,
        shell,
        surface,
    )
    return Answer(shell, surface)


def _scipy(method: str) -> Stretch:
    def run(rate, begin, end, y, at, rtol):  # type: ignore[no-untyped-def]
        n = len(y)

        def right(now, state):  # type: ignore[no-untyped-def]
            out = np.empty(n)
            rate(now, state, out)
            return out

        options: dict = {"lband": 1, "uband": 1} if method == "LSODA" else {}
        if method != "LSODA":
            options["jac_sparsity"] = diags_array(
                [np.ones(n - 1), np.ones(n), np.ones(n - 1)], offsets=[-1, 0, 1]
            )
        found = solve_ivp(right, (begin, end), y, method=method, t_eval=at, rtol=rtol, atol=rtol, **options)
        if not found.success:
            raise ArithmeticError(found.message)
        return found.y.T

    return run


def lsoda(strand: Strand, cells: int, rtol: float) -> Answer:
    """March by scipy's LSODA with a banded Jacobian."""
    return _integrate(strand, cells, rtol, _scipy("LSODA"))


def bdf(strand: Strand, cells: int, rtol: float) -> Answer:
    """March by scipy's BDF with a sparse Jacobian."""
    return _integrate(strand, cells, rtol, _scipy("BDF"))


def radau(strand: Strand, cells: int, rtol: float) -> Answer:
    """March by scipy's Radau with a sparse Jacobian."""
    return _integrate(strand, cells, rtol, _scipy("Radau"))


def cvode(strand: Strand, cells: int, rtol: float) -> Answer:
    """March by CVODE of SUNDIALS with a banded Jacobian; needs scikit-sundae."""
    from sksundae.cvode import CVODE

    def run(rate, begin, end, y, at, rtol):  # type: ignore[no-untyped-def]
        solver = CVODE(
            rate, method="BDF", linsolver="band", lband=1, uband=1, rtol=rtol, atol=rtol, max_num_steps=100000
        )
        found = solver.solve(np.append(begin, at), y)
        if not found.success:
            raise ArithmeticError(str(found.message))
        return found.y[1:]

    return _integrate(strand, cells, rtol, run)
