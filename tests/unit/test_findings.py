"""Every finding against a hand calculation, whole strands against their exact verdicts, and the words."""

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from solidify.assessment.bands import Band, Effect
from solidify.assessment.breakout import STATEMENT, WORDS
from solidify.assessment.finding import room_words
from solidify.assessment.judge import VERDICTS, judge, judged
from solidify.assessment.limits import names
from solidify.assessment.strength import flow_stress
from solidify.case import demo_case, parse_case
from solidify.errors import Notice
from solidify.strand.profiles import crossing, highest, largest_rise, read_along, read_at, steepest
from solidify.strand.result import MECHANISMS, Balance, MouldResult, Result, ZoneResult
from solidify.strand.solve import solve, solve_stacked

NAN, INF = math.nan, math.inf
FALLING = [(0, 1500), (0.6, 1100), (0.9, 1050), (25, 930)]
ZONES = (("foot rolls", 0.9, 500e3), ("spray 1", 2.6, 260e3), ("spray 2", 5.2, 160e3))


def strand(
    shape="rectangle",
    size=(0.25, 0.30),
    steel_class="medium carbon",
    composition=None,
    lubricant="powder",
    superheat=25.0,
    flux=1.2,
    expected=1.2,
    origin="mean flux",
    dwell=48.0,
    exit_at=0.6,
    rise=NAN,
    velocity=NAN,
    copper=NAN,
    strip=NAN,
    shell=17.0,
    surface=FALLING,
    zones=ZONES,
    length=14.0,
    froze_from=10.0,
    straightener=(16.0, 17.0),
    support=22.0,
    cutoff=25.0,
    water=0.4,
    limits=None,
    pitch=None,
    radius=None,
    radius_after=None,
    vertical=0.0,
    profile=(1100.0, 1470.0),
    product=None,
    gap=0.5,
    delta=0.0,
):
    """A bloom that keeps every limit, but for what is changed; plain numbers, no march.

    The centre freezes linearly from `froze_from` to `length`; the surface is straight between its points; a
    list of two surfaces or shells makes a loose and a fixed side.
    """
    composition = {"C": 0.45} if composition is None else composition
    two = isinstance(shell, tuple)
    surfaces = surface if two else [surface]
    shells = np.array(shell if two else [shell]) * 1e-3
    distance = np.unique(np.concatenate((np.arange(0, cutoff, 0.05), [exit_at, length, cutoff])))
    distance = distance[distance <= cutoff]
    temperature = np.array([np.interp(distance, *zip(*s, strict=True)) for s in surfaces])
    sections = np.array([0.0, exit_at, cutoff])
    depth = np.linspace(0.0, size[0] if two else size[0] / 2, 241)
    section = strand_section(depth, size[0], shells, profile)
    grown = shells[:, None] * np.sqrt(distance / exit_at)
    grown = np.minimum(grown, size[0] / 2)
    thickness = np.stack([grown * 1.15, grown, grown * 0.9], axis=1)
    centre = np.interp(distance, [froze_from, length], [0, 1])
    per_side = np.ones(len(surfaces))
    rows = [
        ZoneResult("mould", "mould", 0, exit_at, 0, NAN * per_side, 1e6 * flux * per_side, *(per_side,) * 3)
    ]
    start = exit_at
    for name, end, q in zones:
        q = np.broadcast_to(q, len(surfaces))
        rows.append(ZoneResult(name, "zone", start, end, 0.8, NAN * per_side, q, *(per_side,) * 3))
        start = end
    rows.append(
        ZoneResult(
            "after the last zone", "open", start, cutoff, 0, NAN * per_side, 60e3 * per_side, *(per_side,) * 3
        )
    )
    case = SimpleNamespace(
        title="A strand of numbers (invented)",
        section=SimpleNamespace(shape=shape, product=product),
        casting=SimpleNamespace(speed_m_per_min=0.75),
        mould=SimpleNamespace(lubricant=lubricant),
        straightener=straightener,
        support_end=support,
        cutoff=cutoff,
        limits=limits or {},
        zone=tuple(SimpleNamespace(roll_pitch_m=p) for p in pitch or [None] * len(zones)),
        machine=SimpleNamespace(radius_m=radius, radius_after_m=radius_after, roll_gap_tolerance_mm=gap),
        vertical_length=vertical,
        speed=0.02,
    )
    steel = SimpleNamespace(
        steel_class=steel_class,
        composition=composition,
        liquidus=1495.0,
        solidus=1440.0,
        temperatures={"zero strength": 1470.0},
        carbon_equivalent=composition.get("C", NAN),
        temperature=np.array([900.0, 1469.9, 1470.0, 1495.0]),
        solid_fraction=np.array([1.0, 1.0, 0.0, 0.0]),
        phases={"delta": np.array([delta, delta, 0.0, 0.0])} if composition else {},
        sources=(),
        notices=(),
    )
    done = length <= cutoff
    first = straightener[0] if straightener else cutoff
    return Result(
        case=case,
        steel=steel,
        shape_treatment="rectangle, mid-face",
        sides=("loose", "fixed") if two else ("both",),
        solid_fractions=np.array([0.3, 0.7, 1.0]),
        distance=distance,
        time=distance * 80,
        surface_temperature=temperature,
        shell_thickness=thickness,
        equivalent_shell=grown,
        centre_temperature=np.interp(centre, [0, 1], [1495.0, 1440.0]),
        centre_solid_fraction=centre,
        heat_flux=temperature,
        heat_transfer_coefficient=temperature,
        section_distance=sections,
        depth=depth,
        section_temperature=np.array([section] * 3),
        section_solid_fraction=np.zeros((3, len(depth))),
        zones=tuple(rows),
        mould=MouldResult(
            flux * 1e6,
            5e5,
            origin,
            "a law",
            dwell,
            exit_at,
            expected * 1e6,
            rise,
            velocity,
            copper,
            negative_strip_time=strip,
        ),
        pouring_temperature=1523.0,
        tundish_temperature=1523.0,
        superheat=superheat,
        half_thickness=size[0] / 2,
        thickness=size[0],
        width=size[1],
        balance=Balance(np.ones((len(surfaces), len(rows), len(MECHANISMS))), 1e-13, 2e-6, 3e-7),
        summary={
            "metallurgical_length": length if done else NAN,
            "solidification_time": length * 80 if done else NAN,
            "specific_water": water,
            "throughput": 6.9,
            "k_mould_exit": 19.0,
            "k_whole_machine": 29.0 if done else NAN,
            "centre_solid_fraction_at_straightener_in": float(np.interp(first, distance, centre)),
        },
        notices=(Notice("one plain notice", "mould"),),
    )


def strand_section(depth, thickness, shells, profile):
    """Temperature over the depth, straight from the surface through the end of the shell, 1500 degC at most."""
    surface, end = profile
    sides = [np.interp(depth, [0.0, 2.0 * s], [surface, 2.0 * end - surface]) for s in shells]
    if len(sides) == 2:
        sides[1] = sides[1][::-1]
        return np.minimum(np.where(depth <= 0.5 * thickness, *sides), 1500.0)
    return np.minimum(sides[0], 1500.0)


def found(name, **changes):
    return judge(strand(**changes))[name]


def billet(**changes):
    """A billet on oil that keeps every limit, but for what is changed."""
    given = dict(
        size=(0.15, 0.15),
        lubricant="oil",
        superheat=35.0,
        flux=2.0,
        expected=2.0,
        dwell=19.0,
        exit_at=0.8,
        shell=10.0,
        surface=[(0, 1500), (0.8, 1100), (1.1, 1050), (22, 920)],
        zones=(("foot rolls", 1.1, 700e3), ("spray 1", 3.0, 320e3), ("spray 2", 5.6, 200e3)),
        length=12.0,
        froze_from=9.0,
        straightener=(14.0, 15.0),
        support=16.0,
        cutoff=22.0,
        water=1.2,
        composition={"C": 0.2},
    )
    return strand(**(given | changes))


