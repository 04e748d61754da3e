"""Every line of the kernels on slices of a few nodes.

Also run without compiling, for coverage (``NUMBA_DISABLE_JIT=1``), and with every index checked
(``NUMBA_BOUNDSCHECK=1``): the continuous integration does both. What is asserted here is physics that needs no
fine grid: the heat account, what a face does, where a front stands, how a march ends.
"""

from dataclasses import replace

import numpy as np
import pytest

from solidify.errors import MarchError
from solidify.solver import kernels
from solidify.solver.boundary import BoundaryCondition, schedule
from solidify.solver.driver import MAX_STEPS
from solidify.solver.enthalpy_table import steel_table
from solidify.solver.grid import cylinder, mid_face, plate, uniform_depth, weighted
from solidify.solver.march import Slice, march, march_slices, marched_slices

EVER = 1e9
TIMES = np.array([0.0, 0.5, 3.0, 8.0, 20.0])


@pytest.fixture(autouse=True)
def lanes_that_are_not_wanted():
    """Without compiling, lanes are numpy's, and it warns of what a lane holds that is then not taken."""
    with np.errstate(all="ignore"):
        yield


@pytest.fixture(scope="module")
def steel():
    """Invented: 1450 to 1500 degC, the liquid conducts four times as well, a kink in the solid."""
    t = np.array([20.0, 800.0, 1450.0, 1465.0, 1485.0, 1500.0, 1700.0])
    solid = np.clip((1500.0 - t) / 50.0, 0.0, 1.0)
    heat = np.interp(t, [20.0, 800.0, 1700.0], [0.0, 5.0e5, 1.1e6])
    return steel_table(t, 7400.0 * (heat + 270e3 * (1.0 - solid)), 30.0 * (1.0 + 3.0 * (1.0 - solid)), solid)


def accounted(m):
    assert m.flux_error < 1e-12
    assert m.recount_error < 1e-5
    assert m.table_error < 1e-3
    assert np.all(np.isfinite(m.temperature))


GRIDS = {
    "plate": plate(uniform_depth(0.02, 9)),
    "odd": plate(uniform_depth(0.02, 8)),
    "round": cylinder(uniform_depth(0.02, 9)),
    "mid-face": mid_face(uniform_depth(0.02, 9), 0.9),
    "widening": weighted(uniform_depth(0.02, 7), lambda x: 1.0 + 20.0 * np.asarray(x)),
}


@pytest.mark.parametrize("shape", list(GRIDS))
def test_every_shape_keeps_the_account(shape, steel):
    """Mould flux by its law, then everything that may act at once, until all is solid."""
    curve = (np.array([0.0, 900.0, 1600.0]), np.array([2000.0, 900.0, 600.0]))
    faces = [
        BoundaryCondition(
            4.0, flux=2.5e6, flux_times_sqrt_time=-3e5, flux_range=(2e5, 2.4e6), mechanism="mould"
        ),
        BoundaryCondition(
            40.0,
            flux=lambda t: 1e4 * t,
            htc=curve,
            emissivity=(curve[0], np.array([0.6, 0.8, 0.9])),
            ambient_temperature=40.0,
            convection=8.5,
            roll_htc=(curve[0], np.array([10.0, 30.0, 50.0])),
            roll_share=0.1,
        ),
    ]
    m = march(steel, GRIDS[shape], faces, initial=1520.0, times=TIMES)
    accounted(m)
    assert m.booked.sum() == pytest.approx(m.heat[0, -1], rel=1e-12)
    assert np.all(m.booked[1, 0, 1:] > 0.0)  # all five below the mould
    assert np.all(np.diff(m.heat[0]) > 0.0)
    assert np.all(np.diff(m.shell[0], axis=1) >= -1e-5)
    assert m.heat_flux[0, 1] == pytest.approx(min(2.5e6 - 3e5 * np.sqrt(0.5), 2.4e6), rel=1e-12)


