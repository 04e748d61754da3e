"""The same classes of problem over the range of their numbers: Stefan, Biot, superheat, ratios of properties.

Lengths, times and properties are of order one, as the literature tabulates them. The exact functions used here
are themselves held against a 40-digit evaluation in tests/unit/test_exact_solutions.py.
"""

import json
from pathlib import Path

import numpy as np
import pytest

from solidify import exact_solutions as ex
from solidify.solver.enthalpy_table import steel_table
from solidify.solver.grid import annulus, cylinder, plate, uniform_depth
from solidify.strand.solve import BoundaryCondition, march

pytestmark = pytest.mark.full

EVER = 1e9
FRONTS = json.loads((Path(__file__).parent / "data" / "one_phase_fronts.json").read_text())["dimensionless"]
ENVELOPE = 0.3  # of the spacing, for an isothermal front five cells deep or more: see test_freezing.py
SIGMA = 5.670374419e-8
WIDTH = 4e-4
"""Freezing range of an isothermal alloy: 0.2 K where the table spans some 1000 K."""
MOLTEN = 2.1e-4
"""What liquid at its melting point must stand above it."""


def freezing(melting, stefan_number, low, high, ks=1.0, kl=1.0, cs=1.0, cl=1.0, width=WIDTH):
    """Freezes at `melting`, latent heat 1/St, spread over `width`."""
    h = cs * (melting - low)
    t = np.array([low, melting, melting, high])
    enthalpy = np.array([0.0, h, h + 1 / stefan_number, h + 1 / stefan_number + cl * (high - melting)])
    return steel_table(
        t, enthalpy, np.array([ks, ks, kl, kl]), np.array([1.0, 1.0, 0.0, 0.0]), narrowest=width
    )


def off(solution, table, wall, initial, length, cells):
    """Spacing of each grid, and the largest error of the shell and (relative) of the heat flux, times 0.25 to 1."""
    times = np.linspace(0.25, 1.0, 120)
    found = []
    for count in cells:
        result = march(
            table,
            plate(uniform_depth(length, count + 1)),
            [BoundaryCondition(EVER, temperature=wall)],
            initial=initial,
            times=times,
            tolerance=1e-2,
        )
        shell = np.abs(result.equivalent_shell[0] - solution.equivalent_shell(times)).max()
        found.append([shell, np.abs(result.heat_flux[0] / solution.surface_heat_flux(times) - 1).max()])
    return length / np.array(cells), *np.array(found).T


@pytest.mark.parametrize("number", [0.1, 0.2, 0.5, 1.0, 1.25, 2.0, 3.0, 5.0])
def test_one_phase_over_the_stefan_number(number, prove):
    """Carslaw and Jaeger 1959, chapter 11 (recalled): front and flux, domain of twice the last front."""
    solution = ex.stefan(wall=0, melting=1, conductivity=1, heat_capacity=1, latent_heat=1 / number)
    length = 2.0 * float(solution.front(1.0))
    table = freezing(1.0, number, -0.5, 2.0)
    spacing, front, flux = off(solution, table, 0.0, 1.0 + MOLTEN, length, (50, 100, 200))
    assert np.all(front < ENVELOPE * spacing), front / spacing
    prove("front", spacing, front, limit=6e-3 * length, order=1.0)
    prove("heat flux", spacing, flux, limit=4e-3, order=1.3)


@pytest.mark.parametrize(
    ("number", "superheat", "k", "c"),
    [
        (0.2, 0.1, 1.0, 1.0),
        (1.0, 0.1, 1.0, 1.0),
        (1.0, 0.06, 1.2, 1.2),
        (1.0, 0.5, 0.5, 2.0),
        (2.0, 0.3, 1.5, 1.1),
        (4.0, 0.3, 1.0, 1.0),
    ],
)
def test_two_phases_over_superheat_and_ratios(number, superheat, k, c, prove):
    """Carslaw and Jaeger 1959, chapter 11 (recalled); wall -1, melting 0."""
    solution = ex.neumann(
        wall=-1,
        melting=0,
        initial=superheat,
        conductivity=(1, k),
        heat_capacity=(1, c),
        latent_heat=1 / number,
    )
    table = freezing(0.0, number, -2.0, 2.0, kl=k, cl=c)
    spacing, front, flux = off(solution, table, -1.0, superheat, 8.0, (200, 400, 800))
    assert np.all(front < ENVELOPE * spacing), front / spacing
    prove("front", spacing, front, limit=3e-3, order=1.0)
    prove("heat flux", spacing, flux, limit=4e-3, order=1.3)


