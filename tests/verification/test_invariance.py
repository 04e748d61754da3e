"""What must hold whatever the numbers: symmetry, limits, scaling, conservation, a batch equal to its members.

Strands here are the invented steel of conftest.py with a freezing range from 1460 to 1510 degC, poured at
1535 degC.
"""

from dataclasses import replace

import numpy as np
import pytest

from solidify.solver.boundary import schedule
from solidify.solver.grid import (
    annulus,
    cylinder,
    graded_depth,
    mid_face,
    plate,
    section_weight,
    uniform_depth,
    weighted,
)
from solidify.solver.march import Slice, march_slices
from solidify.strand.solve import BoundaryCondition, march

EVER = 1e9
POUR = 1535.0
MOULD = BoundaryCondition(30.0, flux=2.4e6, flux_times_sqrt_time=-2.6e5, mechanism="mould")
SPRAY = BoundaryCondition(150.0, htc=450.0, water_temperature=25.0, emissivity=0.8, ambient_temperature=40.0)
DRY = BoundaryCondition(600.0, htc=0.0, emissivity=0.8, ambient_temperature=40.0, convection=8.5)
STRAND = [MOULD, SPRAY, DRY]
MILD = [replace(MOULD, flux=1.9e6), replace(SPRAY, htc=250.0), DRY]
TIMES = np.linspace(2.0, 600.0, 150)


@pytest.fixture(scope="module")
def steel(bench):
    return bench.band(1460.0, 1510.0)


def total(table, grid, area, potential):
    """Integrate the enthalpy over the section, potential straight between nodes [J/m2], by quadrature of its own."""
    x, w = np.polynomial.legendre.leggauss(64)
    s = 0.5 * (x + 1.0)
    h = np.diff(grid.depth)
    depth = grid.depth[:-1, None] + h[:, None] * s
    phi = potential[:-1, None] + np.diff(potential)[:, None] * s
    return float((area(depth) * table.enthalpy(phi) @ (0.5 * w) * h).sum())


def tube(x, half, ratio):
    """Cross-section of the mid-face tube of heat at birth."""
    r, alpha = 1.0 - x / half, section_weight(ratio, half).tube
    return r**alpha * np.exp(0.5 * alpha * (1.0 - r**2))


GRIDS = {
    "plate": (lambda d: plate(d), lambda x: np.ones_like(x)),
    "round": (lambda d: cylinder(d), lambda x: 1 - x / 0.1),
    "mid-face, fixed": (lambda d: replace(mid_face(d, 0.8), becomes=None), lambda x: tube(x, 0.1, 0.8)),
}


@pytest.mark.parametrize("build", [plate, cylinder, lambda d: mid_face(d, 0.8)])
def test_without_cooling_nothing_changes(build, steel):
    """A uniform strand, molten, freezing or solid, keeps its temperature to round-off."""
    grid = build(graded_depth(0.1, 40))
    for start in (1535.0, 1490.0, 900.0):
        result = march(steel, grid, [BoundaryCondition(EVER, flux=0.0)], initial=start, times=[1.0, 3600.0])
        np.testing.assert_allclose(result.temperature, start, atol=1e-8)
        assert abs(result.heat[0, -1]) == 0.0


@pytest.mark.parametrize("shape", list(GRIDS))
def test_an_insulated_strand_evens_out_and_keeps_its_heat(shape, steel):
    build, area = GRIDS[shape]
    grid = build(graded_depth(0.1, 40))
    start = np.linspace(900.0, 1530.0, 40)
    result = march(steel, grid, [BoundaryCondition(EVER, flux=0.0)], initial=start, times=[5e4])
    before = total(steel, grid, area, steel.potential(start))
    after = total(steel, grid, area, result.potential[-1])
    assert after == pytest.approx(before, rel=1e-5)
    assert np.ptp(result.temperature[-1]) < 1.0


@pytest.mark.parametrize("shape", list(GRIDS))
def test_the_heat_that_left_is_the_heat_that_is_missing(shape, steel):
    """Counted from the kept sections by quadrature of the table, not by the march's own account."""
    build, area = GRIDS[shape]
    grid = build(graded_depth(0.1, 60))
    result = march(steel, grid, STRAND, initial=POUR, times=TIMES)
    full = total(steel, grid, area, np.full(60, steel.potential(POUR)))
    for i in (0, 10, 75, 149):
        left = full - total(steel, grid, area, result.potential[i])
        assert left == pytest.approx(result.heat[0, i], rel=2e-3 if i == 0 else 2e-4)
    assert result.flux_error < 1e-11
    assert result.recount_error < 1e-5
    assert result.table_error < 1e-3