def test_two_faces_meet_where_the_last_liquid_was(steel):
    """The warmer side's shell is thinner; both are read from their own face."""
    depth = uniform_depth(0.02, 13)
    hard, soft = ([BoundaryCondition(60.0, htc=h, water_temperature=25.0)] for h in (3000.0, 1500.0))
    m = march(steel, plate(depth), hard, inner=soft, initial=1510.0, times=np.linspace(1.0, 60.0, 30))
    accounted(m)
    open_still = m.times < m.centre_solidified[2]
    assert np.all(m.shell[0, 1, open_still] >= m.shell[1, 1, open_still] - 1e-9)
    assert 0.01 < m.closure_depth[2] < 0.02
    other = march(steel, plate(depth), soft, inner=hard, initial=1510.0, times=m.times)
    np.testing.assert_allclose(other.surface_temperature, m.surface_temperature[::-1], atol=1.0)
    np.testing.assert_allclose(other.shell[::-1], m.shell, atol=2e-4)


@pytest.mark.parametrize("side", [0, 1])
def test_a_fixed_face_stays_where_it_is_held(side, steel):
    """By a number, then by a curve over the age; the other face is insulated or cooled."""
    held = [
        BoundaryCondition(5.0, temperature=1100.0),
        BoundaryCondition(20.0, temperature=lambda t: 1100.0 - 10.0 * (t - 5.0)),
    ]
    free = [BoundaryCondition(20.0, htc=100.0)]
    faces = [held, free] if side == 0 else [free, held]
    m = march(steel, plate(uniform_depth(0.02, 9)), faces[0], inner=faces[1], initial=1510.0, times=TIMES[1:])
    accounted(m)
    expected = np.where(m.times <= 5.0, 1100.0, 1100.0 - 10.0 * (m.times - 5.0))
    np.testing.assert_allclose(m.surface_temperature[side], expected, atol=0.2)


def test_a_face_held_hotter_heats_the_slice(steel):
    hot = [BoundaryCondition(5.0, temperature=1100.0), BoundaryCondition(EVER, temperature=1300.0)]
    m = march(steel, GRIDS["plate"], hot, inner=hot, initial=900.0, times=np.linspace(6.0, 200.0, 5))
    accounted(m)
    assert m.heat[0, -1] < m.heat[0, 0] < 0.0
    np.testing.assert_allclose(m.final_temperature, 1300.0, atol=1.0)


@pytest.mark.parametrize("shape", ["plate", "round"])
def test_neighbours_alike_at_a_kink_make_no_noise(shape, steel):
    """Nodes a hair on either side of the liquidus, where slopes by difference would be noise."""
    still = {"times": TIMES, "tolerance": 1e-3}
    start = 1500.0 + 2e-11 * np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0])
    one, other = (
        march(steel, GRIDS[shape], [BoundaryCondition(EVER, htc=500.0)], initial=t, **still)
        for t in (start, 1500.0)
    )
    np.testing.assert_allclose(one.temperature, other.temperature, atol=1e-3)
    assert abs(one.steps - other.steps) <= 0.05 * other.steps
    accounted(one)


def test_a_fixed_step_is_of_second_order(steel):
    """Steel that stays solid: errors at 20 s against a hundredth of the step fall fourfold when it is halved."""
    ends = [
        march(
            steel, GRIDS["plate"], [BoundaryCondition(EVER, htc=300.0)], initial=1200.0, times=[20.0], step=s
        ).final_temperature
        for s in (4.0, 2.0, 1.0, 0.125)
    ]
    errors = [np.abs(e - ends[-1]).max() for e in ends[:-1]]
    assert 3.2 < errors[0] / errors[1] < 5.0
    assert 3.2 < errors[1] / errors[2] < 5.0


def test_a_source_heats_an_insulated_slice(steel):
    m = march(
        steel,
        GRIDS["plate"],
        [BoundaryCondition(EVER, flux=0.0)],
        initial=900.0,
        times=[50.0],
        source=lambda t: np.full((len(t), 9), 2e6),
    )
    rise = steel.enthalpy(steel.potential(m.final_temperature)) - steel.enthalpy(steel.potential(900.0))
    np.testing.assert_allclose(rise, 1e8, rtol=1e-6)


def test_a_flux_over_the_root_of_time_and_a_late_start(steel):
    face = [BoundaryCondition(5.0, flux=9e9), BoundaryCondition(EVER, flux_decay=2e5)]
    m = march(steel, GRIDS["plate"], face, initial=1300.0, start=10.0, times=[10.0, 20.0])
    assert m.heat[0, -1] == pytest.approx(4e5 * (np.sqrt(20.0) - np.sqrt(10.0)), rel=2e-3)
    accounted(m)


