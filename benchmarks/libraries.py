"""General-purpose PDE libraries on the reference strand: FiPy (finite volumes) and scikit-fem (finite elements).

Each brings mesh, assembly and linear solver; Newton's linearisation and the steps are told to it here. Steps are a share
of the time since the last zone border, so the coarser the cheaper. Unknown is the conduction potential phi.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import numpy as np
from peers import curves as shared_curves
from peers import graded, read_shell
from reference_strand import AROUND, EMISSIVITY, HALF, TIMES, WATER, Answer, Strand, steel

SIGMA, KELVIN = 5.670374419e-8, 273.15
FIRST, LONGEST = 0.02, 100.0  # first step after a border [s], and longest for a share of 1
GAMMA = 2.0 - np.sqrt(2.0)


class Curve:
    """A curve over phi in equal steps: value and slope."""

    def __init__(self, phi: np.ndarray, values: np.ndarray) -> None:
        self.first, self.inverse = phi[0], 1.0 / (phi[1] - phi[0])
        self.values, self.slopes = values, np.diff(values) * self.inverse

    def __call__(self, phi: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        u = (np.asarray(phi) - self.first) * self.inverse
        k = np.clip(u.astype(np.int64), 0, len(self.slopes) - 1)
        return self.values[k] + (u - k) * self.slopes[k] / self.inverse, self.slopes[k]


@cache
def curves() -> tuple[Curve, Curve]:
    """Enthalpy [J m-3] and temperature [degC] over phi [W m-1]."""
    s = steel()
    t = np.unique(np.concatenate([s.temperature, np.linspace(s.temperature[0], s.temperature[-1], 20001)]))
    k = np.interp(t, s.temperature, s.conductivity)
    phi = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(t) * (k[1:] + k[:-1]))])
    even = np.linspace(phi[0], phi[-1], 16385)
    h = s.march_density * np.interp(t, s.temperature, s.enthalpy)
    return Curve(even, np.interp(even, phi, h)), Curve(even, np.interp(even, phi, t))


def flux(phi: float, now: float, row: np.ndarray) -> tuple[float, float]:
    """Heat flux out of the surface [W m-2] and its derivative by phi."""
    if row[3] == 0.0:
        return row[1] - row[2] * np.sqrt(now), 0.0
    t, slope = (float(v) for v in curves()[1](phi))
    kelvin = t + KELVIN
    q = row[3] * (t - WATER) + EMISSIVITY * SIGMA * (kelvin**4 - (AROUND + KELVIN) ** 4)
    return q, (row[3] + 4.0 * EMISSIVITY * SIGMA * kelvin**3) * slope


def steps(strand: Strand, share: float) -> Iterator[tuple[float, float, np.ndarray]]:
    """Yield the beginning and length of every step [s] and the row of its stretch."""
    begin = 0.0
    for row in strand.rows:
        t = begin
        while t < row[0]:
            dt = min(FIRST + share * (t - begin), LONGEST * share)
            dt = row[0] - t if t + 1.3 * dt > row[0] else dt
            yield t, dt, row
            t = row[0] if t + dt >= row[0] else t + dt
        begin = float(row[0])


def gather(strand: Strand, share: float, advance: Callable, x: np.ndarray, phi: np.ndarray) -> Answer:
    """Step along; shell and surface are linear between steps. `advance` returns phi at x and at the surface."""
    level = shared_curves()[0][4]
    times, shells, surfaces = [0.0], [0.0], [strand.pouring]
    for t, dt, row in steps(strand, share):
        phi, face = advance(t, dt, row)
        times.append(t + dt)
        shells.append(read_shell(phi, face, x, level))
        surfaces.append(float(curves()[1](face)[0]))
    return Answer(np.interp(TIMES, times, shells), np.interp(TIMES, times, surfaces), strand)


def poured(strand: Strand) -> float:
    """Potential at the start [W m-1]."""
    t = curves()[1]
    return float(np.interp(strand.pouring, t.values, t.first + np.arange(len(t.values)) / t.inverse))


def fipy(strand: Strand, cells: int, share: float) -> Answer:
    """March by FiPy: implicit finite volumes on graded cells, backward Euler, swept to the enthalpy.

    The flux leaves from the first cell, the surface lies half a cell further.
    """
    from fipy import CellVariable, DiffusionTerm, Grid1D, ImplicitSourceTerm
    from fipy.solvers.scipy import LinearLUSolver

    dx = graded(cells)
    mesh = Grid1D(dx=dx)
    phi = CellVariable(mesh=mesh, value=poured(strand))
    slope, rest = CellVariable(mesh=mesh), CellVariable(mesh=mesh)
    equation = DiffusionTerm(coeff=1.0, var=phi) == ImplicitSourceTerm(coeff=slope, var=phi) + rest
    solver = LinearLUSolver(tolerance=1e-12, iterations=5)
    state = {"face": poured(strand)}

    def advance(t: float, dt: float, row: np.ndarray) -> tuple[np.ndarray, float]:
        before = curves()[0](phi.value)[0]
        for _ in range(12):
            old = phi.value.copy()
            h, dh = curves()[0](old)
            face = state["face"]
            for _ in range(8):  # surface: what arrives over the half cell leaves
                q, dq = flux(face, t + dt, row)
                change = (old[0] - face - 0.5 * dx[0] * q) / (1.0 + 0.5 * dx[0] * dq)
                face += change
                if abs(change) < 1e-3:
                    break
            state["face"] = face
            given = dq / (1.0 + 0.5 * dx[0] * dq)
            coefficient, constant = dh / dt, (h - before - dh * old) / dt
            coefficient[0] += given / dx[0]
            constant[0] += (q - given * old[0]) / dx[0]
            slope.setValue(coefficient)
            rest.setValue(constant)
            equation.solve(var=phi, solver=solver)
            if np.abs(phi.value - old).max() < 3.0:
                break
        return phi.value.copy(), state["face"]

    return gather(strand, share, advance, np.cumsum(dx) - 0.5 * dx, phi.value)


def scikit_fem(strand: Strand, cells: int, share: float) -> Answer:
    """March by scikit-fem: linear elements on a graded mesh, TR-BDF2 and Newton; nodes on surface and centre."""
    from scipy.linalg import solve_banded
    from skfem import Basis, BilinearForm, ElementLineP1, LinearForm, MeshLine
    from skfem.models.poisson import laplace

    x = np.concatenate([[0.0], np.cumsum(graded(cells))])
    x[-1] = HALF
    basis = Basis(MeshLine(x), ElementLineP1(), intorder=5)
    stiffness = laplace.assemble(basis).todia()
    conduction = {k: stiffness.diagonal(k) for k in (-1, 0, 1)}
    multiply = laplace.assemble(basis).tocsr()

    @BilinearForm
    def mass(u, v, w):  # type: ignore[no-untyped-def]
        return w.slope * u * v

    @LinearForm
    def load(v, w):  # type: ignore[no-untyped-def]
        return w.value * v

    def heat(phi: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return curves()[0](basis.interpolate(phi))

    def rate(phi: np.ndarray, now: float, row: np.ndarray) -> tuple[np.ndarray, float]:
        out = -(multiply @ phi)
        q, dq = flux(phi[0], now, row)
        out[0] -= q
        return out, dq

    state = {"phi": np.full(cells + 1, poured(strand))}
    state["energy"] = load.assemble(basis, value=heat(state["phi"])[0])

    def stage(
        phi: np.ndarray, base: np.ndarray, c: float, now: float, row: np.ndarray
    ) -> tuple[np.ndarray, ...]:
        """Solve energy(phi) = base + c rate(phi)."""
        for _ in range(12):
            value, slope = heat(phi)
            energy = load.assemble(basis, value=value)
            slopes = mass.assemble(basis, slope=slope).todia()
            r, dq = rate(phi, now, row)
            band = np.zeros((3, len(phi)))
            band[0, 1:] = slopes.diagonal(1) + c * conduction[1]
            band[1] = slopes.diagonal(0) + c * conduction[0]
            band[1, 0] += c * dq
            band[2, :-1] = slopes.diagonal(-1) + c * conduction[-1]
            change = solve_banded((1, 1), band, base + c * r - energy)
            phi = phi + change
            if np.abs(change).max() < 3.0:
                break
        r, _ = rate(phi, now, row)
        return phi, base + c * r

    def advance(t: float, dt: float, row: np.ndarray) -> tuple[np.ndarray, float]:
        phi, energy = state["phi"], state["energy"]
        c = 0.5 * GAMMA * dt
        r, _ = rate(phi, t, row)
        middle, at_middle = stage(phi, energy + c * r, c, t + GAMMA * dt, row)
        b2 = 1.0 / (GAMMA * (2.0 - GAMMA))
        base = b2 * at_middle - (1.0 - GAMMA) ** 2 * b2 * energy
        guess = phi + (middle - phi) / GAMMA
        state["phi"], state["energy"] = stage(guess, base, c, t + dt, row)
        return state["phi"][1:], float(state["phi"][0])

    return gather(strand, share, advance, x[1:], state["phi"])