def test_looser_newton_shows_in_the_table_error(steel):
    """The flux sum closes by construction; the table error is the one that tells a loose solution from a tight one."""
    grid = plate(graded_depth(0.1, 60))
    loose, tight = (march(steel, grid, STRAND, initial=POUR, times=TIMES, tolerance=s) for s in (30.0, 1e-3))
    assert loose.table_error > 20 * tight.table_error
    assert loose.flux_error < 1e-11


def test_mirror(steel):
    """Faces and profile exchanged give the exchanged answer."""
    depth = graded_depth(0.2, 81, both_ends=True)
    start = 1500.0 + 30.0 * np.linspace(0.0, 1.0, 81)
    kept = {"times": TIMES, "tolerance": 1e-2}
    one = march(steel, plate(depth), STRAND, inner=MILD, initial=start, **kept)
    two = march(steel, plate(0.2 - depth[::-1]), MILD, inner=STRAND, initial=start[::-1], **kept)
    np.testing.assert_allclose(one.temperature, two.temperature[:, ::-1], atol=0.02)
    np.testing.assert_allclose(one.shell, two.shell[::-1], atol=1e-5)
    np.testing.assert_allclose(one.heat, two.heat[::-1], rtol=1e-6)
    np.testing.assert_allclose(one.closure_depth, 0.2 - two.closure_depth, atol=1e-12)
    fixed = {"times": TIMES[::10], "step": 0.2}
    one = march(steel, plate(depth), STRAND, inner=MILD, initial=start, **fixed)
    two = march(steel, plate(0.2 - depth[::-1]), MILD, inner=STRAND, initial=start[::-1], **fixed)
    np.testing.assert_allclose(one.temperature, two.temperature[:, ::-1], atol=2e-3)


@pytest.mark.parametrize("nodes", [40, 41])
def test_a_symmetric_strand_is_twice_its_half(steel, nodes):
    """Equal faces on the whole thickness, against one face on the half with symmetry."""
    half = graded_depth(0.1, nodes)
    whole = np.concatenate([half, 0.2 - half[-2::-1]])
    kept = {"initial": POUR, "times": TIMES, "tolerance": 1e-2}
    one = march(steel, plate(half), STRAND, **kept)
    two = march(steel, plate(whole), STRAND, inner=STRAND, **kept)
    np.testing.assert_allclose(two.temperature[:, :nodes], one.temperature, atol=0.02)
    np.testing.assert_allclose(two.temperature, two.temperature[:, ::-1], atol=0.02)
    np.testing.assert_allclose(two.surface_temperature[0], one.surface_temperature[0], atol=0.02)


def test_an_annulus_has_no_favourite_direction(steel):
    """Depth counted outward from the hollow, or inward from the outside."""
    depth = graded_depth(0.06, 41)
    kept = {"initial": POUR, "times": TIMES, "tolerance": 1e-2}
    quiet = [BoundaryCondition(EVER, flux=0.0)]
    outward = march(steel, annulus(depth, 0.03), quiet, inner=STRAND, **kept)
    turned = 0.06 - depth[::-1]
    inward = march(steel, annulus(turned, 0.03, outward=False), STRAND, inner=quiet, **kept)
    np.testing.assert_allclose(outward.temperature, inward.temperature[:, ::-1], atol=0.02)
    # each counts heat per area of its own first face: 0.03 against 0.09 m
    np.testing.assert_allclose(outward.heat[1] * 0.03, inward.heat[0] * 0.09, rtol=1e-5)


def test_a_round_is_an_annulus_with_a_pin_hole(steel):
    """Of small steps: where one of the two is rejected for a rounding the other takes another way."""
    depth = graded_depth(0.1, 61)
    kept = {"initial": POUR, "times": TIMES, "tolerance": 1e-2}
    solid = march(steel, cylinder(depth), STRAND, **kept)
    hollow = march(steel, annulus(depth, 1e-7, outward=False), STRAND, **kept)
    np.testing.assert_allclose(hollow.temperature, solid.temperature, atol=0.05)


def test_a_large_round_is_a_plate(steel):
    """Ten metres of radius, cooled to 60 mm: the curvature is worth 0.3 %."""
    depth = graded_depth(0.1, 61)
    kept = {"initial": POUR, "times": TIMES, "tolerance": 1e-2}
    flat = march(steel, plate(depth), STRAND, **kept)
    for radius, within in ((10.0, 2.0), (1000.0, 0.03)):
        curved = march(steel, weighted(depth, lambda x, r=radius: 1 - np.asarray(x) / r), STRAND, **kept)
        np.testing.assert_allclose(curved.temperature, flat.temperature, atol=within)


def test_a_wide_rectangle_is_a_plate(steel):
    depth = graded_depth(0.1, 61)
    flat = march(steel, plate(depth), STRAND, initial=POUR, times=TIMES)
    wide = march(steel, mid_face(depth, 1e-4), STRAND, initial=POUR, times=TIMES)
    np.testing.assert_allclose(wide.temperature, flat.temperature, atol=0.05)