def test_a_flux_over_a_power_of_time(steel):
    """Exponent 0.3 and not 0.5: heat by the integral, 2e5 / 0.7 (20^0.7 - 10^0.7)."""
    face = [BoundaryCondition(5.0, flux=9e9), BoundaryCondition(EVER, flux_decay=2e5, decay_exponent=0.3)]
    m = march(steel, GRIDS["plate"], face, initial=1300.0, start=10.0, times=[10.0, 20.0])
    assert m.heat[0, -1] == pytest.approx(2e5 / 0.7 * (20.0**0.7 - 10.0**0.7), rel=2e-3)
    accounted(m)


def test_fronts_in_a_profile_that_is_given(steel):
    """Solid at both faces, liquid between: each front at its isotherm, from its own side."""
    depth = uniform_depth(0.04, 41)
    start = 1530.0 - 230.0 * np.abs(depth / 0.02 - 1.0) ** 2
    still = [BoundaryCondition(EVER, flux=0.0)]
    m = march(
        steel,
        plate(depth),
        still,
        inner=still,
        initial=start,
        times=[0.0, 1e-3],
        solid_fractions=(0.3, 0.7, 1.0),
    )
    for k, t in enumerate((1485.0, 1465.0, 1450.0)):
        exact = 0.02 * (1.0 - np.sqrt((1530.0 - t) / 230.0))
        np.testing.assert_allclose(m.shell[:, k, -1], exact, atol=1e-4)
    upside_down = march(steel, plate(depth), still, initial=start[::-1] - 200.0, times=[1e-3])
    assert np.all(upside_down.shell[0, :, -1] == pytest.approx(0.04))  # nowhere liquid: the whole depth


def test_remelting_takes_the_front_back(steel):
    faces = [BoundaryCondition(10.0, flux=1.5e6), BoundaryCondition(60.0, flux=-1.2e6)]
    m = march(steel, GRIDS["plate"], faces, initial=1502.0, times=np.linspace(0.5, 20.0, 50))
    assert m.shell[0, 2].max() > 2e-3
    assert m.shell[0, 2, -1] == 0.0
    accounted(m)


def test_a_narrow_range_is_jumped_into_not_over():
    """A hundredth of a kelvin wide: Newton would go from side to side of the latent heat."""
    t = np.array([20.0, 1500.0, 1500.0, 1700.0])
    heat = 7400.0 * np.array([0.0, 1.0e6, 1.27e6, 1.43e6])
    table = steel_table(t, heat, np.full(4, 30.0), np.array([1.0, 1.0, 0.0, 0.0]), narrowest=0.01)
    m = march(
        table,
        GRIDS["round"],
        [BoundaryCondition(60.0, htc=1500.0)],
        initial=1500.0,
        times=np.linspace(1.0, 60.0, 20),
    )
    accounted(m)
    assert np.isfinite(m.centre_solidified[2])


CLIFF = np.array([0.0, 0.0, 2e4, 2e4])
"""A coefficient that falls to nothing within a kelvin: Newton goes from one side to the other [W m-2 K-1]."""


def one_slice(steel, faces, **more):
    grid = GRIDS["plate"]
    start = np.full(grid.nodes, float(steel.potential(1510.0)))
    return replace(Slice(steel, grid, schedule(faces), start, TIMES, TIMES[:0]), **more)


def test_every_way_to_fail_is_named(steel):
    """And in a batch the others finish."""
    cases = {
        1: one_slice(
            steel, [BoundaryCondition(20.0, htc=(np.array([0.0, 1200.0, 1201.0, 1600.0]), CLIFF))], step=0.5
        ),
        3: one_slice(steel, [BoundaryCondition(20.0, flux=2e7)]),
    }
    endless = [
        one_slice(steel, [BoundaryCondition(20.0, htc=np.inf)]),
        one_slice(steel, [BoundaryCondition(20.0, flux=np.inf)]),
    ]
    good = one_slice(steel, [BoundaryCondition(20.0, htc=500.0)])
    with np.errstate(all="ignore"):
        done = marched_slices([good, *cases.values(), good])
        for m in marched_slices(endless):  # not a number never counts as solved
            assert kernels.STATUS[1] in str(m) or kernels.STATUS[4] in str(m)
    for status, m in zip(cases, done[1:-1], strict=True):
        assert isinstance(m, MarchError)
        assert kernels.STATUS[status] in str(m)
    np.testing.assert_array_equal(done[0].surface_temperature, done[-1].surface_temperature)
    np.testing.assert_array_equal(done[0].shell, march_slices([good])[0].shell)
    with pytest.raises(MarchError, match="slice 2 of 2"):
        march_slices([good, cases[3]])