def slab(**changes):
    """A slab that keeps every limit, but for what is changed."""
    given = dict(
        shape="slab",
        size=(0.22, 1.5),
        superheat=25.0,
        flux=1.4,
        expected=1.4,
        dwell=40.0,
        exit_at=0.8,
        shell=16.0,
        surface=[(0, 1500), (0.8, 1050), (1.15, 1000), (31, 920)],
        zones=(("foot rolls", 1.15, 600e3), ("spray 1", 2.4, 300e3), ("spray 2", 8.0, 180e3)),
        length=20.0,
        froze_from=12.0,
        straightener=(15.2, 19.0),
        support=27.0,
        cutoff=31.0,
        water=0.65,
        composition={"C": 0.05},
        steel_class="low carbon",
    )
    return strand(**(given | changes))


# ------------------------------------------------------------------------------------------ profiles


def test_steepest_is_exact_between_points():
    """A 60 K rise over 0.3 m and flat beside it: any 0.5 m holds at most 60 K, so 120 K/m, from 0.8 to 1.0 m
    on.
    """
    z = np.array([0.0, 1.0, 1.3, 5.0])
    rate, place = steepest(z, np.array([900.0, 900.0, 960.0, 960.0]), 0.0, 5.0)
    assert rate == pytest.approx(120.0)
    assert 0.8 - 1e-12 <= place <= 1.0


def test_steepest_may_start_or_end_on_a_point():
    """40 K over 0.2 m, then 30 K/m: from 1.0 m on 0.5 m holds 40 + 9 K; mirrored, up to 1.0 m."""
    z = np.array([0.0, 1.0, 1.2, 3.0])
    values = np.array([900.0, 900.0, 940.0, 994.0])
    assert steepest(z, values, 0.0, 3.0) == (pytest.approx(98.0), pytest.approx(1.0))
    mirrored = steepest(3.0 - z[::-1], -values[::-1], 0.0, 3.0)
    assert mirrored == (pytest.approx(98.0), pytest.approx(1.5))


def test_steepest_stays_inside():
    """The 200 K drop before 1.0 m is outside; inside, a plain 10 K/m, and nothing at all in less
    than 0.5 m.
    """
    z = np.array([0.0, 1.0, 5.0])
    values = np.array([1200.0, 1000.0, 1040.0])
    assert steepest(z, values, 1.0, 5.0)[0] == pytest.approx(10.0)
    assert math.isnan(steepest(z, values, 1.0, 1.4)[0])
    assert steepest(z, values, 1.0, 1.5)[0] == pytest.approx(10.0)


def test_steepest_does_not_hang_on_the_points():
    """The same profile on a coarse and on a fine set of points gives the same rate."""
    knots = np.array([0.0, 0.7, 1.9, 2.2, 4.0])
    values = np.array([1100.0, 950.0, 990.0, 930.0, 960.0])
    fine = np.unique(np.concatenate((knots, np.linspace(0, 4, 1001))))
    for sign in (1, -1):
        coarse = steepest(knots, sign * values, 0.0, 4.0)[0]
        assert steepest(fine, sign * np.interp(fine, knots, values), 0.0, 4.0)[0] == pytest.approx(coarse)


def test_largest_rise_goes_from_minimum_to_next_maximum():
    """900 to 960, back to 930, up to 985: rises of 60 and 55 K; the 85 K from the first minimum is not one
    rise.
    """
    z = np.arange(5.0)
    assert largest_rise(z, np.array([1000.0, 900.0, 960.0, 930.0, 985.0]), 0, 4) == (60.0, 1.0, 2.0)


def test_largest_rise_looks_over_a_ripple():
    """A fall of 0.4 K is no maximum: 900 over 940 and 939.6 to 985 is one rise of 85 K."""
    z = np.arange(5.0)
    assert largest_rise(z, np.array([1000.0, 900.0, 940.0, 939.6, 985.0]), 0, 4) == (85.0, 1.0, 4.0)


def test_largest_rise_of_a_falling_profile_is_none():
    """Nothing rises, nowhere."""
    rise, low, high = largest_rise(np.arange(3.0), np.array([3.0, 2.0, 1.0]), 0, 2)
    assert rise == 0
    assert math.isnan(low)
    assert math.isnan(high)


def test_largest_rise_starts_where_it_may_look():
    """From 1.5 m on, half of the rise 900 to 960 K is left."""
    assert largest_rise(np.arange(4.0), np.array([1000.0, 900.0, 960.0, 950.0]), 1.5, 3.0)[0] == 30.0


def test_highest_and_crossing():
    """Both ends count for the highest; a level never reached has no place."""
    z, v = np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.5, 1.0])
    assert highest(z, v, 0.5, 1.5) == (0.75, 1.5)
    assert crossing(z, v, 0.0) == 0.0
    assert math.isnan(crossing(z, v, 1.5))
    np.testing.assert_array_equal(crossing(z, v, (0.75, 1.5, -1.0, 1.0)), [1.5, NAN, 0.0, 2.0])
    np.testing.assert_array_equal(crossing(z, np.array([1.0, 0.0, 0.5]), (0.4, 1.0)), [0.0, 0.0])


def wavy(rows, points=40, seed=7):
    """Distances of no even step, and profiles that rise and fall, some level for a while."""
    rng = np.random.default_rng(seed)
    values = rng.normal(0.0, 30.0, (*rows, points)).cumsum(axis=-1).round(-1) + 1000.0
    return np.sort(rng.uniform(0.0, 9.0, points)), values


def test_profiles_are_read_at_many_places_as_numpy_does():
    """At points, between them, at and beyond both ends, to the last bit; also where each profile has its own places."""
    z, values = wavy((3, 2))
    places = np.concatenate(([-1.0, 20.0], z, np.linspace(0.0, 9.0, 50)))
    known = np.array([[np.interp(places, z, row) for row in pair] for pair in values])
    np.testing.assert_array_equal(read_along(z, values, places), known)
    own = np.random.default_rng(1).uniform(-1.0, 10.0, (3, 2, 5))
    known = np.array([[np.interp(own[i, j], z, values[i, j]) for j in range(2)] for i in range(3)])
    np.testing.assert_array_equal(read_along(z, values, own), known)


@pytest.mark.parametrize(
    "read",
    [
        lambda z, v: read_at(z, v, (0.3, 4.0, 99.0)),
        lambda z, v: np.stack(steepest(z, v, 0.6, 7.9), axis=-1),
        lambda z, v: np.stack(largest_rise(z, v, 0.6, 7.9), axis=-1),
        lambda z, v: np.stack(highest(z, v, 0.6, 7.9), axis=-1),
        lambda z, v: crossing(z, v, 1060.0),
        lambda z, v: crossing(z, v, (1060.0, 1000.0, 2000.0, 1020.0)),
    ],
)
def test_profiles_side_by_side_are_read_as_each_alone(read):
    """To the last bit, whatever stands beside one."""
    z, values = wavy((3, 2))
    together = read(z, values)
    for i, j in np.ndindex(3, 2):
        np.testing.assert_array_equal(together[i, j], read(z, values[i, j]))
    assert len(np.unique(together)) > 1, "else nothing was told apart"


# -------------------------------------------------------------------------------- each finding by hand


def test_shell_floor():
    """17.0 mm at solid fraction 0.7 over a bloom's 13 mm: 4.0 mm of room; not the 19.6 mm at 0.3."""
    f = found("shell_floor")
    assert (f.value, f.limit, f.margin) == pytest.approx((17.0, 13.0, 4.0))
    assert (f.verdict, f.hardness, f.room) == ("kept", "hard", "4.0 mm room")
    assert f.where == "0.60 m, mould exit"


def test_shell_floor_close_and_breached():
    """14.4 mm leaves 1.4 of 1.5 mm width; 14.6 mm leaves 1.6; 12.9 mm is 0.1 mm under."""
    assert found("shell_floor", shell=14.4).verdict == "close"
    assert found("shell_floor", shell=14.6).verdict == "kept"
    f = found("shell_floor", shell=12.9)
    assert (f.verdict, f.room) == ("breached", "0.1 mm beyond")
    assert found("shell_floor", shell=13.0).verdict == "close", "a limit that is just met is met"


def test_shell_floor_takes_the_thinner_side():
    """16 mm loose, 14 mm fixed: the fixed side counts and is named."""
    f = found("shell_floor", shell=(16.0, 14.0), surface=[FALLING, FALLING])
    assert f.value == pytest.approx(14.0)
    assert f.where == "0.60 m, mould exit, fixed side"


