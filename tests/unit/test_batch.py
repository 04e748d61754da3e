"""Cases made ready side by side: the same numbers as alone, to the last bit, whatever stands beside them."""

from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from plants import ROUND_NUMBERS

from solidify.case import demo_case
from solidify.case.model import Table
from solidify.errors import InputError, MarchError, Notice
from solidify.solver.boundary import LAW, SURFACE_ROWS
from solidify.strand.batch import batches
from solidify.strand.cooling import History, Travel
from solidify.strand.solve import solve_each
from solidify.strand.stacking import (
    NUMBERS,
    DivergentBatch,
    layout,
    merge_notices,
    notices_of,
    row,
    stack,
    stack_cases,
    uniform,
)

CASE = ROUND_NUMBERS.replace({'zone."two".water_L_per_min': 20})
SLAB = {"section.shape": "slab", "section.thickness_mm": 200, "section.width_mm": 1500}
ROUND = {
    "section.shape": "round",
    "section.thickness_mm": None,
    "section.width_mm": None,
    "section.diameter_mm": 200,
}
PERITECTIC = {
    f"steel.{key}": None
    for key in (
        "latent_heat_kJ_per_kg",
        "specific_heat_J_per_kgK",
        "conductivity_W_per_mK",
    )
} | {"steel.composition": {"C": 0.12, "Mn": 0.5}}
SPEEDS = (0.7, 0.82, 0.9, 1.05)
SPEED = "casting.speed_m_per_min"


def one(**keys):
    """The first zone with other keys in place of its water."""
    return {'zone."one".water_L_per_min': None} | {f'zone."one".{key}': value for key, value in keys.items()}


def nozzles(pressure):
    return one(nozzles={"count": 40, "flow_L_per_min": 2.0, "reference_bar": 2.0, "pressure_bar": pressure})


def panel(speed):
    flow, rise, inlet = 900 + 100 * speed, 7.0 - speed, 25 + 5 * speed
    return {
        "mould.mean_heat_flux_MW_per_m2": None,
        "mould.water_flow_L_per_min": flow,
        "mould.water_rise_K": rise,
        "mould.water_gap_mm": 4 + 0.1 * speed,
        "mould.water_slot_mm2": 5000 + 100 * speed,
        "mould.copper_wall_mm": 11 + speed,
        "mould.water_inlet_C": inlet,
    }


def faces(speed):
    flow = {"loose": 490 + 10 * speed, "fixed": 480 + 20 * speed, "left": 400 * speed, "right": 380 * speed}
    rise = {"loose": 6.0 + speed, "fixed": 6 + 0.1 * speed, "left": 5 * speed, "right": 6 * speed}
    keys = {"mould.face_water_flow_L_per_min": flow, "mould.face_water_rise_K": rise}
    return {"mould.mean_heat_flux_MW_per_m2": None} | keys


