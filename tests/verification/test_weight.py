"""The weight of a rectangle's slice that turns as it solidifies: its laws, its account, and an independent solution.

The two-dimensional truth of it is held by test_section.py. Steels are the invented one of conftest.py.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from solidify.solver.boundary import schedule
from solidify.solver.driver import Slices
from solidify.solver.grid import (
    cylinder,
    graded_depth,
    mid_face,
    plate,
    section_weight,
    uniform_depth,
    weighted,
)
from solidify.solver.march import march_slices
from solidify.strand.solve import BoundaryCondition, march

HALF, POUR, EVER = 0.08, 1535.0, 1e9
STRAND = [
    BoundaryCondition(25.0, flux=2.3e6, flux_times_sqrt_time=-2.4e5, mechanism="mould"),
    BoundaryCondition(200.0, htc=380.0, water_temperature=25.0, emissivity=0.8, ambient_temperature=40.0),
    BoundaryCondition(1200.0, htc=8.0, water_temperature=40.0, emissivity=0.8, ambient_temperature=40.0),
]
TIMES = np.linspace(2.0, 1200.0, 600)


@pytest.fixture(scope="module")
def steel(bench):
    return bench.band(1430.0, 1510.0)


def turned(solid, ratio, half=HALF):
    """How far the weight has turned at an equivalent solid fraction."""
    w = section_weight(ratio, half)
    return np.clip((solid - w.begins) / (w.ends - w.begins), 0.0, 1.0)


def areas(x, ratio, half=HALF):
    """Cross-section at birth and once it has turned, written down again."""
    r, w = np.maximum(1.0 - x / half, 0.0), section_weight(ratio, half)
    return r**w.tube * np.exp(0.5 * w.tube * (1.0 - r**2)), r**w.power


# what the weight is after the centre has closed


@pytest.mark.parametrize("flux", [2e4, 5e4])
def test_a_solid_square_cools_as_its_heat_says(bench, compare, flux):
    """Constant flux q all round a solid bar of thickness D: 4 q / (D rho c) (hand calculation), and a parabola within.

    The potential of the square is then -q (x^2 + y^2) / D beside its centre, so that on the axis the centre is
    q D / (4 k) hotter than the middle of the face (H.S. Carslaw and J.C. Jaeger, Conduction of Heat in Solids, 1959,
    3.8, two plates added; recalled).
    """
    k, c = 30.0, 7400.0 * 680.0
    table = bench.constant(k, c, 0.0, 1600.0)
    rate = 4.0 * flux / (2.0 * HALF * c)
    times = np.array([0.5, 0.9]) * 800.0 / rate
    m = march(
        table,
        mid_face(graded_depth(HALF, 60), 1.0),
        [BoundaryCondition(EVER, flux=flux)],
        initial=1500.0,
        times=times,
    )
    found = (m.surface_temperature[0, 0] - m.surface_temperature[0, 1]) / (times[1] - times[0])
    compare("cooling rate", found, rate, 0.002 * rate, "K/s")
    rise = flux * 2.0 * HALF / (4.0 * k)
    compare(
        "centre over face", m.centre_temperature[-1] - m.surface_temperature[0, -1], rise, 0.005 * rise, "K"
    )


@pytest.mark.parametrize(("ratio", "within"), [(0.78, 0.06), (0.5, 0.12)])
def test_a_solid_rectangle_cools_nearly_as_its_heat_says(bench, compare, ratio, within):
    """q (1 + k) / (R rho c) with the same flux all round; the exponent lies between that of flux and of temperature."""
    c = 7400.0 * 680.0
    table = bench.constant(30.0, c, 0.0, 1600.0)
    rate = 5e4 * (1.0 + ratio) / (HALF * c)
    times = np.array([0.5, 0.9]) * 800.0 / rate
    m = march(
        table,
        mid_face(graded_depth(HALF, 60), ratio),
        [BoundaryCondition(EVER, flux=5e4)],
        initial=1500.0,
        times=times,
    )
    found = (m.surface_temperature[0, 0] - m.surface_temperature[0, 1]) / (times[1] - times[0])
    compare("cooling rate", found, rate, within * rate, "K/s")


# against a solution of its own


def independent(table, ratio, times, cells):
    """Solve dH/dt = (1/A) d(A dphi/dx)/dx by lines, A of the moment's solid fraction; surface, solid fraction."""
    x = np.linspace(0.0, HALF, cells + 1)
    middle = 0.5 * (x[1:] + x[:-1])
    h = HALF / cells
    nodes, shares = np.polynomial.legendre.leggauss(6)
    points = middle[:, None] + 0.5 * h * nodes
    volume = [(a @ shares) * 0.5 * h for a in areas(points, ratio)]
    border = areas(x, ratio)
    grid = np.linspace(600.0, 1560.0, 40001)
    enthalpies, potentials = table.enthalpy(table.potential(grid)), table.potential(grid)
    solids = table.state(potentials)[1]
    temperatures = grid

    def state(enthalpy):
        phi = np.interp(enthalpy, enthalpies, potentials)
        return phi, float(np.interp(enthalpy, enthalpies, solids).mean())

    def face(phi, t):
        inner = phi[0]
        law = next(f for f in STRAND if t < f.end or f is STRAND[-1])
        if law.flux:
            q = law.flux + law.flux_times_sqrt_time * np.sqrt(t)
            return q, np.interp(inner - 0.5 * h * q, potentials, temperatures)
        surface = np.interp(inner, potentials, temperatures)
        for _ in range(30):
            k = surface + 273.15
            q = law.htc * (surface - law.water_temperature) + 0.8 * 5.670374419e-8 * (k**4 - 313.15**4)
            slope = law.htc + 3.2 * 5.670374419e-8 * k**3
            off = np.interp(inner - 0.5 * h * q, potentials, temperatures) - surface
            surface += off / (1.0 + 0.5 * h * slope / 30.0)
            if abs(off) < 1e-7:
                break
        return q, surface

    def rate(t, enthalpy):
        phi, solid = state(enthalpy)
        w = turned(solid, ratio)
        a = border[0] + w * (border[1] - border[0])
        flow = np.zeros(cells + 1)
        flow[0] = face(phi, t)[0]
        flow[1:-1] = a[1:-1] * np.diff(phi) / h
        return np.diff(flow) / (volume[0] + w * (volume[1] - volume[0]))

    enthalpy = np.full(cells, float(table.enthalpy(table.potential(POUR))))
    found, begin = [], 0.0
    for law in STRAND:
        inside = times[(times > begin) & (times <= law.end)]
        done = solve_ivp(
            rate,
            (begin, law.end),
            enthalpy,
            "BDF",
            t_eval=np.append(inside, law.end),
            rtol=1e-5,
            atol=1e3,
        )
        for t, column in zip(inside, done.y.T, strict=False):
            phi, solid = state(column)
            found.append((face(phi, t - 1e-9)[1], solid))
        enthalpy, begin = done.y[:, -1], law.end
    return np.array(found).T


