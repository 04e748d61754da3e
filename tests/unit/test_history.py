"""A slice that lives through changes: speed and water over time, against hand-made sections and an explicit scheme.

All plants are invented.
"""

from pathlib import Path

import numpy as np
import pytest

from solidify.case import parse_case, read_case
from solidify.errors import InputError
from solidify.heat import spray
from solidify.solver.enthalpy_table import steel_table
from solidify.solver.grid import graded_depth, plate
from solidify.strand.cooling import RAMP, History, cooling_path, steady
from solidify.strand.setup import case_steel, temperatures
from solidify.strand.solve import BoundaryCondition, march, solve

BLOOM = read_case(Path(__file__).parents[2] / "cases" / "bloom.toml")
PLANT = parse_case(
    """
title = "A thin slab (invented)"
[steel]
liquidus_C = 1500
solidus_C = 1450
latent_heat_kJ_per_kg = 270
density_kg_per_m3 = 7300
specific_heat_J_per_kgK = 700
conductivity_W_per_mK = 30
[section]
shape = "slab"
thickness_mm = 100
width_mm = 1000
[casting]
speed_m_per_min = 1.2
superheat_K = 20
[mould]
length_mm = 800
level_below_top_mm = 100
lubricant = "powder"
heat_flux_law = { a_kW_per_m2 = 2300, b_kW_per_m2_per_sqrt_s = 220 }
[cooling]
spray_relation = "nozaki_1978"
emissivity = 0.8
ambient_temperature_C = 40
water_temperature_C = 25
natural_convection_W_per_m2K = 0
[[zone]]
name = "dry"
end_m = 1.5
heat_transfer_W_per_m2K = 150
[[zone]]
name = "spray"
end_m = 4.0
water_L_per_min = 400
sprayed_width_mm = 1000
[[zone]]
name = "last"
end_m = 5.0
heat_transfer_W_per_m2K = 120
[machine]
distances_from = "meniscus"
support_end_m = 5
cutoff_m = 6
""",
    "plant.toml",
)
SPEED = PLANT.speed
LITRE = 1.0 / 60.0  # [kg s-1]


def accounted(result):
    assert result.balance.flux_error < 1e-11
    assert result.balance.table_error < 1e-3
    assert result.balance.recount_error < 1e-5


def fields(result):
    names = (
        "time",
        "surface_temperature",
        "shell_thickness",
        "heat_flux",
        "centre_temperature",
        "section_temperature",
    )
    return [getattr(result, name) for name in names] + [result.balance.heat]


@pytest.mark.parametrize("case", [BLOOM, PLANT])
def test_steady_casting_as_a_history_equals_steady_casting_bit_for_bit(case):
    """Many knots that change nothing; every zone that has water is named with the water that it has."""
    plain = solve(case)
    time = np.linspace(-100.0, 4000.0, 30)
    water = {z.name: np.full(30, z.water) for z in plain.zones if z.water > 0 and z.water_flux[0] > 0}
    assert water
    history = History(time, np.full(30, case.speed), water, born=17.0)
    lived = solve(case, history)
    for a, b in zip(fields(plain), fields(lived), strict=True):
        assert np.array_equal(a, b, equal_nan=True)
    (said,) = set(lived.notices) - set(plain.notices)
    assert said.where == "history"


def test_two_sides_keep_their_shares_while_the_water_changes():
    """Three parts on the loose side, two on the fixed: at half the water each side is as with half in the case."""
    both = {"water_L_per_min": None, "water_loose_L_per_min": 240.0, "water_fixed_L_per_min": 160.0}
    case = PLANT.replace({f'zone."spray".{key}': value for key, value in both.items()})
    halved = PLANT.replace({f'zone."spray".{key}': value and 0.5 * value for key, value in both.items()})
    history = History(np.array([0.0, 400.0]), np.full(2, SPEED), {"spray": np.full(2, 200.0 * LITRE)})
    result, expected = solve(case, history), solve(halved)
    assert result.sides == ("loose", "fixed")
    for a, b in zip(fields(result), fields(expected), strict=True):
        assert a == pytest.approx(b, rel=1e-9, nan_ok=True)


STOP = (np.array([0.0, 100.0, 110.0, 290.0, 300.0, 1000.0]), SPEED * np.array([1.0, 1.0, 0.0, 0.0, 1.2, 1.2]))
"""Cast for 100 s, brake in 10, stand for three minutes, start in 10 and go on a fifth faster."""