WAYS = {
    "water": lambda v: {'zone."one".water_L_per_min': 50 * v, 'zone."two".water_L_per_min': 20 * v},
    "spray factor": lambda v: {'zone."one".spray_factor': v},
    "whole flux": lambda v: one(heat_flux_kW_per_m2=500 * v),
    "coefficient": lambda v: one(heat_transfer_W_per_m2K=400 * v),
    "by the kilogram": lambda v: one(water_L_per_kg=0.3 * v),
    "by the area": lambda v: one(water_flux_L_per_m2s=30 * v),
    "by the area and minute": lambda v: one(water_flux_L_per_m2_min=60 * v),
    "table over the speed": lambda v: one(water_at_speed=((0.75, 20), (0.95, 80))),
    "nozzles": lambda v: nozzles(4 * v),
    "over the surface temperature": lambda v: {"cooling.spray_relation": "wendelstorf_2008"},
    "under the spray": lambda v: {"cooling.spray_relation": "sasaki_1979", "cooling.wetted_share": 0.4},
    "valve": lambda v: one(water_L_per_min=60 * v, water_min_L_per_min=50, water_max_L_per_min=55),
    "surroundings": lambda v: {
        "cooling.emissivity": 0.8 * v,
        "cooling.ambient_temperature_C": 40 * v,
        "cooling.water_temperature_C": 25 * v,
        "cooling.natural_convection_W_per_m2K": 8 * v,
        "cooling.view_factor": 0.9 * v,
    },
    "emissivity over temperature": lambda v: {
        "cooling.emissivity_relation": "touloukian",
        "cooling.view_factor": 0.9 * v,
    },
    "rolls": lambda v: {
        "cooling.roll_contact_relation": "diener",
        "cooling.roll_radius_mm": 150,
        "cooling.roll_contact_angle_deg": 7,
        "cooling.ambient_temperature_C": 40 * v,
        'zone."one".roll_pitch_m': 0.3,
        'zone."two".roll_contact_share': 0.1 * v,
    },
    "rolls by number": lambda v: {"cooling.roll_contact_W_per_m2K": 50 * v},
    "rolls by share": lambda v: {"cooling.roll_contact_share": 0.1 * v},
    "a zone of its own": lambda v: {
        f'zone."one".{key}': value * v
        for key, value in {
            "emissivity": 0.8,
            "ambient_temperature_C": 60,
            "natural_convection_W_per_m2K": 10,
            "water_temperature_C": 30,
            "view_factor": 0.9,
            "roll_contact_W_per_m2K": 40,
        }.items()
    },
    "tundish": lambda v: {
        "casting.superheat_K": None,
        "casting.tundish_temperature_C": 1530 + 10 * v,
        "casting.meniscus_drop_K": 5 * v,
    },
    "superheat": lambda v: {"casting.superheat_K": 20 + 10 * v, "mould.taper_percent_per_m": v},
    "flux at another speed": lambda v: {"mould.measured_at_speed_m_per_min": 0.8 * v},
    "oil": lambda v: {"mould.lubricant": "oil", "mould.mean_heat_flux_MW_per_m2": 1.5 * v},
    "no flux": lambda v: {"mould.mean_heat_flux_MW_per_m2": None},
    "no flux, another powder": lambda v: {
        "mould.mean_heat_flux_MW_per_m2": None,
        "mould.handbook_relation": "cicutti_2002",
        "mould.powder_viscosity_Pa_s": 0.1 * v,
        "mould.powder_melting_temperature_C": 1100 + 20 * v,
    },
    "form of the law": lambda v: {
        "mould.decay_exponent": 0.5 + 0.1 * v,
        "mould.peak_heat_flux_MW_per_m2": 2 + v,
    },
    "means over the speed": lambda v: {
        "mould.mean_heat_flux_MW_per_m2": None,
        "mould.mean_heat_flux_at_speed": ((0.6, 1.1 * v), (1.2, 1.5 * v)),
    },
    "peritectic": lambda v: (
        PERITECTIC
        | {
            "mould.peritectic_early_share": 0.9 - 0.5 * v,
            "mould.measured_at_carbon_equivalent_percent": 0.12 * v,
        }
    ),
    "older form": lambda v: {
        "mould.profile": "root",
        "mould.mean_heat_flux_MW_per_m2": 1.0,
        "mould.heat_flux_factor": 0.9 + 0.1 * v,
    },
    "weak flux": lambda v: {"mould.mean_heat_flux_MW_per_m2": 0.7 * v},
    "law": lambda v: {
        "mould.mean_heat_flux_MW_per_m2": None,
        "mould.heat_flux_law": {"a_kW_per_m2": 2600 * v, "b_kW_per_m2_per_sqrt_s": 200},
    },
    "factor": lambda v: {
        "mould.heat_flux_factor": v,
        "mould.expected_mean_heat_flux_MW_per_m2": 1.2 * v,
    },
    "oscillation": lambda v: {
        "mould.oscillation_cycles_per_min": 40 + 100 * v,
        "mould.oscillation_stroke_mm": 6 * v,
    },
    "panel": panel,
}
SIDES = {
    "sides": lambda v: one(water_loose_L_per_min=20 * v, water_fixed_L_per_min=30),
    "sides over temperature": lambda v: (
        one(water_loose_L_per_min=20 * v, water_fixed_L_per_min=30)
        | {"cooling.spray_relation": "wendelstorf_2008"}
    ),
    "loops": lambda v: one(
        water_loose_at_speed=((0.6, 12), (1.2, 24)), water_fixed_at_speed=((0.6, 20), (1.2, 40))
    ),
    "three sides": lambda v: one(
        water_loose_L_per_min=20, water_fixed_L_per_min=30 * v, water_narrow_L_per_min=10 * v
    ),
    "shares": lambda v: one(
        water_L_per_kg=0.2 * v, side_shares={"loose": 0.5 - 0.1 * v, "fixed": 0.5 + 0.1 * v}
    ),
    "three shares": lambda v: one(
        water_L_per_min=50, side_shares={"loose": 0.5 - 0.1 * v, "fixed": 0.4, "narrow": 0.1 + 0.1 * v}
    ),
    "standing water": lambda v: {'zone."one".run_off_W_per_m2K': 150, 'zone."one".water_L_per_min': 50 * v},
    "faces of the mould": faces,
}
STRANDS = [
    *(("rectangle", {}, way) for way in (*WAYS, *SIDES)),
    *(("slab", SLAB, way) for way in (*WAYS, *SIDES)),
    *(("round", ROUND, way) for way in WAYS),
]


def made(shape, way):
    make = (WAYS | SIDES)[way]
    return [CASE.replace(shape | {SPEED: v} | make(v)) for v in SPEEDS]