@pytest.mark.parametrize("ratio", [1.0, 0.7])
def test_it_turns_as_an_independent_solution_does(steel, compare, ratio):
    """Lines and BDF of scipy on even cells, the weight taken from the solid fraction at every instant."""
    times = np.array([60.0, 150.0, 190.0, 250.0, 300.0, 350.0, 400.0, 500.0, 700.0, 1000.0])
    surface, solid = independent(steel, ratio, times, 100)
    m = march(
        steel, mid_face(graded_depth(HALF, 100), ratio), STRAND, initial=POUR, times=times, tolerance=0.1
    )
    w = turned(solid, ratio)
    assert np.any((w > 0.2) & (w < 0.8))
    compare("surface", np.abs(m.surface_temperature[0] - surface).max(), 0.0, 1.5, "K")
    compare("equivalent solid", np.abs(m.equivalent_shell[0] / HALF - solid).max(), 0.0, 0.004)


# the account


def test_what_it_hands_over_is_stated_and_found_again(steel):
    """By stretch; and over all by quadrature of the kept sections, with weights and turning written down again."""
    ratio, n = 0.8, 80
    grid = mid_face(graded_depth(HALF, n), ratio)
    m = march(steel, grid, STRAND, initial=POUR, times=TIMES, tolerance=0.1)
    assert m.flux_error < 1e-11
    assert m.recount_error < 1e-5
    assert m.table_error < 1e-3
    assert m.handed.shape == (3,)
    assert m.handed[0] == 0.0  # it does not turn in the mould
    assert 0.05 * m.heat[0, -1] < m.handed.sum() < 0.25 * m.heat[0, -1]
    x, shares = np.polynomial.legendre.leggauss(24)
    h = np.diff(grid.depth)
    depth = grid.depth[:-1, None] + h[:, None] * 0.5 * (x + 1.0)
    first, later = areas(depth, ratio)
    full = float(steel.enthalpy(steel.potential(POUR)))
    lost = []  # per volume, at the depths
    for potential in m.potential:
        phi = potential[:-1, None] + np.diff(potential)[:, None] * 0.5 * (x + 1.0)
        lost.append(full - steel.enthalpy(phi))
    through = [float(((later - first) * own @ (0.5 * shares) * h).sum()) for own in lost]
    w = turned(m.equivalent_shell[0] / HALF, ratio)
    handed = -np.sum(0.5 * np.diff(w) * (np.array(through)[1:] + np.array(through)[:-1]))
    assert m.handed.sum() == pytest.approx(handed, rel=5e-3)
    assert w[-1] == 1.0
    left = float((later * lost[-1] @ (0.5 * shares) * h).sum())
    assert left + m.handed.sum() == pytest.approx(m.heat[0, -1], rel=2e-4)