@pytest.mark.parametrize(
    ("number", "share", "liquidus", "initial", "k", "c"),
    [
        (1.0, 0.0, 0.1, 0.16, 1.0, 1.0),
        (1.0, 0.0, 0.2, 0.3, 1.0, 1.0),
        (1.0, 0.3, 0.2, 0.3, 1.0, 1.0),
        (2.0, 0.0, 0.05, 0.15, 1.1, 1.2),
        (0.5, 0.5, 0.3, 0.5, 0.8, 1.3),
    ],
)
def test_freezing_band_over_range_and_share(number, share, liquidus, initial, k, c, prove):
    """Tien and Geiger 1967, Cho and Sunderland 1969 (recalled, re-derived); wall -1, solidus 0."""
    km, cm, latent = 0.5 * (1 + k), 0.5 * (1 + c), 1 / number
    solution = ex.freezing_band(
        wall=-1,
        solidus=0,
        liquidus=liquidus,
        initial=initial,
        conductivity=(1, km, k),
        heat_capacity=(1, cm, c),
        latent_heat=latent,
        isothermal_share=share,
    )
    h1 = 2.0
    h2, h3 = h1 + share * latent, h1 + latent + cm * liquidus
    table = steel_table(
        np.array([-2.0, 0.0, 0.0, liquidus, liquidus, 1.0]),
        np.array([0.0, h1, h2, h3, h3, h3 + c * (1.0 - liquidus)]),
        np.array([1.0, 1.0, km, km, k, k]),
        np.array([1.0, 1.0, 1.0 - share, 0.0, 0.0, 0.0]),
        narrowest=WIDTH,
    )
    spacing, shell, flux = off(solution, table, -1.0, initial, 8.0, (200, 400, 800))
    prove("equivalent shell", spacing, shell, limit=1e-3, order=1.7 if share == 0.0 else 1.2)
    prove("heat flux", spacing, flux, limit=2e-3, order=1.7)


@pytest.mark.parametrize(
    ("sink", "latent", "superheat", "k", "c"),
    [(4, 1, 0.1, 1, 1), (10, 1, 0.1, 1.2, 1.2), (10, 0.5, 0.3, 0.8, 1.5)],
)
def test_line_sink_over_its_strength(sink, latent, superheat, k, c, prove):
    """Paterson 1952 (recalled, re-derived): annulus from half the first front, exact temperatures at both ends."""
    solution = ex.line_sink(
        sink=sink,
        front_temperature=(0,),
        initial=superheat,
        conductivity=(1, k),
        heat_capacity=(1, c),
        latent_heat=latent,
    )
    inner, length = 0.5 * float(solution.front(0.3)), 4.0
    ends = [
        [BoundaryCondition(EVER, temperature=lambda t, r=r: solution.temperature(r, np.maximum(t, 0.3)))]
        for r in (inner, inner + length)
    ]
    times = np.linspace(0.4, 1.0, 100)
    spacing = length / np.array([120, 240, 480])
    found = []
    for dx in spacing:
        depth = uniform_depth(length, round(length / dx) + 1)
        result = march(
            freezing(0.0, 1 / latent, -5.0, 1.0, kl=k, cl=c),
            annulus(depth, inner),
            [BoundaryCondition(1.0, temperature=ends[0][0].temperature)],
            inner=[BoundaryCondition(1.0, temperature=ends[1][0].temperature)],
            initial=solution.temperature(inner + depth, 0.3),
            start=0.3,
            times=times,
            tolerance=1e-2,
        )
        found.append(np.abs(result.equivalent_shell[0] + inner - solution.front(times)).max())
    assert np.all(found < ENVELOPE * spacing), found / spacing
    prove("front", spacing, found, limit=3e-3, order=0.8)