def test_a_section_split_in_two_changes_nothing(steel):
    """Borders that mean nothing restart the step control and no more."""
    grid = plate(graded_depth(0.1, 61))
    split = [replace(MOULD, end=10.0), MOULD, replace(SPRAY, end=60.0), replace(SPRAY, end=61.0), SPRAY]
    split += [replace(DRY, end=300.0), DRY]
    for tolerance, within in ((1.0, 0.6), (1e-3, 2e-3)):
        kept = {"initial": POUR, "times": TIMES, "tolerance": tolerance}
        one, many = march(steel, grid, STRAND, **kept), march(steel, grid, split, **kept)
        assert len(many.booked) == 7
        np.testing.assert_allclose(many.surface_temperature, one.surface_temperature, atol=within)
        np.testing.assert_allclose(many.equivalent_shell, one.equivalent_shell, atol=within * 5e-5)


def test_a_march_taken_up_again_goes_on_as_before(steel):
    """Stopped in the spray with its section kept, and started from it at that age."""
    grid = plate(graded_depth(0.1, 61))
    kept = {"tolerance": 1e-3}
    whole = march(steel, grid, STRAND, initial=POUR, times=TIMES, **kept)
    first = march(steel, grid, STRAND, initial=POUR, times=[90.0], **kept)
    later = TIMES[TIMES > 90.0]
    again = march(steel, grid, STRAND, initial=first.temperature[0], start=90.0, times=later, **kept)
    np.testing.assert_allclose(again.temperature, whole.temperature[TIMES > 90.0], atol=0.01)


def test_an_enormous_coefficient_holds_the_surface(steel):
    grid = plate(graded_depth(0.1, 81))
    kept = {"initial": POUR, "times": TIMES, "tolerance": 1e-2}
    fixed = march(steel, grid, [BoundaryCondition(EVER, temperature=1000.0)], **kept)
    cooled = march(steel, grid, [BoundaryCondition(EVER, htc=1e8, water_temperature=1000.0)], **kept)
    np.testing.assert_allclose(cooled.surface_temperature, 1000.0, atol=0.05)
    np.testing.assert_allclose(cooled.temperature, fixed.temperature, atol=0.3)
    np.testing.assert_allclose(cooled.equivalent_shell, fixed.equivalent_shell, atol=2e-5)
    np.testing.assert_allclose(cooled.heat, fixed.heat, rtol=1e-3)


def test_radiation_at_a_small_difference_is_convection(steel):
    """4 eps sigma T^3 at 900 degC, from 905 degC: the laws differ by 0.7 % of the five kelvin."""
    grid = plate(graded_depth(0.1, 41))
    h = 4 * 0.8 * 5.670374419e-8 * 1173.15**3
    kept = {"initial": 905.0, "times": TIMES, "tolerance": 1e-3}
    one = march(steel, grid, [BoundaryCondition(EVER, emissivity=0.8, ambient_temperature=900.0)], **kept)
    two = march(steel, grid, [BoundaryCondition(EVER, convection=h, ambient_temperature=900.0)], **kept)
    np.testing.assert_allclose(one.temperature, two.temperature, atol=0.01)
    assert np.ptp(one.temperature) > 1.0


def test_a_curve_over_surface_temperature_can_be_a_constant(steel):
    grid = plate(graded_depth(0.1, 41))
    flat = (np.array([0.0, 1600.0]), np.array([450.0, 450.0]))
    kept = {"initial": POUR, "times": TIMES}
    one = march(steel, grid, STRAND, **kept)
    two = march(steel, grid, [MOULD, replace(SPRAY, htc=flat), DRY], **kept)
    np.testing.assert_allclose(one.surface_temperature, two.surface_temperature, rtol=1e-12)


def test_a_flux_as_function_or_as_law_is_the_same(steel):
    grid = plate(graded_depth(0.1, 41))
    law = lambda t: 2.4e6 - 2.6e5 * np.sqrt(t)  # noqa: E731
    kept = {"initial": POUR, "times": TIMES, "tolerance": 1e-2}
    one = march(steel, grid, STRAND, **kept)
    two = march(steel, grid, [BoundaryCondition(30.0, flux=law), SPRAY, DRY], **kept)
    np.testing.assert_allclose(one.surface_temperature, two.surface_temperature, atol=0.05)
    np.testing.assert_allclose(one.heat, two.heat, rtol=1e-5)