@pytest.mark.parametrize("seed", range(12))
def test_the_gates_hold_on_random_strands(bench, seed):
    """Any section, steel, cooling; a zone that reheats and one that is nearly insulated among them."""
    rng = np.random.default_rng(seed)
    half, ratio, span = rng.uniform(0.04, 0.2), rng.uniform(0.1, 1.0), rng.uniform(5.0, 130.0)
    table = bench.band(1500.0 - span, 1500.0)
    unit = (half / 0.08) ** 2
    ends = np.cumsum(rng.uniform(20.0, 300.0, 6)) * unit
    faces = [BoundaryCondition(ends[0], htc=rng.uniform(800.0, 2000.0) * 0.08 / half, water_temperature=30.0)]
    faces += [
        BoundaryCondition(end, htc=h, water_temperature=25.0, emissivity=e, ambient_temperature=40.0)
        for end, h, e in zip(
            ends[1:], 10.0 ** rng.uniform(0.5, 2.9, 5), rng.uniform(0.0, 0.9, 5), strict=True
        )
    ]
    grid = mid_face(graded_depth(half, int(rng.integers(24, 90))), ratio)
    times = np.linspace(1.0, ends[-1], 200)
    m = march(table, grid, faces, initial=rng.uniform(1500.0, 1540.0), times=times)
    assert m.flux_error < 1e-11
    assert m.recount_error < 1e-5
    assert m.table_error < 2e-3
    assert np.all(m.handed >= 0.0)
    assert m.handed.sum() < 0.3 * m.heat[0, -1]
    assert m.booked.sum() == pytest.approx(m.heat[0, -1], rel=1e-12)


# convergence


def test_it_is_second_order_in_the_step(steel, prove):
    """Fixed steps, against one ten times as short as the last; while the weight turns, and after."""
    grid, times = mid_face(uniform_depth(HALF, 25), 1.0), np.array([150.0, 250.0, 300.0, 500.0])
    faces = [BoundaryCondition(EVER, htc=500.0, water_temperature=25.0)]

    def surface(step):
        return march(steel, grid, faces, initial=POUR, times=times, step=step).surface_temperature[0]

    steps = np.array([4.0, 2.0, 1.0, 0.5])
    exact = surface(0.05)
    errors = [np.abs(surface(step) - exact).max() for step in steps]
    prove("surface", steps, errors, limit=0.01, order=1.7)


def test_it_converges_with_the_nodes(steel, prove):
    nodes = np.array([20, 40, 80])
    times = np.linspace(100.0, 1000.0, 31)

    def surface(n):
        grid = mid_face(graded_depth(HALF, n), 0.8)
        return march(steel, grid, STRAND, initial=POUR, times=times, tolerance=0.05).surface_temperature[0]

    exact = surface(240)
    errors = [np.abs(surface(n) - exact).max() for n in nodes]
    prove("surface", HALF / nodes, errors, limit=0.5, order=1.4)