def test_strength_floor():
    """17 mm x 0.75 = 12.75 mm against 3 mm; peritectic 17 x 0.55 = 9.35 mm; 6.8 x 0.55 = 3.74 mm is close; half-way
    from peritectic to plain steel, C_p 0.18, the factor is 0.65.
    """
    assert found("strength_floor").value == pytest.approx(12.75)
    f = found("strength_floor", steel_class="peritectic", composition={"C": 0.12})
    assert (f.value, f.margin, f.source) == (pytest.approx(9.35), pytest.approx(6.35), "li_thomas_2000")
    f = found("strength_floor", steel_class="peritectic", composition={"C": 0.12}, shell=6.8)
    assert (f.value, f.verdict) == (pytest.approx(3.74), "close")
    assert found("strength_floor", shell=3.9).verdict == "breached"
    assert found("strength_floor", composition={"C": 0.18}).value == pytest.approx(17 * 0.65)


def test_practice_floor_never_meets_the_unevenness_factor():
    """The same 12 mm of a peritectic slab: floor value 12.0, thinnest place 6.6."""
    judged = judge(slab(steel_class="peritectic", composition={"C": 0.12}, shell=12.0))
    assert judged["shell_floor"].value == pytest.approx(12.0)
    assert judged["strength_floor"].value == pytest.approx(6.6)


def test_hot_strength():
    """Where it is judged, what it rests on, and shells that are too hot or too thin."""
    f = found("hot_strength", profile=(1400.0, 1470.0))
    assert (f.verdict, f.hardness, f.where) == ("kept", "hard", "0.60 m, mould exit")
    basis = "mean × 0.75 for an uneven shell (practice), delta ferrite from memory"
    assert f.note == f"0.60 m of liquid steel, 41 kPa; {basis}"
    assert found("hot_strength", profile=(1462.0, 1470.0), shell=1.5).verdict == "breached"
    assert found("hot_strength", profile=(1440.0, 1470.0), shell=4.5).verdict == "close"


def test_hot_strength_by_hand():
    """
    A shell straight from 1400 to 1470 °C over 17 mm and nothing from 1470 on: the mean of the stress over those 70 K
    times 17 mm times 0.75, over 41.19 kPa x 0.15 m. Delta ferrite has an eighth to a fourth of that strength.
    """
    mean = float(flow_stress(np.linspace(1400.0, 1470.0, 701), 0.45, 5e-5).mean())
    f = found("hot_strength", profile=(1400.0, 1470.0))
    assert f.value == pytest.approx(0.75 * mean * 17e-3 / (9.80665 * 7000 * 0.6 * 0.15), rel=2e-3)
    weak = found("hot_strength", profile=(1400.0, 1470.0), delta=1.0)
    assert 0.12 < weak.value / f.value < 0.4
    uneven = found("hot_strength", profile=(1400.0, 1470.0), composition={"C": 0.12})
    plain = found("hot_strength", profile=(1400.0, 1470.0), composition={"C": 0.20})
    ratio = flow_stress(1430.0, 0.12, 5e-5) / flow_stress(1430.0, 0.20, 5e-5)
    assert uneven.value / plain.value == pytest.approx(0.55 / 0.75 * float(ratio), rel=0.02)


def test_hot_strength_of_the_weaker_side():
    """Half the shell on the fixed side carries half in tension, a quarter in bending."""
    both = dict(surface=[FALLING, FALLING], profile=(1400.0, 1470.0))
    even, thin = (judge(strand(shell=shells, **both)) for shells in ((17.0, 17.0), (17.0, 8.5)))
    assert thin["hot_strength"].value == pytest.approx(0.5 * even["hot_strength"].value, rel=0.01)
    assert thin["face_strength"].value == pytest.approx(0.25 * even["face_strength"].value, rel=0.01)
    assert thin["hot_strength"].where == "0.60 m, mould exit, fixed side"


def test_hot_strength_wants_a_composition():
    """Own numbers without carbon: not judged, and it says why."""
    for name in ("hot_strength", "face_strength"):
        f = found(name, composition={}, steel_class="unknown")
        assert (f.verdict, f.reason) == ("not judged", "the hot strength wants a composition")


def test_face_strength():
    """
    The widest face of 250 x 300 mm under 41.19 kPa: p W^2/8 = 463.4 N, held by M in the middle and 0.75^2 M at the
    corner. 1.5625 M = 463.4 N is a shell of 16 mm of about 4.6 MPa: closeness and breach follow from the shell.
    """
    hot = dict(profile=(1400.0, 1470.0))
    f = found("face_strength", **hot)
    depth = np.linspace(0.0, 0.017, 2001)
    stress = flow_stress(1400.0 + 70.0 * depth / 0.017, 0.45)
    force = np.concatenate(([0.0], np.cumsum(0.5 * (stress[1:] + stress[:-1]) * np.diff(depth))))
    middle = np.interp(0.5 * force[-1], force, depth)
    moment = np.trapezoid(stress * np.abs(depth - middle), depth)
    pressure = 9.80665 * 7000 * 0.6
    assert f.value == pytest.approx(1.5625 * moment / (pressure * 0.3**2 / 8), rel=5e-3)
    assert (f.hardness, f.where) == ("soft", "0.60 m, mould exit, face of 300 mm, between its corners")
    assert found("face_strength", shell=25.0, **hot).verdict == "kept"
    assert found("face_strength", shell=12.0, **hot).verdict == "breached"


def test_last_liquid_support():
    """14.0 of 22.0 m is 63.6 %: 26.4 % of room to 90; 19.2 m (87.3 %) is close, 20.0 m (90.9 %) beyond."""
    f = found("last_liquid_support")
    assert (f.value, f.margin) == pytest.approx((63.636, 26.364), abs=1e-3)
    assert f.where == "14.0 m, last support 22.0 m"
    assert found("last_liquid_support", length=19.2, straightener=()).verdict == "close"
    f = found("last_liquid_support", length=20.0, straightener=())
    assert (f.verdict, f.room) == ("breached", "1 % beyond")
    assert not f.note
    assert judge(slab())["last_liquid_support"].note.startswith("mid-face: nails showed longer pools")


def test_billets_and_small_rounds_are_held_to_straightener_and_cutoff():
    """Solid at 17 m, beyond the last support at 16: no matter for a billet, which is liquid at its straightener."""
    judged = judge(billet(length=17.0))
    assert "last_liquid_support" not in {f.name for f in judged.findings}
    assert judged["last_liquid_cutoff"].note == "a billet supports itself: not held to its last support"
    assert judged["liquid_core_straightener"].verdict == "breached"
    assert judged["last_liquid_cutoff"].verdict == "kept"
    small, large = (judge(strand(shape="round", size=(d, d), length=21.0)) for d in (0.20, 0.30))
    assert "last_liquid_support" not in {f.name for f in small.findings}
    assert large["last_liquid_support"].verdict == "breached"
    own = judge(billet(length=17.0, limits={"last_liquid_support": 90}))
    assert own["last_liquid_support"].verdict == "breached", "one's own limit is judged"
    assert judge(billet(length=17.0, product="bloom"))["last_liquid_support"].verdict == "breached"


def test_cutoff_reserve():
    """Cut-off at 25 m: a tenth, 2.5 m, of it is to be solid; at 15 m it is the 2 m; one's own reserve stands alone."""
    f = found("cutoff_reserve")
    assert (f.value, f.limit, f.hardness) == (pytest.approx(11.0), 2.5, "soft")
    assert found("cutoff_reserve", length=21.8, support=25.0).verdict == "close"
    judged = judge(strand(length=23.0))
    assert (judged["cutoff_reserve"].verdict, judged["last_liquid_cutoff"].verdict) == ("breached", "kept")
    assert found("cutoff_reserve", cutoff=15.0).limit == 2.0
    assert found("cutoff_reserve", limits={"cutoff_reserve": 5.0}).limit == 5.0


def test_last_liquid_cutoff():
    """Solid at 14.0 m, cut at 25.0: 11.0 m of solid; solid at 24.5 m leaves half of the 1 m width."""
    f = found("last_liquid_cutoff")
    assert (f.value, f.margin, f.verdict) == (pytest.approx(11.0), pytest.approx(11.0), "kept")
    assert found("last_liquid_cutoff", length=24.5).verdict == "close"


