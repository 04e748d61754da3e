"""Facts for soft reduction, sprays and hot charging: by hand, and against a marched strand's own section."""

import math
from dataclasses import replace
from importlib import resources

import numpy as np
import pytest

from solidify.analysis.derived import (
    centre_passes,
    cooled_girth,
    heat_rate,
    hot_charge,
    water_split,
    zero_strength_shell,
)
from solidify.case import demo_case, parse_case
from solidify.solver.driver import march_blocks
from solidify.strand.assemble import assemble
from solidify.strand.batch import batches
from solidify.strand.solve import solve

UNEQUAL = {
    'zone."foot rolls".water_at_speed': None,
    'zone."foot rolls".sprayed_faces': None,
    'zone."foot rolls".water_loose_L_per_min': 150.0,
    'zone."foot rolls".water_fixed_L_per_min': 250.0,
}
"""More water on the fixed side of the demo slab."""


def demo(name, **changes):
    text = resources.files("solidify").joinpath("data", "cases", f"{name}.toml").read_text(encoding="utf-8")
    return solve(parse_case(text, name).replace(changes))


@pytest.fixture(scope="module")
def slab():
    return demo("slab")


def test_centre_passes_by_hand(slab):
    """The centre straight from 0 at 10 m to 1 at 20 m: a half at 15 m; the last liquid is the summary's."""
    straight = np.clip((slab.distance - 10.0) / 10.0, 0.0, 1.0)
    result = replace(slab, centre_solid_fraction=straight)
    passes = {p.solid_fraction: p for p in centre_passes(result, (0.1, 0.5, 1.0))}
    assert passes[0.1].distance == pytest.approx(11.0)
    assert passes[0.5].distance == pytest.approx(15.0)
    assert passes[0.5].time == pytest.approx(15.0 / (result.case.speed))
    assert passes[1.0].distance == result.summary["metallurgical_length"]


PLACES = {
    f"length_at_solid_fraction_{key}": fs
    for key, fs in (("0_3", 0.3), ("0_7", 0.7), ("0_9", 0.9), ("0_99", 0.99))
}


@pytest.mark.parametrize("reached", [(1.0, 1.0, 1.0), (1.0, 0.8, 0.2)])
def test_places_of_the_centre_by_hand_alone_and_side_by_side(reached):
    """The centre straight from 0 at 10 m by a tenth a metre, at most so far: each fraction ten times it behind 10 m."""
    cases = [demo_case("slab").replace({"casting.speed_m_per_min": v}) for v in (1.0, 1.1, 1.2)]
    (batch,), _ = batches(cases)
    blocks = march_blocks(batch.slices)
    made = np.array([np.clip((batch.distance - 10.0) / 10.0, 0.0, most) for most in reached])
    whole = [replace(b, march=replace(b.march, centre_solid_fraction=made)) for b in blocks]
    (drawn,), _ = assemble(batch, whole)
    for i, (case, most) in enumerate(zip(cases, reached, strict=True)):
        known = [10.0 + 10.0 * fs if fs <= most else math.nan for fs in PLACES.values()]
        found = [drawn.result(i).summary[name] for name in PLACES]
        assert found == pytest.approx(known, nan_ok=True)
        (single,), _ = batches([case])
        own = [
            replace(b, march=replace(b.march, centre_solid_fraction=made[i : i + 1]))
            for b in march_blocks(single.slices)
        ]
        (alone,), _ = assemble(single, own)
        np.testing.assert_array_equal([alone.result(0).summary[name] for name in PLACES], found)


def test_places_of_the_summary_are_those_of_the_sheet(slab):
    """One place, wherever it is read; a centre that is liquid at the cut-off has none."""
    passes = centre_passes(slab, tuple(PLACES.values()))
    assert [slab.summary[name] for name in PLACES] == [p.distance for p in passes]
    late = demo("slab", **{"casting.speed_m_per_min": 1.95}).summary
    assert math.isnan(late["length_at_solid_fraction_0_99"])
    assert late["length_at_solid_fraction_0_3"] > slab.summary["length_at_solid_fraction_0_3"]


def test_centre_passes_in_order_and_not_beyond_the_cut_off(slab):
    """Each fraction further down than the one before; what is not reached has no place."""
    distances = [p.distance for p in centre_passes(slab)]
    assert distances == sorted(distances)
    late = demo("slab", **{"casting.speed_m_per_min": 1.95})
    assert math.isnan(centre_passes(late)[-1].distance)
    assert math.isnan(centre_passes(late)[-1].time)


def test_water_split_by_hand(slab):
    """10 kg/s over 0.5 m from mould exit, 30 kg/s over 2 m: all of the first and a quarter of the second."""
    first, second = (
        z for z in slab.zones if z.kind == "zone" and z.name in {n.name for n in slab.zones[1:3]}
    )
    exit_ = slab.mould.working_length
    made = (
        slab.zones[0],
        replace(first, start=exit_, end=exit_ + 0.5, water=10.0),
        replace(second, start=exit_ + 0.5, end=exit_ + 2.5, water=30.0),
    )
    assert water_split(replace(slab, zones=made)) == pytest.approx((10.0 + 7.5) / 40.0)
    assert water_split(replace(slab, zones=made), 10.0) == pytest.approx(1.0)
    unknown = (*made[:2], replace(made[2], water=math.nan))
    assert math.isnan(water_split(replace(slab, zones=unknown)))
    assert math.isnan(water_split(replace(slab, zones=made[:1])))


