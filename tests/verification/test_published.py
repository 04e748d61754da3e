"""The march against numbers printed by others: NAFEMS benchmarks, textbook examples, a code's verification manual."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize

from solidify import exact_solutions as ex
from solidify.solver.grid import plate, uniform_depth
from solidify.strand.solve import BoundaryCondition, march

EVER = 1e9


def test_nafems_t2_steady_conduction_with_radiation(bench, compare):
    """NAFEMS T2: 0.1 m, 55.563 W/(m K), 1000 K on one face, the other radiates (0.98) to 300 K. Target 927.0 K.

    Cameron, Casey and Simpson, NAFEMS Benchmark Tests for Thermal Analysis, 1986, test T2 (inputs and
    target seen as quoted). The profile is linear, so any grid gives the root of the balance.
    """
    table = bench.constant(55.563, 3.6e6, -100.0, 900.0)
    for nodes in (3, 6, 21):
        result = march(
            table,
            plate(uniform_depth(0.1, nodes)),
            [BoundaryCondition(EVER, emissivity=0.98, ambient_temperature=300.0 - 273.15)],
            inner=[BoundaryCondition(EVER, temperature=1000.0 - 273.15)],
            initial=600.0,
            times=[1e5],
        )
        kelvin = result.surface_temperature[0, 0] + 273.15

        def balance(t):
            return 55.563 * (1000.0 - t) / 0.1 - 0.98 * 5.670374419e-8 * (t**4 - 300.0**4)

        compare(f"printed target, {nodes} nodes", kelvin, 927.0, 0.05, "K")
        compare(
            f"root of the balance, {nodes} nodes", kelvin, optimize.brentq(balance, 300.0, 1000.0), 1e-4, "K"
        )
        assert result.heat_flux[0, 0] == pytest.approx(-result.heat_flux[1, 0], rel=1e-7)


def test_nafems_t3_transient_with_a_sinusoidal_face(bench, prove, compare):
    """NAFEMS T3: 0.1 m, one face at 0, the other at 100 sin(pi t/40) degC. Target 36.60 degC at 0.08 m and 32 s.

    35 W/(m K), 440.5 J/(kg K), 7200 kg/m3: The Standard NAFEMS Benchmarks, 1990, test T3 (inputs and target seen as
    quoted). The other depths are sums of 3000 terms of the Fourier series.
    """
    target = {0.02: 0.09090702022, 0.05: 3.374239327, 0.08: 36.60311594, 0.09: 56.05332451}
    cells, found = np.array([20, 40, 80, 160]), []
    for n in cells:
        result = march(
            bench.constant(35.0, 7200.0 * 440.5, -50.0, 150.0),
            plate(uniform_depth(0.1, n + 1)),
            [BoundaryCondition(40.0, temperature=lambda t: 100.0 * np.sin(np.pi * t / 40.0))],
            inner=[BoundaryCondition(40.0, temperature=0.0)],
            initial=0.0,
            times=[32.0],
            tolerance=1e-4,
        )
        at = {x: result.temperature[0, round((0.1 - x) / 0.1 * n)] for x in target}
        found.append(max(abs(at[x] - target[x]) for x in target))
    compare("printed target at 0.08 m and 32 s", at[0.08], 36.60, 0.01, "degC")
    prove("temperature at 32 s", 0.1 / cells, found, limit=0.01, order=1.9)


def test_incropera_example_5_4_pipe_wall(bench, compare):
    """A 40 mm wall at -20 degC, 500 W/(m2 K) at 60 degC for 8 min; printed 42.9 degC, -7400 W/m2, -2.73e7 J/m.

    Incropera, DeWitt, Bergman and Lavine, Fundamentals of Heat and Mass Transfer, 6th ed., example 5.4
    (numbers seen); 63.9 W/(m K), 18.8e-6 m2/s, 1 m pipe. The book reads charts of three digits.
    """
    capacity = 63.9 / 18.8e-6
    result = march(
        bench.constant(63.9, capacity, -60.0, 100.0),
        plate(uniform_depth(0.04, 41)),
        [BoundaryCondition(EVER, htc=500.0, water_temperature=60.0)],
        initial=-20.0,
        times=[480.0],
        tolerance=1e-3,
    )
    compare("example 5.4, printed insulated face", result.temperature[0, -1], 42.9, 0.2, "degC")
    compare("example 5.4, printed flux", result.heat_flux[0, 0], -7400.0, 111.0, "W/m2")
    # the book multiplies the heat by 7832 x 434 where the diffusivity it uses is rounded
    heat = np.pi * 1.0 * result.heat[0, 0] * 7832 * 434 / capacity
    compare("example 5.4, printed heat", heat, -2.73e7, 1.4e5, "J/m")
    compare("example 5.4, series, insulated face", result.temperature[0, -1], 43.01745141519361, 0.01, "degC")
    compare("example 5.4, series, heated face", result.temperature[0, 0], 45.363548120648815, 0.01, "degC")


def test_incropera_example_5_10_copper_plate(bench, compare):
    """300 kW/m2 into copper at 20 degC for 120 s; printed 45.4 degC at 150 mm (seen), 120.0 at the surface (recalled).

    The same example's coarse explicit and implicit nodes of 75 mm give 125.2 and 118.9 degC at the surface.
    """
    result = march(
        bench.constant(401.0, 401.0 / 117e-6, 0.0, 200.0),
        plate(uniform_depth(1.2, 241)),
        [BoundaryCondition(EVER, flux=-3e5)],
        initial=20.0,
        times=[120.0],
        tolerance=1e-3,
    )
    compare("example 5.10, printed, at 150 mm", result.temperature[0, 30], 45.4, 0.05, "degC")
    compare("example 5.10, printed, surface", result.temperature[0, 0], 120.0, 0.05, "degC")


def test_aluminium_two_phase_table(bench, prove):
    """Twenty-four printed temperatures (data/aluminium.json), by the exact solution and by the march."""
    c = json.loads((Path(__file__).parent / "data" / "aluminium.json").read_text())
    rows = np.array(c["rows"])
    depth, times, printed = np.array([5e-3, 10e-3, 15e-3, 20e-3]), rows[:, 0], rows[:, 1:]
    law = {
        "conductivity": (210.0, 95.0),
        "heat_capacity": (3.0e6, 2.58e6),
        "latent_heat": c["latent_heat_J_per_m3"],
    }
    solution = ex.neumann(wall=580, melting=660, initial=740, **law)
    exact = solution.temperature(depth[None, :], times[:, None])
    np.testing.assert_allclose(exact, printed, atol=0.01)  # printed to 0.01 K
    every = np.linspace(0.5, 3.0, 120)
    k, cap = law["conductivity"], law["heat_capacity"]
    table = bench.isothermal(660.0, k, cap, law["latent_heat"], 400.0, 900.0)
    cells, found = np.array([100, 200, 400, 800]), []
    for n in cells:
        result = march(
            table,
            plate(uniform_depth(0.1, n + 1)),
            [BoundaryCondition(EVER, temperature=580.0)],
            initial=740.0,
            times=np.union1d(every, times),
            tolerance=1e-3,
        )
        at = np.searchsorted(result.times, times)
        columns = np.round(depth / 0.1 * n).astype(int)
        found.append(
            [
                np.abs(result.temperature[np.ix_(at, columns)] - printed).max(),
                np.abs(result.equivalent_shell[0] - solution.front(result.times)).max(),
                np.abs(result.heat[0] / solution.heat_removed(result.times) - 1).max(),
            ]
        )
    found = np.array(found)
    assert np.all(found[:, 1] < 0.3 * 0.1 / cells)  # isothermal: first order, see test_freezing.py
    prove("printed temperatures", 0.1 / cells, found[:, 0], limit=0.6, order=0.8)
    prove("shell", 0.1 / cells, found[:, 1], limit=2e-5, order=1.0)
    prove("heat removed", 0.1 / cells, found[:, 2], limit=2e-3, order=1.3)


def test_iron_slab_of_a_casting_textbook(bench, compare):
    """A 100 mm iron slab, moulds at 28 degC: printed front constant 0.98 (zeta), t = h^2/(16 zeta^2 a).

    Ghosh and Mallik, Manufacturing Science, chapter 2, sample problem 6 (inputs and 0.98 seen as
    transcribed, the book's title recalled): 7850 kg/m3, 272 kJ/kg, 83 W/(m K), 670 J/(kg K), melting 1540
    degC.
    """
    heat = 7850.0 * 670.0
    solution = ex.stefan(wall=28, melting=1540, conductivity=83, heat_capacity=heat, latent_heat=7850 * 272e3)
    compare("printed front constant zeta, by the exact solution", solution.roots[0], 0.98, 0.005)
    time = 0.1**2 / (16 * solution.roots[0] ** 2 * 83.0 / heat)
    result = march(
        bench.isothermal(1540.0, (83.0, 83.0), (heat, heat), 7850 * 272e3, 0.0, 1900.0, narrowest=0.2),
        plate(uniform_depth(0.05, 101)),
        [BoundaryCondition(EVER, temperature=28.0)],
        initial=1540.11,
        times=[60.0],
        tolerance=1e-2,
    )
    compare("time to freeze through", result.centre_solidified[2], time, 0.01 * time, "s")