def test_liquid_at_the_cutoff_breaches_both():
    """A centre that never gets solid has no end to measure, and says so."""
    judged = judge(strand(length=30.0))
    for name in ("last_liquid_support", "last_liquid_cutoff"):
        f = judged[name]
        assert (f.verdict, f.room, f.value_text) == ("breached", "beyond the cut-off", "never")
        assert f.margin == -INF
    assert judged.binding.name in {"last_liquid_support", "last_liquid_cutoff"}


def test_straightener_surface():
    """Straight from 1050 °C at 0.9 m to 930 °C at 25 m: 4.979 K/m, 969.8 °C at 17 m, 79.8 K over 890 °C."""
    f = found("straightener_surface")
    assert f.value == pytest.approx(1050 - (17 - 0.9) * 120 / 24.1)
    assert f.margin == pytest.approx(79.8, abs=0.05)
    assert (f.room, f.where) == ("80 K room", "17.00 m, straightening point 2 of 2, loose side")


def test_straightener_surface_is_the_loose_side_at_its_coldest_point():
    """Loose 900 °C at 16 m and 905 at 17; fixed 800: the loose side's 900 counts."""
    loose = [(0, 1500), (0.6, 1100), (16, 900), (17, 905), (25, 880)]
    fixed = [(0, 1500), (0.6, 1100), (16, 800), (25, 780)]
    f = found("straightener_surface", shell=(17.0, 17.0), surface=[loose, fixed])
    assert f.value == pytest.approx(900.0)
    assert f.verdict == "close"
    assert "point 1 of 2" in f.where


def test_straightener_surface_without_points_or_class():
    """Nothing to judge at, or no class to judge by: not judged, and the reason says what to give."""
    f = found("straightener_surface", straightener=())
    assert (f.verdict, f.reason) == ("not judged", "no straightening points are given")
    f = found("straightener_surface", steel_class="unknown", composition={})
    assert f.verdict == "not judged"
    assert "composition" in f.reason
    assert f.value == pytest.approx(969.8, abs=0.05), "what was found is still told"


def test_mould_flux_window():
    """1.2 of 0.9 to 1.4 MW/m2: 0.2 of room; 1.38 leaves 0.02 of 5 % of 1.4 = 0.07; 1.5 is beyond."""
    f = found("mould_flux_window")
    assert (f.value, f.limit, f.hardness) == (pytest.approx(1.2), (0.9, 1.4), "soft")
    assert f.margin == pytest.approx(0.2)
    f = found("mould_flux_window", flux=1.38)
    assert (f.verdict, f.close) == ("close", pytest.approx(0.07))
    assert found("mould_flux_window", flux=1.5).room == "0.10 MW/m² beyond"


def test_mould_flux_deviation():
    """1.2 against a normal 1.5: -20 %, 5 % beyond; against 1.2: none; without a normal value: not judged."""
    f = found("mould_flux_deviation", expected=1.5)
    assert (f.value, f.margin) == pytest.approx((-20.0, -5.0))
    assert (f.verdict, f.value_text, f.limit_text) == ("breached", "-20 %", "±15 %")
    assert found("mould_flux_deviation").verdict == "kept"
    assert found("mould_flux_deviation", expected=1.35).verdict == "close"
    assert found("mould_flux_deviation", expected=NAN).verdict == "not judged"


def test_mould_water_rise():
    """7 K in 3 to 10; 3.4 K is close to 3; without a rise it does not appear at all."""
    assert found("mould_water_rise", rise=7.0).margin == pytest.approx(3.0)
    assert found("mould_water_rise", rise=3.4).verdict == "close"
    assert found("mould_water_rise", rise=11.0).verdict == "breached"
    with pytest.raises(KeyError):
        found("mould_water_rise")


def test_mould_water_velocity():
    """8 to 12 m/s round a tube, 6 to 10 m/s behind plates; without a cross-section it does not appear."""
    f = judge(billet(velocity=9.83))["mould_water_velocity"]
    assert (f.verdict, f.limit, f.margin) == ("kept", (8, 12), pytest.approx(1.83))
    f = judge(slab(velocity=10.5))["mould_water_velocity"]
    assert (f.verdict, f.limit, f.evidence) == ("breached", (6, 10), "practice")
    with pytest.raises(KeyError):
        found("mould_water_velocity")


def test_copper_hot_face():
    """190 °C leaves 110 K to 300 °C; 280 °C is close; without a wall it does not appear."""
    f = found("copper_hot_face", copper=190.0)
    assert (f.verdict, f.margin) == ("kept", pytest.approx(110.0))
    assert found("copper_hot_face", copper=280.0).verdict == "close"
    assert found("copper_hot_face", copper=310.0).verdict == "breached"
    with pytest.raises(KeyError):
        found("copper_hot_face")


def test_negative_strip():
    """0.144 s lies in 100 to 200 ms of a bloom and is close to the 150 ms of a billet."""
    f = found("negative_strip", strip=0.144)
    assert (f.verdict, f.value_text, f.margin) == ("kept", "144 ms", pytest.approx(44.0))
    assert judge(billet(strip=0.144))["negative_strip"].verdict == "close"
    assert judge(billet(strip=0.093))["negative_strip"].verdict == "kept"
    assert judge(billet(strip=0.0))["negative_strip"].verdict == "breached"
    assert judge(slab(size=(0.07, 1.5), strip=0.1))["negative_strip"].verdict == "not judged"
    with pytest.raises(KeyError):
        found("negative_strip")


def test_superheat_window():
    """25 K in 15 to 35 leaves 10 K; an open billet stream may have 40 of 25 to 50."""
    assert found("superheat_window").margin == pytest.approx(10.0)
    assert found("superheat_window", superheat=33.0).verdict == "close"
    assert found("superheat_window", superheat=12.0).room == "3 K beyond"
    assert judge(billet(superheat=40.0))["superheat_window"].margin == pytest.approx(10.0)


def test_dwell():
    """48 s against 25; a billet's 9 s is one too few."""
    assert found("dwell").margin == pytest.approx(23.0)
    f = judge(billet(dwell=9.0))["dwell"]
    assert (f.verdict, f.room) == ("breached", "1.0 s beyond")
    assert found("dwell", dwell=26.0).verdict == "close"


def test_liquid_core_at_the_straightener():
    """The centre freezes from 10 to 14 m, 0.95 solid at 13.8 m. At 13 m it is 0.75 solid: 0.25 beyond."""
    f = found("liquid_core_straightener", straightener=(13.0,))
    assert (f.value, f.margin, f.verdict) == (pytest.approx(0.75), pytest.approx(-0.25), "breached")


def test_solid_core_counts_its_room_along_the_strand():
    """The last 0.05 took 0.2 m: a point 0.1 m after the end is close, one 2 m after it is not."""
    f = found("liquid_core_straightener", straightener=(14.1,))
    assert (f.value, f.verdict, f.room) == (pytest.approx(1.0), "close", "0.1 m room")
    assert f.margin == pytest.approx(0.025)
    f = found("liquid_core_straightener", straightener=(16.0,))
    assert (f.verdict, f.room) == ("kept", "2.0 m room")


def test_liquid_core_of_a_low_carbon_slab_is_told_and_not_judged():
    """Information only: the value stands, the reason explains."""
    f = judge(slab())["liquid_core_straightener"]
    assert f.verdict == "not judged"
    assert f.value == pytest.approx(0.4)
    assert "for information" in f.reason


def test_reheating_rate_and_total():
    """From 850 °C at 3 m to 940 at 3.6 m: 0.5 m holds 75 K, so 150 K/m; 90 K in all, 10 K short of 100."""
    surface = [(0, 1500), (0.6, 1100), (3.0, 850), (3.6, 940), (25, 900)]
    f = found("reheating_rate", surface=surface)
    assert (f.value, f.verdict) == (pytest.approx(150.0), "breached")
    assert f.where.endswith("spray 2")
    f = found("reheating_total", surface=surface)
    assert (f.value, f.margin, f.verdict) == (pytest.approx(90.0), pytest.approx(10.0), "close")
    assert f.where == "3.00-3.60 m, spray 2"


def test_reheating_of_a_crack_sensitive_steel():
    """60 K in all: kept by plain steel, 10 K beyond for one with niobium."""
    surface = [(0, 1500), (0.6, 1100), (3.0, 980), (6.0, 1040), (25, 980)]
    assert found("reheating_total", surface=surface).verdict == "kept"
    f = found("reheating_total", surface=surface, composition={"C": 0.45, "Nb": 0.03})
    assert (f.verdict, f.room) == ("breached", "10 K beyond")


