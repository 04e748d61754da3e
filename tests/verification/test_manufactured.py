"""A manufactured solution of the enthalpy equation: second order in depth and in time, every kind of face.

Roache, Journal of Fluids Engineering 124 (2002) 4 (recalled). The temperature is prescribed,

    T = T0 - D(t) (0.6 e^2 + 0.4 e^4),  D = dT (1 - exp(-t/tau)),  e = 1 - x/R,

latent heat is released smoothly, H = rho (c0 u + c1 u^2/2 + L f), k = k0 + k1 u + k2 f with u = T - Tref and
f = (1 + tanh((T - Tm)/w))/2, and the source that makes it a solution follows from the equation. The material is
invented and steel-like.
"""

import numpy as np
import pytest

from solidify.grid import cylinder, plate, uniform_depth
from solidify.marching import Face, march
from solidify.tables import steel_table

R, T0, FALL, TAU, RHO = 0.1, 1540.0, 640.0, 150.0, 7400.0
C0, C1, LATENT, TM, WIDTH, K0, K1, K2, TREF = 620.0, 0.1, 272e3, 1485.0, 25.0, 28.0, 0.01, 10.0, 1000.0
SIGMA, KELVIN = 5.670374419e-8, 273.15
SHAPES = {"plate": (plate, 0), "cylinder": (cylinder, 1)}
FACES = ["flux", "fixed", "convection", "radiation"]


def melted(t):
    return 0.5 * (1.0 + np.tanh((t - TM) / WIDTH))


def melting_rate(t):
    return 0.5 / WIDTH / np.cosh((t - TM) / WIDTH) ** 2


def conductivity(t):
    return K0 + K1 * (t - TREF) + K2 * melted(t)


def enthalpy(t):
    u = t - TREF
    return RHO * (C0 * u + 0.5 * C1 * u**2 + LATENT * melted(t))


def table():
    t = np.linspace(800.0, 1640.0, 3361)
    return steel_table(t, enthalpy(t) - enthalpy(t[0]), conductivity(t), 1.0 - melted(t))


def drop(time):
    return FALL * -np.expm1(-np.asarray(time) / TAU)


def temperature(depth, time):
    e = 1.0 - depth / R
    return T0 - drop(time) * (0.6 * e**2 + 0.4 * e**4)


def surface_flux(time):
    return 2.8 * conductivity(T0 - drop(time)) * drop(time) / R


def source(depth, curved):
    """Return the source of the prescribed temperature as a function of time, shape (time, depth)."""
    e = 1.0 - depth[None, :] / R

    def of(time):
        t = np.asarray(time)[:, None]
        value, d = temperature(depth[None, :], t), drop(t)
        rate = -(FALL / TAU) * np.exp(-t / TAU) * (0.6 * e**2 + 0.4 * e**4)
        slope = -d * (1.2 * e + 1.6 * e**3) / R
        bend = -d * ((1.2 + 4.8 * e**2) + curved * (1.2 + 1.6 * e**2)) / R**2
        capacity = RHO * (C0 + C1 * (value - TREF) + LATENT * melting_rate(value))
        return capacity * rate - conductivity(value) * bend - (K1 + K2 * melting_rate(value)) * slope**2

    return of


def face(kind):
    """Return a face that acts as the solution asks, through the law that is to be tested."""
    if kind == "fixed":
        return Face(300.0, temperature=lambda t: T0 - drop(t))
    if kind == "flux":
        return Face(300.0, flux=surface_flux)
    if kind == "convection":  # the rest of the flux is prescribed, so that the law's own share is as it falls
        return Face(
            300.0,
            flux=lambda t: surface_flux(t) - 800.0 * (T0 - drop(t) - 30.0),
            htc=800.0,
            water_temperature=30.0,
        )
    radiated = lambda t: 0.8 * SIGMA * ((T0 - drop(t) + KELVIN) ** 4 - 303.15**4)  # noqa: E731
    return Face(300.0, flux=lambda t: surface_flux(t) - radiated(t), emissivity=0.8, ambient_temperature=30.0)


def run(shape, kind, cells, steel, times, **control):
    build, curved = SHAPES[shape]
    depth = uniform_depth(R, cells + 1)
    grid = build(depth)
    result = march(
        steel, grid, [face(kind)], initial=T0, times=times, source=source(depth, curved), **control
    )
    return depth, result


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("kind", FACES)
def test_second_order_in_depth(shape, kind, prove):
    """Largest error anywhere, and at the surface, over 150 instants up to 300 s."""
    times, steel = np.linspace(10.0, 300.0, 150), table()
    cells, found = np.array([20, 40, 80]), []
    for n in cells:
        depth, result = run(shape, kind, n, steel, times, tolerance=1e-4)
        exact = temperature(depth[None, :], times[:, None])
        error = np.abs(result.temperature - exact)
        found.append([error[:, 0].max(), error.max()])
    found = np.array(found)
    if kind == "fixed":
        assert found[:, 0].max() < 1e-3
    else:
        prove(f"{shape}, {kind}: surface", R / cells, found[:, 0], limit=0.13, order=1.9)
    prove(f"{shape}, {kind}: anywhere", R / cells, found[:, 1], limit=0.13, order=1.9)


@pytest.mark.parametrize("shape", list(SHAPES))
@pytest.mark.parametrize("kind", FACES)
def test_second_order_in_time(shape, kind, prove):
    """Fixed steps on one grid against a far finer step on the same grid, at instants that all steps land on."""
    times, steel = np.linspace(30.0, 300.0, 10), table()
    steps, cells = np.array([15.0, 7.5, 3.75, 1.875]), 40
    _, reference = run(shape, kind, cells, steel, times, step=0.1171875)
    found = []
    for step in steps:
        _, result = run(shape, kind, cells, steel, times, step=step)
        found.append(np.abs(result.temperature - reference.temperature).max())
    prove(f"{shape}, {kind}", steps, found, limit=0.08, order=1.9)