@pytest.mark.parametrize("shape", ["plate", "cylinder"])
@pytest.mark.parametrize("biot", [0.01, 0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 50.0, 100.0])
def test_convection_over_the_biot_number(shape, biot, bench, prove):
    """Carslaw and Jaeger 1959, 3.11 and 7.7 (recalled), Fourier numbers from 0.1 to 2."""
    grid, theta, share = {
        "plate": (plate, ex.plate_convection, ex.plate_convection_heat),
        "cylinder": (cylinder, ex.cylinder_convection, ex.cylinder_convection_heat),
    }[shape]
    fourier = np.linspace(0.1, 2.0, 100)
    cells, found = np.array([20, 40, 80]), []
    whole = 1.0 if shape == "plate" else 0.5
    for n in cells:
        depth = uniform_depth(1.0, n + 1)
        result = march(
            bench.constant(1.0, 1.0, -0.5, 1.5),
            grid(depth),
            [BoundaryCondition(EVER, htc=biot, water_temperature=0.0)],
            initial=1.0,
            times=fourier,
            tolerance=1e-6,
        )
        off = np.abs(result.temperature - theta(fourier[:, None], 1.0 - depth[None, :], biot)).max()
        found.append([off, np.abs(result.heat[0] / whole - share(fourier, biot)).max()])
    found = np.array(found)
    prove("temperature", 1.0 / cells, found[:, 0], limit=2e-4, order=1.8)
    # at the smallest Biot number the heat is right to 1e-8, the size of the error control
    prove("heat", 1.0 / cells, found[:, 1], limit=2e-4, order=1.8 if biot > 0.05 else None)


@pytest.mark.parametrize("kind", ["flux", "convection", "fixed"])
def test_half_space(kind, bench, prove):
    """Unit flux, coefficient and step: Carslaw and Jaeger 1959, chapter 2 (recalled)."""
    law = {"conductivity": 1.0, "heat_capacity": 1.0}
    face, start, exact = {
        "flux": (
            BoundaryCondition(EVER, flux=-1.0),
            0.0,
            lambda x, t: ex.semi_infinite_flux(x, t, initial=0, flux=-1, **law),
        ),
        "convection": (
            BoundaryCondition(EVER, htc=1.0, water_temperature=0.0),
            1.0,
            lambda x, t: ex.semi_infinite_convection(x, t, initial=1, fluid=0, coefficient=1, **law),
        ),
        "fixed": (
            BoundaryCondition(EVER, temperature=0.0),
            1.0,
            lambda x, t: ex.semi_infinite_fixed(x, t, initial=1, surface=0, **law),
        ),
    }[kind]
    times, spacing, found = np.linspace(0.5, 5.0, 100), 20.0 / np.array([200, 400, 800]), []
    for dx in spacing:
        depth = uniform_depth(20.0, round(20.0 / dx) + 1)
        result = march(
            bench.constant(1.0, 1.0, -1.0, 4.0),
            plate(depth),
            [face],
            initial=start,
            times=times,
            tolerance=1e-5,
        )
        found.append(np.abs(result.temperature - exact(depth[None, :], times[:, None])).max())
    prove(kind, spacing, found, limit=1e-4, order=1.9)


def test_flux_into_a_half_space_with_varying_properties(prove):
    """k = c = 1 + T/2, unit flux inward: Segal and Praagman 1986 (read as quoted, a sign corrected)."""
    t = np.linspace(-0.5, 4.0, 901)
    table = steel_table(t, t + 0.25 * t**2, 1 + 0.5 * t, np.ones_like(t), accuracy=0.01)
    times, spacing, found = np.linspace(0.1, 2.0, 100), 10.0 / np.array([100, 200, 400]), []
    for dx in spacing:
        depth = uniform_depth(10.0, round(10.0 / dx) + 1)
        result = march(
            table,
            plate(depth),
            [BoundaryCondition(EVER, flux=-1.0)],
            initial=0.0,
            times=times,
            tolerance=1e-4,
        )
        theta = ex.semi_infinite_flux(
            depth[None, :], times[:, None], initial=0, flux=-1, conductivity=1, heat_capacity=1
        )
        found.append(np.abs(result.temperature - 2 * (np.sqrt(1 + theta) - 1)).max())
    prove("temperature", spacing, found, limit=5e-4, order=1.9)