def test_reheating_at_mould_exit_counts_from_there():
    """The surface rises from 1000 °C at mould exit to 1080 at 1.4 m: 100 K/m, 80 K; the fall before is the
    mould's.
    """
    surface = [(0, 1500), (0.6, 1000), (1.4, 1080), (25, 930)]
    assert found("reheating_rate", surface=surface).value == pytest.approx(100.0)
    assert found("reheating_total", surface=surface).value == pytest.approx(80.0)


def test_reheating_none():
    """A surface that only falls has a rate of 0 and no place of reheating."""
    judged = judge(strand())
    assert judged["reheating_rate"].value == 0.0
    assert (judged["reheating_total"].value, judged["reheating_total"].where) == (0.0, "nowhere")


def test_reheating_takes_the_worse_side_and_names_it():
    """Loose falls, fixed rises 60 K: 60 K, fixed side."""
    rising = [(0, 1500), (0.6, 1100), (3.0, 980), (6.0, 1040), (25, 980)]
    f = found("reheating_total", shell=(17.0, 17.0), surface=[FALLING, rising])
    assert f.value == pytest.approx(60.0)
    assert f.where.endswith("fixed side")


def test_cooling_rate():
    """1050 to 990 °C between 2 and 2.3 m is 60 K in any 0.5 m around it, with 2 x 1 K beside: 124 K/m."""
    surface = [(0, 1500), (0.6, 1100), (1.0, 1060), (2.0, 1050), (2.3, 990), (3.3, 980), (25, 930)]
    f = found("cooling_rate", surface=surface)
    assert f.value == pytest.approx((60 + 0.2 * 10) / 0.5)
    assert f.verdict == "kept"


def test_cooling_rate_starts_below_the_foot_rolls():
    """A fall of 400 K/m inside the foot rolls (0.6 to 0.9 m) is theirs; below it the surface falls by 100
    K/m.
    """
    surface = [(0, 1500), (0.6, 1100), (0.9, 980), (1.4, 930), (25, 900)]
    assert found("cooling_rate", surface=surface).value == pytest.approx(100.0)


def test_cooling_rate_of_a_slab_ends_at_the_straightener():
    """90 K/m at 17 m, after the first straightening point (15.2 m), is no matter of the upper machine."""
    early = [(0, 1500), (0.8, 1050), (1.15, 1000), (5, 980), (6, 890), (31, 860)]
    late = [(0, 1500), (0.8, 1050), (1.15, 1000), (17, 980), (18, 890), (31, 860)]
    f = judge(slab(surface=early))["cooling_rate"]
    assert (f.value, f.limit, f.source) == (pytest.approx(90.0), 83, "nozaki_1976")
    assert f.verdict == "breached"
    assert judge(slab(surface=late))["cooling_rate"].verdict == "kept"


def test_surface_ceiling():
    """1050 °C where the foot rolls end; a rebound to 1160 °C at 4 m is 10 K beyond; 1140 °C is close."""
    assert found("surface_ceiling").value == pytest.approx(1050.0)
    surface = [(0, 1500), (0.6, 1200), (0.9, 1050), (4.0, 1160), (25, 930)]
    f = found("surface_ceiling", surface=surface)
    assert (f.verdict, f.room) == ("breached", "10 K beyond")
    assert f.where == "4.00 m, spray 2"
    assert found("surface_ceiling", surface=[*surface[:3], (4.0, 1140), (25, 930)]).verdict == "close"


def test_zone_jump():
    """500/260 = 1.92 of 3 for the first pair, 260/160 = 1.63 of 2 for the next: the latter has less room,
    0.38.
    """
    f = found("zone_jump")
    assert (f.value, f.limit) == (pytest.approx(1.625), 2)
    assert f.margin == pytest.approx(0.375)
    assert f.where == "2.60 m, spray 1 to spray 2"


def test_zone_jump_of_the_first_pair_and_upwards():
    """700/200 = 3.5 breaks the first pair's 3; a zone three times stronger than the one before breaks 2."""
    f = found("zone_jump", zones=(("foot rolls", 0.9, 700e3), ("spray 1", 2.6, 200e3)))
    assert (f.value, f.limit, f.room) == (pytest.approx(3.5), 3, "0.50 beyond")
    zones = (("foot rolls", 0.9, 300e3), ("spray 1", 2.6, 200e3), ("spray 2", 5.2, 600e3))
    assert found("zone_jump", zones=zones).value == pytest.approx(3.0)
    assert found("zone_jump", zones=ZONES[:1]).verdict == "not judged"


def test_specific_water():
    """0.4 of 0.15 to 0.6 L/kg; 0.57 leaves 0.03 of 10 % of 0.6; unknown water is not judged."""
    assert found("specific_water").margin == pytest.approx(0.2)
    f = found("specific_water", water=0.57)
    assert (f.verdict, f.close) == ("close", pytest.approx(0.06))
    assert found("specific_water", water=0.7).verdict == "breached"
    assert found("specific_water", water=NAN).verdict == "not judged"


ARCS = dict(radius=9.61, radius_after=(20.11, INF))


def test_bulging():
    """
    220 mm slab, 16 mm at 0.8 m so 14.4 mm solid, growing with the root: 27.9 mm solid at 3.0 m. 0.25 m
    between rolls at 1.2 m/min is 0.2083 min. Head 3.0 m less what the arc takes: 206 kPa. Surface 995 °C,
    solidus 1440: mean 1217.5, E = 10 x 222.5/1340 = 1.66 GPa.
    d = 206e3 x 0.25^4 x 0.4564 / (32 x 1.66e9 x 2.17e-5) = 0.32 mm.
    """
    zones = (("foot rolls", 1.15, 600e3), ("spray 1", 3.0, 300e3), ("spray 2", 3.001, 180e3))
    result = slab(zones=zones, pitch=[None, None, 0.25], radius=9.61, vertical=2.5)
    f = judge(result)["bulging"]
    shell = 14.4e-3 * math.sqrt(3.0 / 0.8)
    surface = 1000 - (3.0 - 1.15) * 80 / 29.85
    modulus = 10e9 * (1440 - (surface + 1440) / 2) / 1340
    pressure = 9.80665 * 7000 * (2.5 + 9.61 * math.sin(0.5 / 9.61))
    expected = pressure * 0.25**4 * math.sqrt(0.25 / 1.2) / (32 * modulus * shell**3)
    assert f.value == pytest.approx(1e3 * expected, rel=2e-3)
    assert f.value == pytest.approx(0.31, abs=0.02)
    assert f.where == "3.00 m, spray 2"


def test_bulging_needs_a_slab_and_a_pitch():
    """No pitch, no finding; a bloom's faces are too narrow for the formula."""
    for result in (slab(radius=9.61), strand(pitch=[0.3] * 3, radius=10.5)):
        with pytest.raises(KeyError):
            judge(result)["bulging"]


def test_bulging_is_over_where_the_core_is_solid():
    """Solid at 20 m: a roll pitch given from 21 m on has nothing to bulge."""
    zones = (("foot rolls", 1.15, 600e3), ("spray 1", 21.0, 300e3), ("spray 2", 25.0, 180e3))
    with pytest.raises(KeyError):
        judge(slab(zones=zones, pitch=[None, None, 0.4], radius=9.61))["bulging"]


def test_strain_of_the_surface():
    """Half of 220 mm on neutral radii of 9.5 m, 20 m and straight: 110 mm x (1/9.5 - 1/20) = 0.61
    %, then 0.55.
    """
    f = judge(slab(**ARCS))["strain_surface"]
    assert f.value == pytest.approx(100 * 0.11 * (1 / 9.5 - 1 / 20))
    assert (f.verdict, f.value_text, f.room) == ("breached", "0.61 %", "0.26 % beyond")
    assert f.where == "15.20 m, straightening point 1 of 2"


