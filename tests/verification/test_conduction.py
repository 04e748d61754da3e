"""Conduction without freezing against exact solutions: second order in depth at surface, middle and centre.

Every march runs with the error control a hundred thousand times tighter than the default, so that what is
left is the grid. Order in time is shown in test_manufactured.py and, for radiation, here.
"""

import numpy as np
import pytest

from solidify import exact_solutions as ex
from solidify.solver.enthalpy_table import steel_table
from solidify.solver.grid import annulus, cylinder, plate, uniform_depth
from solidify.strand.solve import BoundaryCondition, march

K, C = 30.0, 7400.0 * 680.0  # W/(m K), J/(m3 K): invented, steel-like
A = K / C
EVER = 1e9
FINE = 1e-5  # of the default tolerance


def errors_at(result, exact, heat):
    """Return the largest errors at centre, half depth, surface [K] and of the heat [1]."""
    columns = result.temperature[:, [-1, result.temperature.shape[1] // 2, 0]]
    worst = [np.abs(columns[:, j] - exact(x)).max() for j, x in enumerate((0.0, 0.5, 1.0))]
    return [*worst, np.abs(result.heat[0] / heat - 1.0).max()]


@pytest.mark.parametrize("shape", ["plate", "cylinder"])
def test_convection(shape, bench, prove):
    """A 220 mm plate and a 160 mm round: series of Carslaw and Jaeger 1959, 3.11 and 7.7 (recalled)."""
    half, h = (0.11, 350.0) if shape == "plate" else (0.08, 450.0)
    grid, theta, share = {
        "plate": (plate, ex.plate_convection, ex.plate_convection_heat),
        "cylinder": (cylinder, ex.cylinder_convection, ex.cylinder_convection_heat),
    }[shape]
    times = np.linspace(10.0, 1800.0, 180)
    fourier, biot = A * times / half**2, h * half / K
    whole = C * 1170.0 * half * (1.0 if shape == "plate" else 0.5)
    cells = np.array([20, 40, 80, 160])
    found = []
    for n in cells:
        table = bench.constant(K, C, 0.0, 1300.0)
        result = march(
            table,
            grid(uniform_depth(half, n + 1)),
            [BoundaryCondition(EVER, htc=h, water_temperature=30.0)],
            initial=1200.0,
            times=times,
            tolerance=FINE,
        )
        found.append(
            errors_at(result, lambda x: 30 + 1170 * theta(fourier, x, biot), whole * share(fourier, biot))
        )
    found = np.array(found)
    for j, (name, limit) in enumerate(
        (("centre", 0.02), ("half depth", 0.02), ("surface", 0.2), ("heat", 4e-4))
    ):
        prove(f"{shape} {name}", half / cells, found[:, j], limit=limit, order=1.9)


@pytest.mark.parametrize("shape", ["plate", "cylinder"])
def test_constant_flux(shape, bench, prove):
    """120 kW/m2 from a 200 mm plate and round: Carslaw and Jaeger 1959, 3.8 and 7.8 (recalled)."""
    half, q = 0.1, 120e3
    grid, fall = {
        "plate": (plate, ex.plate_constant_flux),
        "cylinder": (cylinder, ex.cylinder_constant_flux),
    }[shape]
    times = np.linspace(0.02, 1.0, 150) * half**2 / A
    fourier = A * times / half**2
    cells = np.array([20, 40, 80, 160])
    found = []
    for n in cells:
        result = march(
            bench.constant(K, C, 0.0, 1600.0),
            grid(uniform_depth(half, n + 1)),
            [BoundaryCondition(EVER, flux=q)],
            initial=1500.0,
            times=times,
            tolerance=FINE,
        )
        found.append(errors_at(result, lambda x: 1500 - q * half / K * fall(fourier, x), q * times))
    found = np.array(found)
    for j, (name, limit) in enumerate((("centre", 0.02), ("half depth", 0.02), ("surface", 0.05))):
        prove(f"{shape} {name}", half / cells, found[:, j], limit=limit, order=1.9)
    assert found[:, 3].max() < 1e-10  # the flux is prescribed: its sum is exact


@pytest.mark.parametrize("surface", ["flux", "convection", "fixed"])
def test_half_space(surface, bench, prove):
    """Three surface conditions on a deep body: Carslaw and Jaeger 1959, 2.4 to 2.9 (recalled)."""
    law = {"initial": 1200.0, "conductivity": K, "heat_capacity": C}
    face, exact = {
        "flux": (
            BoundaryCondition(EVER, flux=150e3),
            lambda x, t: ex.semi_infinite_flux(x, t, flux=150e3, **law),
        ),
        "convection": (
            BoundaryCondition(EVER, htc=400.0, water_temperature=30.0),
            lambda x, t: ex.semi_infinite_convection(x, t, fluid=30.0, coefficient=400.0, **law),
        ),
        "fixed": (
            BoundaryCondition(EVER, temperature=600.0),
            lambda x, t: ex.semi_infinite_fixed(x, t, surface=600.0, **law),
        ),
    }[surface]
    times = np.linspace(60.0, 300.0, 120)
    spacing = 0.4 / np.array([100, 200, 400])
    found = []
    for dx in spacing:
        depth = uniform_depth(0.4, round(0.4 / dx) + 1)
        result = march(
            bench.constant(K, C, 0.0, 1600.0),
            plate(depth),
            [face],
            initial=1200.0,
            times=times,
            tolerance=FINE,
        )
        found.append(np.abs(result.temperature - exact(depth[None, :], times[:, None])).max())
    prove(surface, spacing, found, limit=0.06, order=1.9)


def radiating(step=None, tolerance=1.0):
    """A plate 20 mm thick that conducts so well that it has one temperature."""
    table = steel_table(
        np.array([0.0, 1300.0]), np.array([0.0, 1300.0 * 5.032e6]), np.full(2, 2e5), np.ones(2)
    )
    kelvin = np.linspace(1470.0, 620.0, 120)
    times = ex.lumped_radiation_time(
        kelvin - 273.15, initial=1200.0, ambient=30.0, emissivity=0.8, heat_per_area=0.02 * 5.032e6
    )
    face = BoundaryCondition(EVER, emissivity=0.8, ambient_temperature=30.0)
    times = np.append(times, 3200.0)
    result = march(
        table,
        plate(uniform_depth(0.02, 5)),
        [face],
        initial=1200.0,
        times=times,
        step=step,
        tolerance=tolerance,
    )
    return np.abs(result.surface_temperature[0, :-1] + 273.15 - kelvin).max()


def test_radiation_of_a_thin_plate_is_second_order_in_time(prove):
    """Bejan and Kraus, Heat Transfer Handbook, 2003, eq. (3.283) (read): time to cool by radiation."""
    steps = 3200.0 / np.array([20, 40, 80, 160])
    prove("fixed step", steps, [radiating(step=s) for s in steps], limit=0.3, order=1.9)


def test_radiation_of_a_thin_plate_keeps_the_tolerance(compare):
    """The default error control stays within 1 K over 3200 s, a tighter one within its share."""
    compare("largest error, default tolerance", radiating(), 0.0, 1.0, "K")
    compare("largest error, a thousandth of it", radiating(tolerance=1e-3), 0.0, 0.02, "K")


def test_radiation_of_a_half_space(bench, prove):
    """Surface temperatures from the exact Volterra equation (Jaeger 1950, recalled), solved to 7e-11 K."""
    times = np.array([10.0, 60.0, 300.0, 900.0])
    kelvin = np.array([1418.2595868889903, 1356.732846769464, 1266.316297861361, 1186.5361277014365])
    cells = np.array([200, 400, 800])
    found = []
    for n in cells:
        result = march(
            bench.constant(30.0, 5.032e6, 0.0, 1300.0),
            plate(uniform_depth(0.6, n + 1)),
            [BoundaryCondition(EVER, emissivity=0.8, ambient_temperature=30.0)],
            initial=1200.0,
            times=times,
            tolerance=FINE,
        )
        found.append(np.abs(result.surface_temperature[0] + 273.15 - kelvin).max())
    prove("surface", 0.6 / cells, found, limit=0.03, order=1.9)


def varying(conductivity, capacity, slope, reference, low, high):
    """Conductivity and, if `capacity` says so, heat capacity linear in temperature."""
    t = np.linspace(low, high, 401)
    rise = 1.0 + slope * (t - reference)
    heat = capacity(t - reference)
    return steel_table(t, heat - heat[0], conductivity * rise, np.ones_like(t), accuracy=0.01)


@pytest.mark.parametrize("shape", ["plate", "hollow cylinder"])
def test_steady_conduction_with_varying_conductivity(shape, prove, compare):
    """Kirchhoff's potential, Carslaw and Jaeger 1959, 1.6 (recalled): exact in a plate."""
    law = {"conductivity": 25.0, "slope": 4e-4, "reference": 1000.0}
    table = varying(25.0, lambda t: 5e6 * t, 4e-4, 1000.0, 500.0, 1500.0)
    cells, faults, fluxes = np.array([20, 40, 80]), [], []
    for n in cells:
        if shape == "plate":
            depth = uniform_depth(0.1, n + 1)
            grid, share, flux = plate(depth), depth / 0.1, 214625.0
        else:
            depth = uniform_depth(0.08, n + 1)
            grid, share = annulus(depth, 0.02), np.log1p(depth / 0.02) / np.log(5.0)
            flux = 13335.401032985668 / 0.02
        result = march(
            table,
            grid,
            [BoundaryCondition(EVER, temperature=1450.0)],
            inner=[BoundaryCondition(EVER, temperature=600.0)],
            initial=1000.0,
            times=[1e5],
        )
        faults.append(np.abs(result.temperature[0] - ex.kirchhoff_steady(share, 1450.0, 600.0, **law)).max())
        fluxes.append(abs(-result.heat_flux[0, 0] / flux - 1.0))
        if shape == "plate":
            assert result.heat_flux[1, 0] == pytest.approx(flux, rel=1e-6)
        else:
            assert result.heat_flux[1, 0] * 0.1 / 0.02 == pytest.approx(-result.heat_flux[0, 0], rel=1e-6)
    if shape == "plate":
        compare(
            "largest error of the temperature", max(faults), 0.0, 1e-3, "K"
        )  # the table follows T to 1e-4 K
        compare("largest error of the heat flux", max(fluxes), 0.0, 1e-6)
    else:
        prove("temperature", 0.08 / cells, faults, limit=0.3, order=1.9)
        prove("heat rate", 0.08 / cells, fluxes, limit=4e-4, order=1.9)


def test_transient_conduction_with_varying_conductivity_and_heat_capacity(prove):
    """Both linear with one slope, so that the potential obeys the linear equation (derived)."""
    law = {
        "initial": 1250.0,
        "flux": 120e3,
        "half_thickness": 0.1,
        "conductivity": 30.0,
        "heat_capacity": 4.81e6,
        "slope": 3e-4,
        "reference": 1000.0,
    }
    table = varying(30.0, lambda t: 4.81e6 * (t + 0.5 * 3e-4 * t**2), 3e-4, 1000.0, 300.0, 1300.0)
    times = np.linspace(60.0, 2000.0, 150)
    cells, found = np.array([20, 40, 80]), []
    for n in cells:
        depth = uniform_depth(0.1, n + 1)
        result = march(
            table,
            plate(depth),
            [BoundaryCondition(EVER, flux=120e3)],
            initial=1250.0,
            times=times,
            tolerance=FINE,
        )
        exact = ex.kirchhoff_plate_flux(1.0 - depth[None, :] / 0.1, times[:, None], **law)
        found.append(np.abs(result.temperature - exact).max())
    prove("temperature", 0.1 / cells, found, limit=0.05, order=1.9)
