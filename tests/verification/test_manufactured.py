"""A manufactured solution of the enthalpy equation: second order in depth and in time, every kind of face.

Roache, Journal of Fluids Engineering 124 (2002) 4 (recalled). The temperature is prescribed,

    T = T0 - D(t) (0.6 e^2 + 0.4 e^4),  D = dT (1 - exp(-t/tau)),  e = 1 - x/R,

latent heat is released smoothly, H = rho (c0 u + c1 u^2/2 + L f), k = k0 + k1 u + k2 f with u = T - Tref and
f = (1 + tanh((T - Tm)/w))/2, and the source that makes it a solution follows from the equation. Both materials are
invented: one steel-like, one of numbers of order one.
"""

from dataclasses import dataclass

import numpy as np
import pytest

from solidify.solver.enthalpy_table import steel_table
from solidify.solver.grid import cylinder, plate, uniform_depth
from solidify.strand.solve import BoundaryCondition, march

SIGMA, KELVIN = 5.670374419e-8, 273.15
SHAPES = {"plate": (plate, 0), "cylinder": (cylinder, 1)}
FACES = ["flux", "fixed", "convection", "radiation"]


@dataclass(frozen=True)
class Made:
    """One manufactured problem, symbols as above; `fall` is dT, `h` and `fluid` belong to the convective face."""

    R: float
    T0: float
    fall: float
    tau: float
    rho: float
    c0: float
    c1: float
    L: float
    Tm: float
    w: float
    k0: float
    k1: float
    k2: float
    Tref: float
    range: tuple[float, float]
    end: float
    h: float
    fluid: float

    def melted(self, t):
        return 0.5 * (1.0 + np.tanh((t - self.Tm) / self.w))

    def melting_rate(self, t):
        return 0.5 / self.w / np.cosh((t - self.Tm) / self.w) ** 2

    def conductivity(self, t):
        return self.k0 + self.k1 * (t - self.Tref) + self.k2 * self.melted(t)

    def enthalpy(self, t):
        u = t - self.Tref
        return self.rho * (self.c0 * u + 0.5 * self.c1 * u**2 + self.L * self.melted(t))

    def table(self):
        t = np.linspace(*self.range, 3361)
        return steel_table(t, self.enthalpy(t), self.conductivity(t), 1.0 - self.melted(t))

    def drop(self, time):
        return self.fall * -np.expm1(-np.asarray(time) / self.tau)

    def temperature(self, depth, time):
        e = 1.0 - depth / self.R
        return self.T0 - self.drop(time) * (0.6 * e**2 + 0.4 * e**4)

    def surface(self, time):
        return self.T0 - self.drop(time)

    def surface_flux(self, time):
        return 2.8 * self.conductivity(self.surface(time)) * self.drop(time) / self.R

    def source(self, depth, curved):
        """Return the source of the prescribed temperature as a function of time, shape (time, depth)."""
        e = 1.0 - depth[None, :] / self.R

        def of(time):
            t = np.asarray(time)[:, None]
            value, d = self.temperature(depth[None, :], t), self.drop(t)
            rate = -(self.fall / self.tau) * np.exp(-t / self.tau) * (0.6 * e**2 + 0.4 * e**4)
            slope = -d * (1.2 * e + 1.6 * e**3) / self.R
            bend = -d * ((1.2 + 4.8 * e**2) + curved * (1.2 + 1.6 * e**2)) / self.R**2
            melting = self.melting_rate(value)
            capacity = self.rho * (self.c0 + self.c1 * (value - self.Tref) + self.L * melting)
            return (
                capacity * rate - self.conductivity(value) * bend - (self.k1 + self.k2 * melting) * slope**2
            )

        return of

    def face(self, kind):
        """Return a face that acts as the solution asks, through the law that is to be tested.

        Of a convective or radiating face the law takes its own share as it falls, and the rest of the flux that the
        solution asks for is prescribed beside it.
        """
        if kind == "fixed":
            return BoundaryCondition(self.end, temperature=self.surface)
        if kind == "flux":
            return BoundaryCondition(self.end, flux=self.surface_flux)
        if kind == "convection":
            rest = lambda t: self.surface_flux(t) - self.h * (self.surface(t) - self.fluid)  # noqa: E731
            return BoundaryCondition(self.end, flux=rest, htc=self.h, water_temperature=self.fluid)
        rest = lambda t: self.surface_flux(t) - 0.8 * SIGMA * ((self.surface(t) + KELVIN) ** 4 - 303.15**4)  # noqa: E731
        return BoundaryCondition(self.end, flux=rest, emissivity=0.8, ambient_temperature=30.0)

    def march(self, shape, kind, cells, times, steel, **control):
        build, curved = SHAPES[shape]
        depth = uniform_depth(self.R, cells + 1)
        result = march(
            steel,
            build(depth),
            [self.face(kind)],
            initial=self.T0,
            times=times,
            source=self.source(depth, curved),
            **control,
        )
        return depth, result