def test_two_point_unbending_of_a_small_section_is_normal():
    """
    130 mm square from a radius of 6 m through 12 m to straight: half of 130 mm x (1/5.935 - 1/11.935) = 0.55 % of
    0.6 %; at one point (1/5.935) it is 1.10 %.
    """
    small = dict(size=(0.13, 0.13), straightener=(14.0, 15.0), radius=6.0)
    f = judge(billet(radius_after=(12.0, INF), **small))["strain_surface"]
    assert f.value == pytest.approx(100 * 0.065 * (1 / 5.935 - 1 / 11.935))
    assert (f.verdict, f.value_text) == ("close", "0.55 %")
    assert judge(billet(radius_after=(INF, INF), **small))["strain_surface"].verdict == "breached"


def test_strain_at_the_front_by_straightening_alone():
    """Solid shell 14.4 mm x sqrt(15.2/0.8) = 62.8 mm: 47.2 mm of 110 to the front, x (1/9.5 -
    1/20) = 0.26 %.
    """
    f = judge(slab(**ARCS))["strain_front"]
    assert f.value == pytest.approx(100 * (0.11 - 14.4e-3 * math.sqrt(19)) * (1 / 9.5 - 1 / 20), rel=1e-4)
    assert "straightening alone" in f.note
    assert f.verdict == "kept"


def test_strain_at_the_front_adds_bulging_and_a_roll_out_of_line():
    """With rolls 0.3 m apart at the first point: 3 x 62.8 mm x 0.5 mm / 0.3^2 = 0.105 % and 16 s d
    / l^2 more.
    """
    zones = (("foot rolls", 1.15, 600e3), ("spray 1", 15.0, 300e3), ("spray 2", 16.0, 180e3))
    alone = judge(slab(zones=zones, **ARCS))["strain_front"]
    rolls = judge(slab(zones=zones, pitch=[None, None, 0.3], **ARCS))
    shell = 14.4e-3 * math.sqrt(15.2 / 0.8)
    added = rolls["strain_front"].value - alone.value
    out_of_line = 100 * 3 * shell * 0.5e-3 / 0.3**2
    bulged = 100 * 16 * shell * rolls["bulging"].value * 1e-3 / 0.3**2
    assert rolls["strain_front"].where.startswith("15.20 m")
    assert added == pytest.approx(out_of_line + bulged, rel=0.05)
    parts = r"(?:unbending|bulging|misalignment) (\d\.\d\d) %"
    apart = [float(x) for x in re.findall(parts, rolls["strain_front"].note)]
    assert apart == pytest.approx([alone.value, bulged, out_of_line], abs=0.0075)
    tight = judge(slab(zones=zones, pitch=[None, None, 0.3], gap=0.2, **ARCS))["strain_front"]
    assert rolls["strain_front"].value - tight.value == pytest.approx(0.6 * out_of_line, rel=0.05)


def test_bulging_is_good_to_a_factor_of_two():
    """0.2 mm may be 0.4: close to 0.3 mm from 0.15 mm on, and the note tells from where to where."""
    zones = (("foot rolls", 1.15, 600e3), ("spray 1", 3.0, 300e3), ("spray 2", 3.001, 180e3))
    f = judge(slab(zones=zones, pitch=[None, None, 0.22], radius=9.61, vertical=2.5))["bulging"]
    assert 0.15 < f.value < 0.3
    assert f.verdict == "close"
    low, high = (float(x) for x in re.findall(r"(\d\.\d\d)", f.note))
    assert (low, high) == pytest.approx((f.value / 2, f.value * 2), abs=0.0051)


def test_what_no_strand_can_do_is_outside_the_model():
    """Rolls 3 m apart: the formula makes metres of it. The finding says so, and which input did it."""
    judged = judge(slab(radius=9.61, radius_after=(12.0, INF), pitch=[None, 3.0, None], vertical=2.5))
    for name in ("bulging", "strain_front"):
        f = judged[name]
        assert f.value > f.reach
        assert (f.value_text, f.verdict, f.room) == ("outside the model", "breached", "beyond")
        assert "of solid shell between rolls 3 m apart (roll_pitch_m)" in f.note
    f = replace(judged["bulging"], value=0.2, low=0.1, high=35.0, margin=0.1)
    assert (f.value_text, f.band_text) == ("0.2 mm", "0.1 to over 20")
    assert replace(f, low=25.0).band_text == "outside the model"


def test_strain_at_the_front_is_none_in_a_solid_strand():
    """Solid at 12 m, straightened from 14 m on: nothing to strain."""
    f = judge(billet(radius=8.0, radius_after=(16.0, INF)))["strain_front"]
    assert (f.value, f.where, f.verdict) == (0.0, "nowhere, solid before the straightener", "kept")


# ------------------------------------------------------------------------------------------ whole strands

KEPT = {
    "shell_floor",
    "strength_floor",
    "last_liquid_support",
    "last_liquid_cutoff",
    "cutoff_reserve",
    "straightener_surface",
    "hot_strength",
    "face_strength",
    "mould_flux_window",
    "mould_flux_deviation",
    "mould_exit_surface",
    "mould_reheating",
    "superheat_window",
    "dwell",
    "liquid_core_straightener",
    "reheating_rate",
    "reheating_total",
    "cooling_rate",
    "surface_ceiling",
    "zone_jump",
    "specific_water",
}
WAVES = [(0, 1500), (0.6, 1100), (0.9, 1160), (1.9, 850), (2.9, 1000), (25, 860)]

STRANDS = {
    "sound bloom": (strand(), {}),
    "sound billet": (
        billet(rise=7.0, velocity=9.4, copper=240.0, strip=0.12),
        {
            "mould_water_rise": "kept",
            "mould_water_velocity": "kept",
            "copper_hot_face": "kept",
            "negative_strip": "kept",
        },
    ),
    "sound slab": (slab(), {"liquid_core_straightener": "not judged"}),
    "slab on close rolls": (
        slab(radius=40.0, radius_after=(80.0, INF), pitch=[0.12, 0.16, 0.2], vertical=2.5),
        {
            "liquid_core_straightener": "not judged",
            "bulging": "kept",
            "strain_front": "kept",
            "strain_surface": "kept",
        },
    ),
    "slab on wide rolls": (
        slab(radius=9.61, radius_after=(12.0, INF), pitch=[0.12, 0.5, 0.7], vertical=2.5),
        {
            "liquid_core_straightener": "not judged",
            "bulging": "breached",
            "strain_front": "breached",
            "strain_surface": "breached",
        },
    ),
    "thin hot shell": (
        strand(
            shell=3.5,
            superheat=50.0,
            dwell=20.0,
            expected=1.6,
            rise=2.0,
            velocity=1.3,
            copper=340.0,
            strip=0.0,
            profile=(1440, 1470),
        ),
        {
            "hot_strength": "breached",
            "face_strength": "breached",
            "shell_floor": "breached",
            "strength_floor": "breached",
            "superheat_window": "breached",
            "dwell": "breached",
            "mould_flux_deviation": "breached",
            "mould_water_rise": "breached",
            "mould_water_velocity": "breached",
            "copper_hot_face": "breached",
            "negative_strip": "breached",
        },
    ),
    "warming up inside the mould": (
        strand(surface=[(0, 1500), (0.3, 1160), (0.6, 1215), (0.9, 1050), (25, 930)]),
        {"mould_exit_surface": "breached", "mould_reheating": "breached", "surface_ceiling": "kept"},
    ),
    "liquid to the end": (
        strand(length=30.0, flux=1.6, expected=NAN),
        {
            "last_liquid_support": "breached",
            "last_liquid_cutoff": "breached",
            "cutoff_reserve": "breached",
            "liquid_core_straightener": "breached",
            "mould_flux_window": "breached",
            "mould_flux_deviation": "not judged",
        },
    ),
    "wavy surface": (
        strand(
            surface=WAVES,
            zones=(("foot rolls", 0.9, 5e5), ("spray 1", 2.6, 9e4), ("spray 2", 5.2, 9e4)),
            water=0.9,
        ),
        {
            "reheating_rate": "breached",
            "reheating_total": "breached",
            "cooling_rate": "breached",
            "surface_ceiling": "breached",
            "zone_jump": "breached",
            "specific_water": "breached",
        },
    ),
    "cold niobium slab": (
        slab(composition={"C": 0.20, "Nb": 0.03}, steel_class="medium carbon"),
        {"straightener_surface": "close", "liquid_core_straightener": "not judged"},
    ),
    "colder niobium slab": (
        slab(
            composition={"C": 0.20, "Nb": 0.03},
            steel_class="medium carbon",
            surface=[(0, 1500), (0.8, 1050), (1.15, 1000), (31, 850)],
        ),
        {"straightener_surface": "breached", "liquid_core_straightener": "not judged"},
    ),
    "everything close": (
        strand(
            shell=13.5,
            superheat=33.0,
            dwell=26.0,
            flux=1.38,
            expected=1.22,
            length=19.3,
            straightener=(19.4,),
            water=0.58,
            surface=[(0, 1500), (0.6, 1135), (0.9, 1140), (1.4, 1045), (1.9, 1135), (25, 850)],
            zones=(("foot rolls", 0.9, 450e3), ("spray 1", 2.6, 160e3)),
        ),
        {
            "shell_floor": "close",
            "superheat_window": "close",
            "dwell": "close",
            "mould_flux_window": "close",
            "mould_flux_deviation": "close",
            "last_liquid_support": "close",
            "liquid_core_straightener": "close",
            "reheating_total": "close",
            "reheating_rate": "breached",
            "cooling_rate": "close",
            "surface_ceiling": "close",
            "straightener_surface": "kept",
            "specific_water": "close",
            "zone_jump": "close",
        },
    ),
}