def bits(value):
    """All numbers and words below a value, arrays as bytes."""
    if isinstance(value, np.ndarray):
        return value.shape, value.tobytes()
    if isinstance(value, float):
        return value.hex()
    if is_dataclass(value):
        return [bits(getattr(value, field.name)) for field in fields(value)]
    return [bits(each) for each in value] if isinstance(value, list | tuple) else value


def marched(block, i):
    """All that the march takes of one slice of a block, each row number put as the row itself."""
    plan, laws = block.schedule, block.schedule.laws[i].copy()
    columns = [LAW[name] for name in SURFACE_ROWS]
    curves = [
        (plan.surface_rows[row].tobytes(), plan.surface_starts[row], plan.surface_inverses[row])
        for row in laws[..., columns].astype(int).ravel()
        if row >= 0
    ]
    laws[..., columns] = laws[..., columns] >= 0
    given = [plan.ends[i], laws, block.initial[i], block.times[i], block.profile_times[i]]
    return (
        bits(given),
        curves,
        block.fractions,
        block.sides,
        block.tolerance,
        id(block.tables[i]),
        id(block.grid),
    )


@pytest.mark.parametrize(("shape", "changes", "way"), STRANDS, ids=[f"{s} {w}" for s, _, w in STRANDS])
def test_side_by_side_is_as_alone_to_the_last_bit(shape, changes, way):
    cases = made(changes, way)
    together, wrong = batches(cases)
    assert not wrong
    assert sorted(place for batch in together for place in batch.places) == [0, 1, 2, 3]
    for batch in together:
        for i, place in enumerate(batch.places):
            (alone,), _ = batches([cases[place]])
            assert bits(alone.paths[0]) == bits(batch.paths[i])
            assert alone.throughputs[0] == batch.throughputs[i]
            for one_slice, block in zip(alone.slices, batch.slices, strict=True):
                assert marched(one_slice, 0) == marched(block, i)


def varied(table):
    """Names of the numbers that differ, with the kind of table they stand in."""
    for name, value in table.__dict__.items():
        if isinstance(value, np.ndarray):
            yield type(table), name
        for below in value if isinstance(value, tuple) else (value,):
            if isinstance(below, Table):
                yield from varied(below)


def test_every_number_that_may_differ_does_in_some_way():
    found = {each for way in (*WAYS, *SIDES) for each in varied(stack_cases(made({}, way)))}
    assert found == {(table, name) for table, names in NUMBERS.items() for name in names}


def test_most_ways_stand_in_one_batch():
    """Only where strands go different ways are they parted.

    Slow ones come to the floor of the older law; some peaks end before a dip begins to fade, some after.
    """
    parted = {way: len(batches(made({}, way))[0]) for way in (*WAYS, *SIDES)}
    assert {way: count for way, count in parted.items() if count > 1} == {"older form": 2, "peritectic": 2}


@pytest.mark.parametrize(
    ("way", "groups"),
    [
        (lambda v: {'zone."one".water_L_per_min': 0 if v < 0.8 else 40}, [[0], [1, 2, 3]]),
        (lambda v: one(water_at_speed=((0.85, 0), (1.0, 30))), [[0, 1], [2, 3]]),
        (
            lambda v: one(water_loose_L_per_min=20, water_fixed_L_per_min=20 if v > 1 else 20 * v),
            [[0, 1, 2], [3]],
        ),
        (lambda v: {"mould.lubricant": "oil" if v < 0.85 else "powder"}, [[0, 1], [2, 3]]),
        (lambda v: {"shell.solid_fraction": 0.5 if v == 0.9 else 0.7}, [[0, 1, 3], [2]]),
        (lambda v: {"steps.nodes": 40 if v == 0.9 else 30}, [[0, 1, 3], [2]]),
        (lambda v: {"steps.nodes": None, "steel.solidus_C": 1490 if v > 0.8 else 1450}, [[0], [1, 2, 3]]),
        (lambda v: {'zone."one".end_m': 1.7 if v > 0.8 else 1.5}, [[0], [1, 2, 3]]),
        (
            lambda v: {"cooling.spray_relation": "wendelstorf_2008" if v > 1 else "nozaki_1978"},
            [[0, 1, 2], [3]],
        ),
    ],
    ids=[
        "dry",
        "dry by the table",
        "equal sides",
        "lubricant",
        "fraction",
        "nodes",
        "steel",
        "machine",
        "relation",
    ],
)
def test_strands_that_go_different_ways_are_parted(way, groups):
    found, wrong = batches([CASE.replace({SPEED: v} | way(v)) for v in SPEEDS])
    assert not wrong
    assert sorted(list(batch.places) for batch in found) == groups