STEEL = Made(
    R=0.1,
    T0=1540.0,
    fall=640.0,
    tau=150.0,
    rho=7400.0,
    c0=620.0,
    c1=0.1,
    L=272e3,
    Tm=1485.0,
    w=25.0,
    k0=28.0,
    k1=0.01,
    k2=10.0,
    Tref=1000.0,
    range=(800.0, 1640.0),
    end=300.0,
    h=800.0,
    fluid=30.0,
)
UNIT = Made(
    R=1.0,
    T0=1.0,
    fall=2.0,
    tau=0.5,
    rho=1.0,
    c0=1.0,
    c1=0.2,
    L=1.0,
    Tm=0.5,
    w=0.15,
    k0=1.0,
    k1=0.3,
    k2=0.5,
    Tref=0.0,
    range=(-1.4, 1.4),
    end=1.0,
    h=1.0,
    fluid=-1.0,
)


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("kind", FACES)
def test_second_order_in_depth(shape, kind, prove):
    """Largest error anywhere, and at the surface, over 150 instants up to 300 s."""
    times, steel = np.linspace(10.0, 300.0, 150), STEEL.table()
    cells, found = np.array([20, 40, 80]), []
    for n in cells:
        depth, result = STEEL.march(shape, kind, n, times, steel, tolerance=1e-4)
        error = np.abs(result.temperature - STEEL.temperature(depth[None, :], times[:, None]))
        found.append([error[:, 0].max(), error.max()])
    found = np.array(found)
    if kind == "fixed":
        assert found[:, 0].max() < 1e-3
    else:
        prove(f"{shape}, {kind}: surface", STEEL.R / cells, found[:, 0], limit=0.13, order=1.9)
    prove(f"{shape}, {kind}: anywhere", STEEL.R / cells, found[:, 1], limit=0.13, order=1.9)


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("kind", FACES)
def test_second_order_in_time(shape, kind, prove):
    """Fixed steps on one grid against a far finer step on the same grid, at instants that all steps land on."""
    times, steel = np.linspace(30.0, 300.0, 10), STEEL.table()
    steps, cells = np.array([15.0, 7.5, 3.75, 1.875]), 40
    _, reference = STEEL.march(shape, kind, cells, times, steel, step=0.1171875)
    found = []
    for step in steps:
        _, result = STEEL.march(shape, kind, cells, times, steel, step=step)
        found.append(np.abs(result.temperature - reference.temperature).max())
    prove(f"{shape}, {kind}", steps, found, limit=0.08, order=1.9)


@pytest.mark.full
@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("kind", FACES[:3])
def test_second_order_with_numbers_of_order_one(shape, kind, prove):
    """The same in depth and time for the other material; 100 instants up to 1."""
    steel = UNIT.table()
    times, cells, found = np.linspace(0.05, 1.0, 100), np.array([20, 40, 80]), []
    for n in cells:
        depth, result = UNIT.march(shape, kind, n, times, steel, tolerance=1e-4)
        found.append(np.abs(result.temperature - UNIT.temperature(depth[None, :], times[:, None])).max())
    prove(f"{shape}, {kind}: depth", UNIT.R / cells, found, limit=6e-4, order=1.9)
    times, steps = np.linspace(0.1, 1.0, 10), 0.1 / np.array([2, 4, 8, 16])
    _, reference = UNIT.march(shape, kind, 40, times, steel, step=0.1 / 256)
    found = [
        np.abs(UNIT.march(shape, kind, 40, times, steel, step=s)[1].temperature - reference.temperature).max()
        for s in steps
    ]
    prove(f"{shape}, {kind}: time", steps, found, limit=1e-3, order=1.8)