def test_the_way_of_a_slice_is_the_integral_of_its_speed():
    history = History(*STOP, born=40.0)
    clock = np.unique(np.concatenate([np.linspace(40.0, 900.0, 400_001), STOP[0][1:-1]]))
    speed = np.interp(clock, *STOP)
    z = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(clock))])
    asked = np.concatenate([np.linspace(0.0, 1.2, 50), np.linspace(1.35, 6.0, 50)])  # stands at 1.3 m
    first = np.searchsorted(z, asked)
    assert history.age(asked) == pytest.approx(clock[first] - 40.0, abs=0.05)
    assert history.age(asked[1:40]) == pytest.approx(np.interp(asked[1:40], z, clock) - 40.0, abs=1e-6)
    where = float(history.knots[2][2])
    assert where == pytest.approx(1.3, rel=1e-12)
    assert history.age(where) == pytest.approx(70.0, abs=1e-6)  # first reached when it stops
    assert history.age(where + 1e-9) > 250.0
    half = History(np.array([0.0, 10.0]), np.array([0.0, 2.0]))
    assert half.age(5.0) == pytest.approx(np.sqrt(50.0), rel=1e-12)  # v = t / 5, z = t^2 / 10


def test_a_slice_that_stops_and_starts_again_is_that_of_hand_made_sections():
    """The lower door with borders worked out here: the same surface, shell and heat, and the account holds."""
    case = PLANT.replace(
        {
            'zone."spray".water_L_per_min': None,
            'zone."spray".sprayed_width_mm': None,
            'zone."spray".heat_transfer_W_per_m2K': 300.0,
        }
    )
    result = solve(case, History(*STOP))
    accounted(result)
    t = np.unique(np.concatenate([np.linspace(0.0, 600.0, 600_001), STOP[0][:-1]]))
    speed = np.interp(t, *STOP)
    z = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(t))])
    age = {end: float(t[np.searchsorted(z, end)]) for end in (case.working_length, 1.5, 4.0, 5.0, 6.0)}
    assert age[4.0] > 290.0 > age[1.5]  # it stands in the spray
    rest = {"water_temperature": 25.0, "emissivity": 0.8, "ambient_temperature": 40.0}
    faces = [
        BoundaryCondition(
            age[case.working_length], flux=2.3e6, flux_times_sqrt_time=-2.2e5, mechanism="mould"
        )
    ]
    faces += [
        BoundaryCondition(age[end], htc=h, **rest)
        for end, h in ((1.5, 150.0), (4.0, 300.0), (5.0, 120.0), (6.0, 0.0))
    ]
    steel = case_steel(case)
    table = steel_table(
        steel.temperature,
        steel.march_density * steel.enthalpy,
        steel.conductivity,
        steel.solid_fraction,
        kinks=steel.kinks,
    )
    grid = plate(graded_depth(0.05, len(result.depth)))
    times = np.minimum(result.time, age[6.0])
    own = march(
        table,
        grid,
        faces,
        initial=temperatures(case, steel).pouring,
        times=times,
        solid_fractions=(0.3, 0.7, 1.0),
    )
    np.testing.assert_allclose(
        result.time, [float(t[np.searchsorted(z, d)]) for d in result.distance], atol=0.002
    )
    np.testing.assert_allclose(result.surface_temperature[0], own.surface_temperature[0], atol=0.3)
    k = int(np.argmin(np.abs(result.solid_fractions - 0.7)))
    np.testing.assert_allclose(result.shell_thickness[0, k], own.shell[0, 1], atol=2e-5)
    assert result.balance.heat.sum() == pytest.approx(own.booked.sum(), rel=1e-5)
    plain = solve(case)
    after = result.distance > 3.0
    assert np.all(result.shell_thickness[0, k, after] >= plain.shell_thickness[0, k, after] - 1e-9)
    assert result.time[-1] > plain.time[-1] + 120.0


def explicit(case, water, time, cells=100):
    """Surface [degC] at `time` by explicit enthalpy differences, the spray law read anew each step.

    Nodes on the surface and on the centre; `water` gives that of the zone on one strand [kg/s] at the age.
    """
    steel, half = case_steel(case), case.half_thickness
    fine = np.linspace(steel.temperature[0], steel.temperature[-1], 20_001)
    k = np.interp(fine, steel.temperature, steel.conductivity)
    phi_of = np.concatenate([[0.0], np.cumsum(0.5 * (k[1:] + k[:-1]) * np.diff(fine))])
    h_of = steel.march_density * np.interp(fine, steel.temperature, steel.enthalpy)
    dx = half / cells
    dt = 0.4 * dx**2 * float((np.diff(h_of) / np.diff(phi_of)).min())
    steps = int(np.ceil(time[-1] / dt))
    dt = time[-1] / steps
    ages = dt * np.arange(steps)
    ends = np.array([case.working_length, 1.5, 4.0, 5.0, 6.0]) / case.speed
    zone = np.searchsorted(ends, ages, side="right")
    area = 2.0 * 2.5 * 1.0  # both wide faces
    sprayed = np.array([float(spray.coefficient("nozaki_1978", w / area, 1000.0, 25.0)) for w in water(ages)])
    htc = np.where(zone == 2, sprayed, np.array([0.0, 150.0, 0.0, 120.0, 0.0])[np.minimum(zone, 4)])
    mould = np.where(zone == 0, 2.3e6 - 2.2e5 * np.sqrt(ages), 0.0)
    h = np.full(cells + 1, np.interp(temperatures(case, steel).pouring, fine, h_of))
    volume = np.full(cells + 1, dx)
    volume[[0, -1]] *= 0.5
    surface = np.empty(steps)
    for i in range(steps):
        phi = np.interp(h, h_of, phi_of)
        t = surface[i] = np.interp(phi[0], phi_of, fine)
        flow = np.diff(phi) / dx
        out = mould[i]
        if zone[i] > 0:
            out = htc[i] * (t - 25.0) + 0.8 * 5.670374419e-8 * ((t + 273.15) ** 4 - 313.15**4)
        h[0] += dt / volume[0] * (flow[0] - out)
        h[1:-1] += dt / dx * np.diff(flow)
        h[-1] -= dt / volume[-1] * flow[-1]
    return np.interp(time, ages, surface)