def test_water_that_changes_parts_the_strands():
    clock = np.array([0.0, 600.0, 9000.0])
    history = History(clock, np.full(3, 0.015), {"one": np.array([1.0, 0.5, 0.5])})
    found, _ = batches([CASE, CASE.replace({SPEED: 1.0})], history)
    assert [batch.places for batch in found] == [(0,), (1,)]
    found, _ = batches([CASE, CASE.replace({SPEED: 1.0})], History(clock, np.full(3, 0.015)))
    assert [batch.places for batch in found] == [(0, 1)]


def test_what_is_wrong_with_one_is_said_in_its_place():
    """The mould water of one boils, one is poured cold, one does both: the rest goes on as before."""
    changes = [
        {},
        {"mould.water_flow_L_per_min": 20},
        {"mould.water_flow_L_per_min": 1500},
        {"casting.meniscus_drop_K": 60},
        {"mould.water_flow_L_per_min": 20, "casting.meniscus_drop_K": 60},
    ]
    cases = [CASE.replace(each) for each in changes]
    found = solve_each(cases, sections=False)
    assert [isinstance(r, InputError) for r in found] == [False, True, False, True, True]
    for case, result in zip(cases, found, strict=True):
        (alone,) = solve_each([case], sections=False)
        if isinstance(result, InputError):
            assert str(alone) == str(result)
        else:
            assert result.surface_temperature.tobytes() == alone.surface_temperature.tobytes()
    assert "water temperature" in str(found[1])
    assert "water temperature" in str(found[4])


def test_a_way_that_ends_early_is_said_of_each():
    short = Travel(np.array([0.0, 100.0]), np.array([0.0, 3.0]))
    found, wrong = batches([CASE, CASE.replace({SPEED: 1.0})], short)
    assert not found
    assert ["travel of the slice" in str(wrong[i]) for i in (0, 1)] == [True, True]


def test_a_march_that_fails_stands_beside_those_that_do_not():
    steep = {"mould.heat_flux_factor": 3.0, "steps.nodes": 20, "mould.mean_heat_flux_MW_per_m2": 4.9}
    steep |= {"mould.peak_heat_flux_MW_per_m2": 20.0}
    cases = [CASE, CASE.replace(steep | {SPEED: 0.05}), CASE.replace({SPEED: 1.0})]
    found = solve_each(cases, sections=False)
    assert [isinstance(r, MarchError) for r in found] == [False, True, False]


# --- tables side by side


def test_only_numbers_that_differ_become_arrays():
    bloom = demo_case("bloom")
    first, *_ = zones = [bloom.replace({'zone."spray 1".water_L_per_min': w}).zone[1] for w in (90, 100, 120)]
    together = stack(zones)
    assert together.water_L_per_min.tolist() == [90, 100, 120]
    assert (together.name, together.end_m, together.spray_factor) == (first.name, first.end_m, 1.0)
    assert stack([first, first]) is first
    cases = [bloom.replace({SPEED: v}) for v in (0.7, 0.8)]
    assert stack_cases(cases).speed.tolist() == [case.speed for case in cases]
    assert stack_cases(cases).zone == bloom.zone
    assert stack_cases(cases[:1]) is cases[0]


def test_layout_tells_all_but_numbers():
    def of(**keys):
        return layout(CASE.replace({f'zone."one".{key}': value for key, value in keys.items()}).zone[0])

    assert of() == of(water_L_per_min=10) == of(spray_factor=2)
    assert len({of(), of(end_m=1.6), of(sprayed_faces="wide"), of(water_temperature_C=20)}) == 4
    shares = [of(side_shares={"loose": s, "fixed": 1 - s}) for s in (0.4, 0.5)]
    assert shares[0] == shares[1] != of()


def test_a_condition_holds_for_all_or_parts_them():
    assert uniform(True) is True
    assert uniform(np.True_) is True
    assert uniform(np.array([True, True])) is True
    assert uniform(np.array([False, False])) is False
    with pytest.raises(DivergentBatch) as raised:
        uniform(np.array([True, False, True]))
    assert raised.value.way.tolist() == [True, False, True]


def test_notices_of_each_and_of_all():
    a, b, c = (Notice(word) for word in "abc")
    assert merge_notices(((a,),), ((b,),)) == ((a, b),)
    assert merge_notices(((a,),), ((b,), ())) == ((a, b), (a,))
    assert notices_of(np.array([False, True]), lambda i: (a,) if i else ()) == ((), (a,))
    assert notices_of(np.array([False, False]), lambda i: (c,)) == ((c,),)
    assert notices_of(np.asarray(True), lambda i: (c,)) == ((c,),)


def test_a_row_is_taken_only_from_what_has_a_strand_axis():
    assert row(2.0, 1) == 2.0
    assert row(np.array([1.0, 2.0]), 1) == 2.0
    assert row(np.array([1.0, 2.0]), 1, 1).tolist() == [1.0, 2.0]
    assert row(np.array([[1.0], [2.0]]), 1, 1).tolist() == [2.0]