def test_lengths_and_times_scale(bench, steel):
    """Twice as deep, four times as long, half the flux: the same temperatures, by the equation's own similarity."""
    depth = graded_depth(0.1, 41)
    one = march(
        steel, plate(depth), [BoundaryCondition(EVER, flux=6e5)], initial=POUR, times=TIMES, tolerance=1e-2
    )
    two = march(
        steel,
        plate(2 * depth),
        [BoundaryCondition(EVER, flux=3e5)],
        initial=POUR,
        times=4 * TIMES,
        tolerance=1e-2,
    )
    np.testing.assert_allclose(two.temperature, one.temperature, atol=0.02)
    np.testing.assert_allclose(two.shell, 2 * one.shell, atol=2e-6)
    np.testing.assert_allclose(two.heat, 2 * one.heat, rtol=1e-9)


def test_superheat_of_nothing_is_superheat_of_next_to_nothing(steel):
    """Liquid on the liquidus itself, and a billionth of a kelvin above it."""
    grid = plate(graded_depth(0.1, 61))
    for tolerance in (1.0, 1e-4):
        kept = {"times": TIMES, "tolerance": tolerance}
        marches = [march(steel, grid, STRAND, initial=1510.0 + s, **kept) for s in (0.0, 1e-9, 1e-6)]
        for other in marches[1:]:
            within = 0.5 if tolerance == 1.0 else 2e-3
            np.testing.assert_allclose(other.temperature, marches[0].temperature, atol=within)


@pytest.mark.parametrize("shape", list(GRIDS))
def test_cooling_is_monotone(shape, steel):
    """Under a steady coefficient everything cools, colder outside, and every shell grows and keeps its rank."""
    grid = GRIDS[shape][0](graded_depth(0.1, 61))
    face = BoundaryCondition(
        EVER, htc=400.0, water_temperature=25.0, emissivity=0.8, ambient_temperature=40.0
    )
    result = march(steel, grid, [face], initial=POUR, times=TIMES, tolerance=0.1)
    assert np.all(np.diff(result.temperature, axis=0) < 1e-3)
    assert np.all(np.diff(result.temperature, axis=1) > -1e-3)
    assert np.all(np.diff(result.shell[0], axis=1) > -1e-9)
    assert np.all(result.shell[0, 0] >= result.shell[0, 1])
    assert np.all(result.shell[0, 1] >= result.shell[0, 2])
    assert np.all(np.diff(result.equivalent_shell[0]) > -1e-12)
    assert np.all(result.equivalent_shell[0] <= result.shell[0, 0].max() + 1e-9)


def test_more_water_never_makes_less_shell(steel):
    grid = plate(graded_depth(0.1, 61))
    shells = [
        march(
            steel, grid, [MOULD, replace(SPRAY, htc=h), DRY], initial=POUR, times=TIMES, tolerance=0.1
        ).equivalent_shell[0]
        for h in (100.0, 300.0, 900.0)
    ]
    assert np.all(np.diff(shells, axis=0) > -1e-7)


@pytest.mark.parametrize("nodes", [3, 4, 5, 8])
def test_the_smallest_grids_still_conserve_and_balance(nodes, steel):
    """Odd and even, where both ends of the elimination meet at once."""
    for grid in (plate(uniform_depth(0.01, nodes)), cylinder(uniform_depth(0.01, nodes))):
        result = march(steel, grid, [SPRAY], initial=1000.0, times=[10.0, 150.0], tolerance=1e-3)
        assert result.flux_error < 1e-11
        assert result.recount_error < 1e-6
        assert np.all(np.diff(result.temperature[0]) >= 0.0)


def test_a_batch_is_its_members_bit_for_bit(bench, steel):
    """Different steels, grids, faces and samples, alone, together and in another order."""
    other = bench.band(1440.0, 1500.0, share=0.2)
    slices = []
    for i, (table, nodes, faces, build) in enumerate(
        [
            (steel, 40, STRAND, plate),
            (other, 61, MILD, cylinder),
            (steel, 33, [BoundaryCondition(600.0, temperature=1000.0)], plate),
            (
                other,
                50,
                [MOULD, replace(SPRAY, htc=(np.array([100.0, 900.0]), np.array([900.0, 300.0]))), DRY],
                plate,
            ),
        ]
    ):
        slices.append(
            Slice(
                table,
                build(graded_depth(0.1, nodes)),
                schedule(faces, end=600.0),
                np.full(nodes, float(table.potential(POUR))),
                TIMES[:: i + 1],
                np.array([100.0, 500.0]),
            )
        )
    alone = [march_slices([s])[0] for s in slices]
    for order in ([0, 1, 2, 3], [3, 1, 0, 2]):
        together = march_slices([slices[i] for i in order])
        for i, result in zip(order, together, strict=True):
            for name, value in vars(alone[i]).items():
                np.testing.assert_array_equal(getattr(result, name), value, err_msg=name)