@pytest.mark.parametrize("shape", ["plate", "hollow cylinder"])
def test_steady_conduction_with_varying_conductivity(shape, prove, compare):
    """k = 1 + T between 1 and 0: T + T^2/2 is linear in x, or in ln r from 1 to 2 (derived)."""
    t = np.linspace(-0.5, 1.5, 401)
    table = steel_table(t, t, 1 + t, np.ones_like(t), accuracy=1e-3)
    cells, found = np.array([20, 40, 80]), []
    for n in cells:
        depth = uniform_depth(1.0, n + 1)
        grid, share = (
            (plate(depth), depth) if shape == "plate" else (annulus(depth, 1.0), np.log1p(depth) / np.log(2))
        )
        faces = [BoundaryCondition(EVER, temperature=1.0)], [BoundaryCondition(EVER, temperature=0.0)]
        result = march(table, grid, faces[0], inner=faces[1], initial=0.5, times=[50.0])
        found.append(np.abs(result.temperature[0] - (np.sqrt(1 + 3 * (1 - share)) - 1)).max())
    if shape == "plate":
        compare("largest error of the temperature", max(found), 0.0, 1e-6)
    else:
        prove("temperature", 1.0 / cells, found, limit=3e-5, order=1.9)


def test_radiation_of_a_thin_plate_over_a_wide_range(compare):
    """Bejan and Kraus 2003, eq. (3.283) (read): from 1000 K to 250 K with a sink at 200 K."""
    heat = SIGMA * 1e9  # so that a unit of time is that of the dimensionless problem
    kelvin = np.geomspace(990.0, 250.0, 100)
    times = ex.lumped_radiation_time(
        kelvin - 273.15, initial=726.85, ambient=-73.15, emissivity=1.0, heat_per_area=heat
    )
    table = steel_table(np.array([-100.0, 800.0]), np.array([0.0, 900.0 * heat]), np.full(2, 1e8), np.ones(2))
    face = BoundaryCondition(EVER, emissivity=1.0, ambient_temperature=-73.15)
    for tolerance, within in ((1.0, 0.6), (1e-2, 0.05), (1e-4, 5e-3)):
        result = march(
            table, plate(uniform_depth(1.0, 3)), [face], initial=726.85, times=times, tolerance=tolerance
        )
        off = np.abs(result.surface_temperature[0] + 273.15 - kelvin).max()
        compare(f"largest error of 1000 K, tolerance {tolerance:g}", off, 0.0, within, "K")


def test_radiation_of_a_half_space(prove, bench):
    """All constants one, sink 0.2: the Volterra equation solved to 2.6e-14 (data/one_phase_fronts.json)."""
    rows = np.array(FRONTS[next(k for k in FRONTS if k.startswith("radiating"))])[1:]
    k = SIGMA * 1e9
    spacing, found = 10.0 / np.array([200, 400, 800]), []
    for dx in spacing:
        result = march(
            bench.constant(k, k, -100.0, 800.0),
            plate(uniform_depth(10.0, round(10.0 / dx) + 1)),
            [BoundaryCondition(EVER, emissivity=1.0, ambient_temperature=-73.15)],
            initial=726.85,
            times=rows[:, 0],
            tolerance=1e-6,
        )
        found.append(np.abs(1e-3 * (result.surface_temperature[0] + 273.15) - rows[:, 1]).max())
    prove("surface", spacing, found, limit=3e-6, order=1.9)