def test_zero_strength_shell_by_hand(slab):
    """1000 °C at the surface and 10 K a millimetre: 1480 °C at 48 mm; a shell to the middle is half the thickness."""
    steel = replace(slab.steel, temperatures={"zero strength": 1480.0})
    section = np.tile(1000.0 + 1e4 * slab.depth, (len(slab.section_distance), 1))
    result = replace(slab, steel=steel, section_temperature=section)
    assert zero_strength_shell(result) == pytest.approx(0.048, rel=1e-3)
    assert zero_strength_shell(replace(result, section_temperature=0 * section)) == slab.half_thickness
    assert math.isnan(zero_strength_shell(replace(result, steel=replace(steel, temperatures={}))))


def test_zero_strength_lies_between_the_fractions_around_it(slab):
    """At about 0.8 solid the shell is thinner than at 0.7 and thicker than at 1.0."""
    _, at_seven, at_ten = slab.summary["shell_at_mould_exit"]
    assert at_ten < zero_strength_shell(slab) < at_seven


@pytest.mark.parametrize(
    "changes",
    [
        {},
        UNEQUAL,
    ],
    ids=["even", "uneven"],
)
def test_hot_charge_of_a_slab_is_that_of_its_last_section(changes):
    """The enthalpy poured less the heat removed is the mean over the section at the cut-off, one side or two."""
    result = demo("slab", **changes)
    found = hot_charge(result)
    enthalpy = np.interp(result.section_temperature[-1], result.steel.temperature, result.steel.enthalpy)
    assert found.enthalpy == pytest.approx(np.trapezoid(enthalpy, result.depth) / result.depth[-1], rel=2e-4)
    assert found.surface < found.mean_temperature < found.centre


def marched_mass(result):
    """Steel that marches [kg/s]: the section at the density of the march."""
    return result.steel.march_density * result.case.section_area * result.case.speed


def test_hot_charge_of_a_round_is_that_of_its_last_section():
    """Weighted with the radius; a rectangle's slice does not speak for its section."""
    text = resources.files("solidify").joinpath("data", "cases", "bloom.toml").read_text(encoding="utf-8")
    text = text.replace('shape = "rectangle"', 'shape = "round"').replace(
        "thickness_mm = 250", "diameter_mm = 280"
    )
    result = solve(parse_case(text.replace("width_mm = 300\n", "")))
    radius = result.half_thickness - result.depth
    enthalpy = np.interp(result.section_temperature[-1], result.steel.temperature, result.steel.enthalpy)
    mean = np.trapezoid(enthalpy * radius, result.depth) / np.trapezoid(radius, result.depth)
    assert hot_charge(result).enthalpy == pytest.approx(mean, rel=1e-3)
    assert hot_charge(demo("bloom")) is None
    assert cooled_girth(result) == pytest.approx(math.pi * 0.280)
    lost = np.interp(result.pouring_temperature, result.steel.temperature, result.steel.enthalpy) - mean
    strand = cooled_girth(result) * heat_rate(result).sum()
    assert strand == pytest.approx(marched_mass(result) * lost, rel=1e-3)


@pytest.mark.parametrize("changes", [{}, UNEQUAL])
def test_heat_of_a_slab_is_what_the_steel_of_the_strand_lost(changes):
    """kW round the strand = kg/s marched times what each kilogram lost, from the last section, one side or two."""
    result = demo("slab", **changes)
    table = result.steel.temperature, result.steel.enthalpy
    held = np.trapezoid(np.interp(result.section_temperature[-1], *table), result.depth) / result.depth[-1]
    lost = float(np.interp(result.pouring_temperature, *table)) - held
    assert cooled_girth(result) == pytest.approx(2 * 1.5)
    strand = cooled_girth(result) * heat_rate(result).sum()
    assert strand == pytest.approx(marched_mass(result) * lost, rel=5e-4)


@pytest.mark.parametrize("name", ["bloom", "billet"])
def test_heat_of_a_rectangle_is_not_told_for_the_strand(name):
    """
    Times the girth it would be more than the strand gives off if all of it left as cold as its mid-face surface, and a
    tenth more at least than what its own section lost, the slice counted by the distance from the centre.
    """
    result = demo(name)
    assert math.isnan(cooled_girth(result))
    ends = result.pouring_temperature, result.surface_temperature[0, -1]
    poured, cold = np.interp(ends, result.steel.temperature, result.steel.enthalpy)
    girth = 2 * (result.thickness + result.width)
    told = girth * heat_rate(result).sum() / result.summary["throughput"]
    assert told > poured - cold
    held = np.interp(result.section_temperature[-1], result.steel.temperature, result.steel.enthalpy)
    centre = result.depth[-1] - result.depth
    left = np.trapezoid(held * centre, result.depth) / np.trapezoid(centre, result.depth)
    assert told > 1.1 * (poured - left)