def test_water_that_steps_and_ramps_is_that_of_an_explicit_scheme():
    """Down to a quarter within a second, up again over a minute, off at the end: the law itself is read there."""
    knots = np.array([0.0, 95.0, 96.0, 110.0, 170.0, 185.0, 400.0])
    water = 400.0 * LITRE * np.array([1.0, 1.0, 0.25, 0.25, 1.5, 0.0, 0.0])
    history = History(knots, np.full(7, SPEED), {"spray": water})
    result = solve(PLANT, history)
    accounted(result)
    asked = result.time > 5.0
    expected = explicit(PLANT, lambda age: np.interp(age, knots, water), result.time[asked])
    off = np.abs(result.surface_temperature[0, asked] - expected)  # 0.6 K at most, 0.2 on average
    assert off.max() < 1.5
    plain = solve(PLANT)
    assert np.abs(plain.surface_temperature - result.surface_temperature).max() > 100.0
    zone = result.zones[2]
    lived = np.interp(np.linspace(*(PLANT.zone_bounds[1] / np.array(SPEED)), 100_001), knots, water)
    assert zone.water == pytest.approx(lived.mean(), rel=1e-4)


def test_sections_follow_the_spray_law_within_the_stated_share():
    """From nothing to twice the water of the case: a law in w to a power below one has no slope at nothing."""
    begin, end = PLANT.zone_bounds[1] / np.array(SPEED)
    knots = np.array([0.0, begin, end, 400.0])
    water = 800.0 * LITRE * np.array([0.0, 0.0, 1.0, 1.0])
    history = History(knots, np.full(4, SPEED), {"spray": water})
    path = cooling_path(PLANT, case_steel(PLANT), history)
    most, start = 0.0, 0.0
    largest = float(spray.coefficient("nozaki_1978", 800.0 * LITRE / 5.0, 1000.0, 25.0))
    count = 0
    for face in path.faces[0]:
        if begin - 1e-9 <= start < end - 1e-9:
            count += 1
            for age in np.linspace(start, face.end, 9):
                share = (age - start) / (face.end - start)
                goes = face.htc + share * (face.ramps_to.htc - face.htc)
                w = float(np.interp(age, knots, water))
                law = float(spray.coefficient("nozaki_1978", w / 5.0, 1000.0, 25.0)) if w > 0 else 0.0
                most = max(most, abs(goes - law))
        start = face.end
    assert 4 < count < 40
    assert most < 1.5 * RAMP * largest


def test_bad_histories_are_refused_all_at_once():
    time, still = np.array([0.0, 10.0, 600.0]), np.full(3, SPEED)
    with pytest.raises(InputError) as said:
        History(time, -still, {"spray": np.array([1.0, np.nan, 1.0]), "last": np.ones(2)}, born=700.0)
    text = str(said.value)
    for part in (
        "history: speed: -0.02 m/s at 0 s",
        'water of zone "spray": nan kg/s at 10 s',
        'water of zone "last": 2 values',
        "3, one for each time",
        "born: 700 s",
        "before 600 s",
    ):
        assert part in text
    for bad in ([0.0, 10.0, 10.0], [0.0], [0.0, np.inf]):
        with pytest.raises(InputError, match="two or more finite times that rise"):
            History(np.array(bad), np.ones(len(bad)))
    with pytest.raises(InputError) as said:
        History(np.array([0.0, 20.0, 12.5]), np.array([1.0, -1.0, 1.0]))
    assert "history: time: 0, 20, 12.5 s" in str(said.value)
    assert "history: speed: -1 m/s at 20 s" in str(said.value)
    with pytest.raises(InputError) as said:
        solve(PLANT, History(time, still, {"spary": np.ones(3), "last": np.ones(3)}))
    text = str(said.value)
    assert "did you mean 'spray'?" in text
    assert "dry, spray, last" in text
    assert "give the zone water in the case" in text
    with pytest.raises(InputError, match="comes 4 m far by 200 s"):
        solve(PLANT, History(np.array([0.0, 200.0]), np.full(2, SPEED)))
    assert steady(SPEED, 6.0).age(6.0) == pytest.approx(300.0)