def test_the_default_tolerance_is_enough(steel):
    """Turning does not ask for shorter steps than conduction does."""
    grid = mid_face(graded_depth(HALF, 60), 1.0)
    usual, tight = (march(steel, grid, STRAND, initial=POUR, times=TIMES, tolerance=t) for t in (1.0, 0.03))
    assert np.abs(usual.surface_temperature - tight.surface_temperature)[0, 10:].max() < 1.5
    assert usual.centre_solidified[2] == pytest.approx(tight.centre_solidified[2], rel=2e-3)


# the same in company, and where it does not turn


def block(table, grid, count=1):
    plan = schedule(STRAND, None, start=0.0, end=1200.0, strands=count)
    start = np.full((count, grid.nodes), float(table.potential(POUR)))
    times = np.broadcast_to(TIMES, (count, len(TIMES)))
    return Slices((table,) * count, grid, plan, start, times, times[:, ::50])


def test_a_batch_of_all_shapes_is_its_members(steel):
    """To the last bit, whatever lies beside it."""
    depth = graded_depth(HALF, 42)
    grids = [plate(depth), mid_face(depth, 1.0), cylinder(depth), mid_face(graded_depth(0.1, 50), 0.6)]
    blocks = [block(steel, grid, 1 + i % 2) for i, grid in enumerate(grids)]
    together = march_slices(blocks)
    alone = [m for own in blocks for m in march_slices([own])]
    for a, b in zip(together, alone, strict=True):
        for name in (
            "surface_temperature",
            "shell",
            "potential",
            "booked",
            "handed",
            "centre_solidified",
            "heat",
        ):
            np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)
        assert (a.steps, a.iterations, a.recount_error) == (b.steps, b.iterations, b.recount_error)


def test_a_weight_that_has_not_begun_to_turn_is_the_fixed_one(steel):
    grid = mid_face(graded_depth(HALF, 42), 0.9)
    fixed, never = replace(grid, becomes=None), replace(grid, turns=(1.5, 2.0))
    a, b = march_slices([block(steel, fixed), block(steel, never)])
    for name in ("surface_temperature", "shell", "potential", "booked", "handed", "centre_solidified"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name), err_msg=name)
    assert not a.handed.any()


def test_a_slice_that_begins_solid_has_turned(steel):
    """A cold bar in a furnace has the later weight from the start, and hands nothing over."""
    depth = graded_depth(HALF, 42)
    later = weighted(depth, lambda x: np.maximum(1.0 - np.asarray(x) / HALF, 0.0))
    kept = {"initial": 900.0, "times": TIMES[::50]}
    faces = [BoundaryCondition(EVER, htc=120.0, water_temperature=1200.0)]
    a, b = (march(steel, grid, faces, **kept) for grid in (mid_face(depth, 1.0), later))
    np.testing.assert_allclose(a.temperature, b.temperature, rtol=1e-12)
    assert not a.handed.any()


def test_a_square_is_the_widest_change_and_a_wide_section_none(steel):
    """Over the ratio the numbers change one way; a very wide section is a plate."""
    ratios = np.linspace(0.05, 1.0, 40)
    for half in (0.03, 0.065, 0.11, 0.16, 0.25):
        w = [section_weight(k, half) for k in ratios]
        assert np.all(np.diff([a.tube for a in w]) > 0)
        assert np.all(np.diff([a.power for a in w]) > 0)
        assert np.all(np.diff([a.begins for a in w]) <= 0)
        assert all(0.0 < a.begins < a.ends <= 1.0 for a in w)
    wide, flat = (
        march(steel, grid, STRAND, initial=POUR, times=TIMES)
        for grid in (mid_face(graded_depth(HALF, 42), 1e-4), plate(graded_depth(HALF, 42)))
    )
    np.testing.assert_allclose(wide.surface_temperature, flat.surface_temperature, atol=0.1)


def test_a_source_needs_a_weight_that_stays(steel):
    grid = mid_face(graded_depth(HALF, 42), 1.0)
    with pytest.raises(ValueError, match="whose weight turns"):
        march(
            steel,
            grid,
            STRAND,
            initial=POUR,
            times=TIMES,
            source=lambda t: np.zeros((len(t), grid.nodes)),
        )