@pytest.mark.parametrize("name", STRANDS)
def test_strand_has_exactly_its_verdicts(name):
    """What is not named keeps its limit, and nothing else appears."""
    result, differs = STRANDS[name]
    verdicts = {f.name: f.verdict for f in judge(result).findings}
    applies = KEPT - ({"last_liquid_support"} if name == "sound billet" else set())
    assert verdicts == dict.fromkeys(applies, "kept") | differs


def test_every_finding_is_breached_once_and_kept_once():
    """A finding that no strand can move proves nothing."""
    seen = {(f.name, f.verdict) for result, _ in STRANDS.values() for f in judge(result).findings}
    assert {n for n in names() if (n, "kept") not in seen} == set()
    assert {n for n in names() if (n, "breached") not in seen} == set()


# ------------------------------------------------------------------------------------------ bands


def test_band_that_crosses_the_limit_reads_close():
    """17 mm with a band of 12.5 to 21 reaches 13 mm; one of 15 to 19 does not."""
    result = strand()
    assert judge(result, {"shell_floor": (12.5, 21.0)})["shell_floor"].verdict == "close"
    f = judge(result, {"shell_floor": (15.0, 19.0)})["shell_floor"]
    assert (f.verdict, f.low, f.high) == ("kept", 15.0, 19.0)


def test_band_wins_over_the_close_width():
    """14 mm is inside the close width; a band of 13.5 to 14.5 shows that the limit is out of reach."""
    result = strand(shell=14.0)
    assert judge(result)["shell_floor"].verdict == "close"
    assert judge(result, {"shell_floor": (13.5, 14.5)})["shell_floor"].verdict == "kept"


def test_band_never_mends_a_breach():
    """12 mm is under the floor whatever its band reaches."""
    assert judge(strand(shell=12.0), {"shell_floor": (10.0, 15.0)})["shell_floor"].verdict == "breached"


# -------------------------------------------------------------------------------- overriding and ranking


def test_override_in_the_case_judges_and_is_marked():
    """A plant that asks for 18 mm breaches at 17; the finding says whose limit it is."""
    f = found("shell_floor", limits={"shell_floor": 18.0})
    assert (f.verdict, f.overridden, f.evidence) == ("breached", True, "user")
    assert found("superheat_window", limits={"superheat_window": [20, 24]}).room == "1 K beyond"
    assert found(
        "liquid_core_straightener", straightener=(13.0,), limits={"liquid_core_straightener": 0.7}
    ).margin == (pytest.approx(0.05))


def test_hard_findings_stand_first_and_the_tightest_binds():
    """Shell 4.0 mm over 1.5 mm width = 2.7 widths; support 26.4/3 = 8.8; surface 79.8/20 = 4.0: the shell
    binds.
    """
    judged = judge(strand())
    hardness = [f.hardness for f in judged.findings]
    assert hardness == sorted(hardness, key=["hard", "soft"].index)
    assert judged.binding.name == "shell_floor"
    assert judged.binding.widths_of_room == pytest.approx(2.667, abs=1e-3)
    assert judged.binding_soft.name == "zone_jump"


def test_worst_verdict():
    """One breach makes the strand breached; all kept, kept."""
    assert judge(strand()).worst == "kept"
    assert judge(strand(superheat=33.0)).worst == "close"
    assert judge(strand(superheat=50.0)).worst == "breached"


def test_a_value_is_printed_as_finely_as_its_limit_tells_it_apart():
    """6.7 K of rise within 3 to 10 K, close by 0.5 K; 0.12 mm of bulging, 0.3 mm allowed, close by 0.1 mm."""
    f = found("mould_water_rise", rise=6.7)
    assert (f.value_text, f.room) == ("6.7 K", "3.3 K room")
    words = replace(f, name="bulging", unit="mm", value=0.12, low=0.11, high=0.14, limit=0.3, sense="at most",
                    margin=0.18, close=0.1)  # fmt: skip
    assert (words.value_text, words.band_text) == ("0.12 mm", "0.11 to 0.14")
    assert room_words(0.18, "mm", 0.1) == "0.18 mm room"
    assert [room_words(21.6, unit, close) for unit, close in (("K", 3.0), ("degC", 20.0), ("K/m", 15.0))] == [
        "22 K room", "22 K room", "22 K/m room",
    ]  # fmt: skip


def test_what_a_formula_makes_of_no_shell_is_no_row_of_digits():
    """Bulging goes with the inverse cube of the shell: 1.3e17 mm where there is none."""
    f = replace(
        found("shell_floor"),
        value=1.296e17,
        low=2.5e16,
        high=9e17,
        sense="at most",
        limit=0.3,
        margin=-1.296e17,
    )
    assert (f.value_text, f.band_text) == ("1.3e+17 mm", "2.5e+16 to 9.0e+17")
    assert room_words(-1.296e17, "mm") == "1.3e+17 mm beyond"
    assert (
        replace(
            f, value=-0.04, unit="%", sense="within", limit=(-15.0, 15.0), margin=14.96, close=5.0
        ).value_text
        == "0 %"
    )


def test_small_margins_keep_their_digits():
    """12.98 mm against 13 mm must not print as 13.0 mm against 13 mm with no room."""
    f = found("shell_floor", shell=12.98)
    assert (f.value_text, f.room) == ("12.98 mm", "0.02 mm beyond")


# ------------------------------------------------------------------------------------------ breakout risk


def reasons(result):
    risk = judge(result).breakout
    return risk, {r.name: r.weight for r in risk.reasons}


def test_no_reason_found_is_followed_by_the_statement():
    """A sound strand gives no reason and no permission."""
    risk, weights = reasons(strand())
    assert risk.words == "no reason found"
    assert set(weights.values()) == {"none"}
    assert risk.statement == STATEMENT == "This is no detector and no permission."


@pytest.mark.parametrize(
    ("changes", "name", "weight", "words"),
    [
        (dict(shell=12.0), "shell_floor", "strong", "strong reason"),
        (dict(shell=3.9), "strength_floor", "strong", "strong reason"),
        (dict(shell=13.5), "shell_floor", "look", "reason to look"),
        (dict(superheat=50.0), "superheat_window", "look", "reason to look"),
        (dict(superheat=10.0), "superheat_window", "look", "reason to look"),
        (dict(dwell=20.0), "dwell", "look", "reason to look"),
        (dict(expected=1.5), "mould_flux_deviation", "look", "reason to look"),
        (dict(expected=1.0), "mould_flux_deviation", "look", "reason to look"),
        (dict(expected=NAN), "mould_flux_deviation", "not known", "no reason found"),
        (dict(origin="handbook"), "mould_flux_origin", "not known", "no reason found"),
        (dict(flux=1.5, expected=1.5), "shell_floor", "none", "no reason found"),
    ],
)
def test_reason_and_words(changes, name, weight, words):
    """A floor broken is a strong reason, other breaches and near ones are reasons to look, ignorance is
    told.
    """
    risk, weights = reasons(strand(**changes))
    assert weights[name] == weight
    assert risk.words == words
    assert risk.reasons[0].weight == max(
        (r.weight for r in risk.reasons), key=("none not known look strong").index
    )