@pytest.mark.parametrize("name", ["constant flux", "flux 1 - 0.25", "travelling"])
def test_flux_driven_fronts(name, compare):
    """Front within the envelope of the spacing and surface within a few thousandths, on three grids."""
    if name == "travelling":
        t = np.array([0.25, 0.5, 0.75, 1.0])
        rows, face, length = np.column_stack([t, t, np.expm1(t)]), BoundaryCondition(2.0, flux=np.exp), 1.2
    else:
        rows = np.array(FRONTS[next(k for k in FRONTS if k.startswith(name))])
        rows, length = rows[rows[:, 0] >= 0.5], 3.0
        face = BoundaryCondition(
            EVER, flux=1.0, flux_times_sqrt_time=0.0 if name == "constant flux" else -0.25
        )
    for cells in (75, 150, 300):
        result = march(
            freezing(0.0, 1.0, -3.0, 0.5),
            plate(uniform_depth(length, cells + 1)),
            [face],
            initial=MOLTEN,
            times=rows[:, 0],
            tolerance=1e-2,
        )
        off = np.abs(result.equivalent_shell[0] - rows[:, 1]).max() * cells / length
        compare(f"front, share of a spacing, {cells} cells", off, 0.0, ENVELOPE)
        surface = np.abs(result.surface_temperature[0] + rows[:, 2]).max()
        compare(f"surface, {cells} cells", surface, 0.0, 0.3 * length / cells)


@pytest.mark.parametrize("number", [0.1, 0.5, 1.0, 2.0, 4.0])
def test_convective_fronts(number, compare):
    """Tabulated fronts within the envelope, and every instant within the rigorous bounds."""
    rows = np.array(
        [r[1:] for r in FRONTS[next(k for k in FRONTS if k.startswith("convection"))] if r[0] == number]
    )
    length, cells = 1.3 * rows[-1, 1], 260
    table = freezing(number, 1.0, -0.5, number + 1.0)
    face = BoundaryCondition(EVER, htc=1.0, water_temperature=0.0)
    times = np.linspace(0.5, 20.0, 150)
    every = np.union1d(times, rows[:, 0])
    result = march(
        table,
        plate(uniform_depth(length, cells + 1)),
        [face],
        initial=number + MOLTEN,
        times=every,
        tolerance=1e-2,
    )
    at = np.searchsorted(every, rows[:, 0])
    deep = rows[:, 1] > 5 * length / cells
    off = np.abs(result.equivalent_shell[0, at] - rows[:, 1])[deep].max() * cells / length
    compare("front, share of a spacing", off, 0.0, ENVELOPE)
    surface = np.abs(result.surface_temperature[0, at] - rows[:, 2])[deep].max()
    compare("surface, share of the Stefan number", surface / number, 0.0, 0.02)
    low, high = ex.convective_freezing_bounds(
        every, coefficient=1, ambient=0, melting=number, conductivity=1, heat_capacity=1, latent_heat=1
    )
    shell, slack = result.equivalent_shell[0], ENVELOPE * length / cells
    assert np.all((low - slack < shell) & (shell < high + slack))


@pytest.mark.parametrize("number", [0.1, 0.5, 1.0, 2.0])
def test_a_round_freezing_inward(number, prove):
    """To 90 % of the radius (data/one_phase_fronts.json)."""
    rows = np.array(
        [r[1:] for r in FRONTS[next(k for k in FRONTS if k.startswith("round"))] if r[0] == number]
    )
    assert len(rows) == 5
    spacing, found = 1.0 / np.array([50, 100, 200]), []
    for dx in spacing:
        result = march(
            freezing(number, 1.0, -0.25 * number, 1.5 * number, width=WIDTH * number),
            cylinder(uniform_depth(1.0, round(1.0 / dx) + 1)),
            [BoundaryCondition(EVER, temperature=0.0)],
            initial=number * (1 + MOLTEN),
            times=rows[:, 1],
            tolerance=1e-2,
        )
        found.append(np.abs(result.equivalent_shell[0] - rows[:, 0]).max())
    assert np.all(found < 0.5 * spacing), found / spacing  # worst at 90 % of the depth, where the front runs
    prove("front", spacing, found, limit=2.5e-3, order=0.9)