def test_too_many_steps_end_a_march(steel, monkeypatch):
    monkeypatch.setattr("solidify.solver.driver.MAX_STEPS", 3)
    assert MAX_STEPS == 20_000
    (m,) = marched_slices([one_slice(steel, [BoundaryCondition(20.0, htc=500.0)])])
    assert kernels.STATUS[2] in str(m)


def test_a_law_that_becomes_itself_is_the_law(steel):
    """And one cut off early, or cut in two by the other face, goes on turning as before."""
    face = BoundaryCondition(20.0, htc=900.0, emissivity=0.8, convection=8.5, roll_share=0.1)
    kept = {"initial": 1510.0, "times": TIMES, "tolerance": 0.01}
    plain, same = (
        march(steel, GRIDS["plate"], [f], **kept) for f in (face, replace(face, ramps_to=replace(face)))
    )
    np.testing.assert_allclose(same.surface_temperature, plain.surface_temperature, atol=1e-9)
    np.testing.assert_allclose(same.booked, plain.booked, rtol=1e-9)
    ramp = replace(face, end=40.0, ramps_to=BoundaryCondition(0.0, htc=100.0))
    whole, cut = (
        march(steel, GRIDS["plate"], [replace(ramp)], inner=i, **kept)
        for i in (None, [BoundaryCondition(5.0), BoundaryCondition(40.0)])
    )
    np.testing.assert_allclose(cut.surface_temperature[0], whole.surface_temperature[0], atol=0.02)
    with pytest.raises(ValueError, match="fixed temperature"):
        schedule([BoundaryCondition(20.0, temperature=900.0, ramps_to=face)])


def test_a_coefficient_may_rise_linearly(steel):
    """From 200 to 1000 W/m2K in 20 s: the flux is the coefficient of that moment, and all is as on 200 stairs."""
    rise = BoundaryCondition(
        20.0,
        htc=200.0,
        water_temperature=25.0,
        ramps_to=BoundaryCondition(0.0, htc=1000.0, water_temperature=25.0),
    )
    kept = {"initial": 1400.0, "times": TIMES, "tolerance": 0.01}
    m = march(steel, GRIDS["plate"], [rise], **kept)
    accounted(m)
    expected = (200.0 + 40.0 * m.times) * (m.surface_temperature[0] - 25.0)
    np.testing.assert_allclose(m.heat_flux[0], expected, rtol=1e-12)
    stairs = [BoundaryCondition(0.1 * (i + 1), htc=200.0 + 4.0 * (i + 0.5)) for i in range(200)]
    other = march(steel, GRIDS["plate"], stairs, **kept)
    np.testing.assert_allclose(m.surface_temperature, other.surface_temperature, atol=0.1)
    assert m.heat[0, -1] == pytest.approx(other.heat[0, -1], rel=1e-3)


def test_a_surface_whose_flux_rises_as_it_cools_is_followed_closely(steel):
    """A film that breaks down: with a hundredth of the tolerance the surface is the same to some kelvin."""
    boils = (np.array([0.0, 300.0, 900.0, 1600.0]), np.array([9000.0, 9000.0, 1500.0, 800.0]))
    kept = {"initial": 1100.0, "times": np.linspace(1.0, 40.0, 40)}
    coarse, fine = (
        march(steel, GRIDS["plate"], [BoundaryCondition(40.0, htc=boils)], **kept, tolerance=t)
        for t in (1.0, 0.01)
    )
    accounted(coarse)
    assert coarse.surface_temperature[0, -1] < 400.0
    np.testing.assert_allclose(coarse.surface_temperature, fine.surface_temperature, atol=4.0)