def test_superheat_is_told_by_its_side():
    """Hot and cold steel do different harm."""
    hot, cold = (reasons(strand(superheat=k))[0].raised[0].text for k in (50.0, 10.0))
    assert "hot steel" in hot
    assert "cold steel" in cold


def test_flux_not_measured_is_said():
    """On the handbook relation nobody has measured the heat."""
    risk, _ = reasons(strand(origin="handbook"))
    assert any(r.text.startswith("flux not measured") for r in risk.reasons)


def test_reheating_below_the_mould_is_told():
    """120 K up within the first metre is over the limit of 100 K; the same rise further down is not of the mould."""
    below = [(0, 1500), (0.6, 900), (1.0, 1020), (25, 900)]
    risk, weights = reasons(strand(surface=below))
    assert weights["reheating_below_mould"] == "look"
    assert risk.raised[0].text == (
        "the surface warms up again by 120 K within a metre below the mould, more than 100 K: a hot shell is weak, "
        "bulges and strains its front"
    )
    later = [(0, 1500), (0.6, 1000), (3.0, 900), (3.4, 1020), (25, 900)]
    assert reasons(strand(surface=later))[1]["reheating_below_mould"] == "none"


def test_what_moves_the_shell_is_told_with_its_reason():
    """-0.3 mm for 3 K: 10 K less give 1.0 mm more; +1.5 mm for 10 %; the speed by its reading; sprays not at all."""
    effects = (
        Effect("mould heat flux", 10.0, "%", 1.5, 0.9),
        Effect("superheat", 3.0, "K", -0.3, 0.06),
        Effect("casting speed", 1.5, "%", -0.24, 0.04),
        Effect("spray heat transfer", 20.0, "%", 0.2, 0.0),
    )
    risk = judge(strand(), {"shell_floor": Band(15.5, 18.5, effects)}).breakout
    moves = {r.name: r.moves for r in risk.reasons}
    assert moves["superheat_window"] == "10 K less superheat: 1.0 mm more shell"
    assert moves["mould_flux_deviation"] == "10 % less mould heat flux: 1.5 mm less shell"
    assert moves["dwell"] == "a true speed 2 % under its reading: 0.3 mm more shell"
    assert moves["shell_floor"] == "; ".join(
        moves[n] for n in ("mould_flux_deviation", "superheat_window", "dwell")
    )
    assert moves["strength_floor"] == ""
    assert not any(r.moves for r in judge(strand()).breakout.reasons), "nothing is known without bands"


FORBIDDEN = re.compile(
    r"\b(warn\w*|act|acts|alarm\w*|trip\w*|pass|passes|passed|fail|fails|failed|ok|okay|safe\w*|danger\w*)\b",
    re.I,
)
INSTRUCTION = re.compile(
    r"\b(slow down|speed up|reduce|increase|raise|lower the|stop|hold|restart|should|must|check the)\b",
    re.I,
)


@pytest.mark.parametrize("name", STRANDS)
def test_words_give_no_instruction_and_use_no_plant_words(name):
    """Verdicts, rooms, reasons and breakout texts: no word of alarm systems, none that reads as
    permission.
    """
    judged = judge(STRANDS[name][0])
    assert judged.breakout.words in WORDS
    texts = [r.text for r in judged.breakout.reasons]
    for f in judged.findings:
        assert f.verdict in VERDICTS
        assert bool(f.reason) == (f.verdict == "not judged")
        assert f.room or f.verdict == "not judged"
        texts += [f.label, f.room, f.where, f.reason, f.note]
    for text in (text.replace("safety factor", "") for text in texts):  # the trade's name of a ratio of loads
        assert not FORBIDDEN.search(text), text
        assert not INSTRUCTION.search(text), text


# ------------------------------------------------------------------------------------------ a real case

CASE = """
title = "Bloom 250 x 300 (invented)"
steel.composition = { C = 0.45, Si = 0.25, Mn = 0.70 }
section = { shape = "rectangle", thickness_mm = 250, width_mm = 300 }
casting = { speed_m_per_min = 0.75, superheat_K = 28 }
limits = { shell_floor = 15, superheat_window = [20, 30] }
[mould]
length_mm = 700
level_below_top_mm = 100
lubricant = "powder"
water_flow_L_per_min = 2000
water_rise_K = 6.6
water_gap_mm = 4
[[zone]]
name = "foot rolls"
end_m = 0.9
water_L_per_min = 50
[machine]
distances_from = "mould top"
radius_m = 10.5
straightener_m = [15.6, 16.35]
support_end_m = 22.1
cutoff_m = 25.1
"""


def test_a_case_as_read_is_judged():
    """Every attribute the findings read exists on a case from a file, with distances from the mould top
    shifted.
    """
    case = parse_case(CASE, "bloom.toml")
    judged = judge(replace(strand(velocity=9.4), case=case))
    assert judged["shell_floor"].overridden
    assert judged["shell_floor"].limit == 15
    assert judged["superheat_window"].limit == (20, 30)
    assert judged["straightener_surface"].where.startswith("16.25 m")
    assert judged["last_liquid_support"].where.endswith("last support 22.0 m")
    assert judged["mould_water_velocity"].judged


def test_a_solved_strand_is_judged_by_its_own_figures():
    """The findings of a marched strand are the figures of its summary, in plant units."""
    result = solve(parse_case(CASE, "bloom.toml"))
    judged, summary = judge(result), result.summary
    assert judged["reheating_total"].value == pytest.approx(summary["largest_reheating"])
    assert judged["reheating_rate"].value == pytest.approx(summary["largest_reheating_rate"])
    assert judged["cooling_rate"].value == pytest.approx(summary["largest_cooling_rate"])
    assert judged["specific_water"].value == pytest.approx(summary["specific_water"])
    assert judged["mould_water_rise"].value == pytest.approx(6.6)
    assert judged["straightener_surface"].value == pytest.approx(summary["surface_at_straightener_out"])
    shell = summary["shell_at_mould_exit"][result.fraction_index(0.7)]
    assert judged["shell_floor"].value == pytest.approx(1e3 * shell, rel=1e-3)
    assert judged["last_liquid_support"].value == pytest.approx(100 * summary["metallurgical_length"] / 22.0)


@pytest.mark.parametrize("name", ["bloom", "slab", "billet"])
@pytest.mark.parametrize("two_sides", [False, True])
def test_strands_side_by_side_are_judged_as_each_alone(name, two_sides):
    """Findings and breakout risk to the last bit and word: other speeds and steels, limits of one's own, no strand."""
    case = demo_case(name).replace({"steps.output_step_m": 0.2})
    if two_sides:
        zone = f'zone."{case.zone[1].name}".water'
        gone = dict.fromkeys((f"{zone}_L_per_min", f"{zone}_at_speed"))
        case = case.replace(gone | {f"{zone}_loose_L_per_min": 100.0, f"{zone}_fixed_L_per_min": 60.0})
    speed = "casting.speed_m_per_min"
    changes = [{speed: case.value(speed) * share} for share in (0.6, 0.9, 1.0, 1.1, 1.4, 2.0)]
    changes += [
        {"steel.composition": {"C": 0.12, "Mn": 1.2}},
        {"limits": {"zone_jump": 1.2, "shell_floor": 14}},
    ]
    cases = [case.replace(change) for change in changes]
    groups, wrong = solve_stacked(cases, sections=False)
    assert not wrong
    assert max(len(group.places) for group in groups) >= 5, "else nothing stands side by side"
    seen = set()
    for group in groups:
        together = judged(group.results)
        for i, place in enumerate(group.places):
            alone = judge(solve(cases[place]))
            assert repr(together[i]) == repr(alone)
            assert together[i].findings[0].value == alone.findings[0].value
            seen |= {f.verdict for f in alone.findings}
    assert seen >= {"kept", "close", "breached"}


def test_findings_do_not_hang_on_the_grid():
    """Twice the nodes and twice the profile points move no finding by a fifth of its close width."""
    case = parse_case(CASE, "bloom.toml")
    coarse, fine = (
        judge(solve(case)),
        judge(solve(case.replace({"steps.nodes": 120, "steps.output_step_m": 0.01}))),
    )
    for f in fine.findings:
        assert coarse[f.name].verdict == f.verdict
        if f.judged and math.isfinite(f.close):
            assert abs(coarse[f.name].value - f.value) < 0.2 * f.close, f.name
