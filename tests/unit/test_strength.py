"""Hot strength: two laws and their mixture, shells in tension and in bending by hand, the published critical shell."""

from dataclasses import replace

import numpy as np
import pytest

from solidify.assessment.checks import face_strength
from solidify.assessment.checks import hot_strength as hot_strength_check
from solidify.assessment.judge import judged, limits_of
from solidify.assessment.strength import (
    BENDING_RATE,
    TENSION_RATE,
    HotStrength,
    bending_safety,
    creep_rate,
    delta_stress,
    flow_stress,
    hot_strength,
    shell_strength,
    tension_safety,
)
from solidify.case import parse_case
from solidify.heat.mould import handbook_mean_flux
from solidify.strand.result_batch import Results
from solidify.strand.solve import solve

TABLE = {900: 64.8, 1000: 43.2, 1100: 27.9, 1200: 17.9, 1300: 11.7, 1400: 7.8}
"""Stress [MPa] at 0.1 %C and 1e-3 per second, from the published law (austenite_creep_1992) by hand."""

EVEN = HotStrength(np.array([900.0, 1450.0, 1450.1]), np.array([10e6, 10e6, 0.0]))
"""10 MPa up to 1450 °C, nothing above."""


# ------------------------------------------------------------------------------------------ steel


def test_flow_stress_inverts_the_law():
    """Against an evaluation made apart; slower pulls find less, carbon softens."""
    stress = flow_stress(list(TABLE), 0.1)
    assert stress / 1e6 == pytest.approx(list(TABLE.values()), abs=0.06)
    assert creep_rate(stress, list(TABLE), 0.1) == pytest.approx(np.full(6, 1e-3), rel=1e-6)
    assert float(flow_stress(1200.0, 0.1, 1e-4)) / 1e6 == pytest.approx(10.1, abs=0.06)
    by_carbon = [float(flow_stress(1200.0, c)) / 1e6 for c in (0.0, 0.1, 0.4, 0.8)]
    assert by_carbon == pytest.approx([19.0, 17.9, 14.6, 10.5], abs=0.06)


def test_austenite_agrees_with_another_law():
    """
    14.4 MPa at 1200 °C and 8.0 at 1400 for 0.1 %C, 5 % strain and 1e-3 per second by the law of Kozlowski et al.
    (1992), as evaluated once from memory: within a quarter.
    """
    assert flow_stress([1200.0, 1400.0], 0.1) / 1e6 == pytest.approx([14.4, 8.0], rel=0.25)


def test_delta_ferrite_by_hand():
    """
    0.1 %C, 1400 °C = 1673.15 K (delta_power_law_1993, from memory): 13678 x 0.1^-0.0556 = 15546, x 5.577^-5.52 =
    1.177; m = 0.3495 - 0.1575 = 0.1920, 51^m = 2.127; 1/n = 0.2705 - 0.0617 = 0.2089, 0.01^(1/n) = 0.3822:
    0.957 MPa. Austenite has 7.8: eight to nine times as much, as is recalled of the two.
    """
    stress = float(delta_stress(1400.0, 0.1, 1e-3))
    assert stress / 1e6 == pytest.approx(0.957, abs=0.003)
    assert 7.5 < float(flow_stress(1400.0, 0.1)) / stress < 9.5
    assert float(delta_stress(1400.0, 0.1, 1e-4)) == pytest.approx(stress * 10**-0.2089, rel=1e-3)


def test_a_mixture_creeps_as_its_parts_under_one_stress():
    """All of one phase is that phase; a tenth of delta ferrite has (0.1 + ...)^(-1/n) = 1.62 of its strength."""
    alone = float(delta_stress(1400.0, 0.1, 1e-3))
    ends = flow_stress(1400.0, 0.1, delta=[0.0, 1.0])
    assert ends == pytest.approx([7.76e6, alone], rel=2e-3)
    assert float(flow_stress(1400.0, 0.1, delta=0.1)) / alone == pytest.approx(0.1**-0.2089, rel=2e-3)
    falling = flow_stress(1400.0, 0.1, delta=np.linspace(0, 1, 21))
    assert np.all(np.diff(falling) < 0)


def test_the_mushy_zone_falls_to_none_at_three_quarters():
    """Half-way between a solid fraction of 1 and 0.75 half is left; below nothing; 700 °C counts as 900."""
    top, half, end, none = flow_stress(1400.0, 0.2, solid_fraction=[1.0, 0.875, 0.75, 0.3])
    assert (half, end, none) == (pytest.approx(0.5 * top), 0.0, 0.0)
    assert float(flow_stress(700.0, 0.2)) == float(flow_stress(900.0, 0.2))


def test_strength_of_a_steel_knows_its_phases():
    """Delta ferrite as a share of the steel: half of what is half solid is all of the solid."""
    t = np.array([900.0, 1390.0, 1400.0, 1450.0, 1500.0])
    solid, delta = np.array([1.0, 1.0, 1.0, 0.9, 0.0]), np.array([0.0, 0.0, 1.0, 0.9, 0.0])
    steel = hot_strength(t, solid, delta, 0.1, 1e-3)
    found = np.interp([1200.0, 1400.0, 1450.0], *steel)
    expected = [17.9e6, float(delta_stress(1400.0, 0.1, 1e-3)), 0.6 * float(delta_stress(1450.0, 0.1, 1e-3))]
    assert found == pytest.approx(expected, rel=3e-3)


# ------------------------------------------------------------------------------------------ shells by hand


def shell(thickness, steel=EVEN, profile=(1000.0, 1450.0), nodes=40):
    """Tension [N/m] and moment [N] of a shell with a straight profile; 1500 °C behind it."""
    depth = np.append(np.linspace(0.0, thickness, nodes), thickness + np.array([1e-9, 0.05]))
    temperature = np.append(np.linspace(*profile, nodes), [1500.0, 1500.0])
    return shell_strength(depth, temperature, steel)


def test_an_even_shell():
    """10 MPa over 10 mm: 100 kN/m, and 10e6 x 0.01^2 / 4 = 250 N."""
    tension, moment = shell(0.010)
    assert (float(tension), float(moment)) == pytest.approx((100e3, 250.0), rel=1e-6)


def test_a_shell_that_weakens_inwards():
    """
    10 MPa at the surface, straight to none at depth d = 12 mm. N = 10e6 d/2 = 60 kN/m. Half of it lies above
    x0 = d (1 - sqrt(1/2)) = 0.29289 d. Int s x = 10e6 d^2/6; below x0 int_0^x0 s x = 10e6 (x0^2/2 - x0^3/(3 d)) =
    10e6 d^2 x 0.034518; M = 10e6 d^2 (1/6 - 2 x 0.034518) = 10e6 d^2 x 0.097631 = 140.6 N.
    """
    steel = HotStrength(np.array([1000.0, 1450.0]), np.array([10e6, 0.0]))
    tension, moment = shell(0.012, steel)
    assert float(tension) == pytest.approx(60e3, rel=1e-6)
    assert float(moment) == pytest.approx(10e6 * 0.012**2 * 0.097631, rel=1e-3)


def test_a_shell_of_two_layers():
    """
    4 mm of 10 MPa and 6 mm of 2 MPa: N = 52 kN/m, half of it at 2.6 mm. M = 10e6 (2.6^2 + 1.4^2)/2 mm2 + 2e6 x 6 mm x
    (7 - 2.6) mm = 43.6 + 52.8 = 96.4 N.
    """
    steel = HotStrength(
        np.array([1000.0, 1200.0, 1200.001, 1450.0, 1450.001]), np.array([10e6, 10e6, 2e6, 2e6, 0.0])
    )
    depth = np.array([0.0, 0.004, 0.0040001, 0.010, 0.0100001, 0.1])
    tension, moment = shell_strength(depth, np.array([1100.0, 1199.0, 1201.0, 1449.0, 1500.0, 1500.0]), steel)
    assert (float(tension), float(moment)) == pytest.approx((52e3, 96.4), rel=2e-3)


def test_strength_does_not_hang_on_the_nodes_or_the_neighbours():
    """A straight profile on 5 and on 100 nodes; several profiles at once as each alone, to the last bit."""
    steel = hot_strength(np.array([900.0, 1457.0, 1500.0]), np.array([1.0, 1.0, 0.0]), np.zeros(3), 0.2, 1e-3)
    coarse, fine = (np.linspace(0, 0.03, n) for n in (5, 100))
    pairs = [shell_strength(x, 1100 + 400 * x / 0.03, steel) for x in (coarse, fine)]
    assert np.array(pairs[0]) == pytest.approx(np.array(pairs[1]), rel=5e-3)
    profiles = np.array([1000 + a * fine for a in (9e3, 12e3, 15e3)])
    together = np.array(shell_strength(fine, profiles, steel))
    alone = np.array([shell_strength(fine, own, steel) for own in profiles]).T
    np.testing.assert_array_equal(together, alone)


def test_a_face_without_shell_carries_nothing():
    """Liquid from the surface on."""
    tension, moment = shell_strength([0.0, 0.1], [1500.0, 1520.0], EVEN)
    assert (float(tension), float(moment)) == (0.0, 0.0)


def test_tension_between_two_faces():
    """1 m of liquid steel presses with 68.65 kPa; over 0.2 m it pulls 6.865 kN/m in each face: 20.6 kN/m are thrice."""
    assert float(tension_safety(20.595e3, 68.65e3, 0.2)) == pytest.approx(3.0)


def test_bending_between_rolls():
    """
    A strip clamped at rolls 0.12 m apart under 55 kPa yields at p l^2/16 = 49.5 N: a shell of 10 mm and 10 MPa,
    250 N, carries 5.05 times that; the first hinge (p l^2/12 = 66 N) forms at 3.79.
    """
    both = bending_safety(250.0, 250.0, 55e3, 0.12)
    assert float(both) == pytest.approx(16 * 250 / (55e3 * 0.0144))
    assert float(both) == pytest.approx(5.05, abs=0.01)


def test_bending_between_corners():
    """150 mm square under 55 kPa: p D^2/8 = 154.7 N held by 250 N in the middle, 0.75^2 x 250 at the corner: 2.53."""
    assert float(bending_safety(0.5625 * 250.0, 250.0, 55e3, 0.15)) == pytest.approx(390.6 / 154.7, abs=0.01)


def test_safety_falls_with_pitch_head_and_temperature_and_grows_with_the_shell():
    """Each by itself, all else being equal."""
    steel = hot_strength(np.array([900.0, 1457.0, 1500.0]), np.array([1.0, 1.0, 0.0]), np.zeros(3), 0.2, 1e-3)
    by_shell = np.array([shell(t, steel, (1100.0, 1490.0)) for t in (0.004, 0.008, 0.012, 0.016)])
    assert np.all(np.diff(by_shell, axis=0) > 0)
    by_heat = np.array([shell(0.01, steel, (t, 1490.0)) for t in (950.0, 1050.0, 1150.0, 1250.0)])
    assert np.all(np.diff(by_heat, axis=0) < 0)
    for spans, pressures in (((0.1, 0.15, 0.2), (50e3,) * 3), ((0.15,) * 3, (40e3, 50e3, 60e3))):
        pairs = list(zip(pressures, spans, strict=True))
        assert np.all(np.diff([bending_safety(100.0, 100.0, *pair) for pair in pairs]) < 0)
        assert np.all(np.diff([tension_safety(1e4, *pair) for pair in pairs]) < 0)


# ----------------------------------------------------------------------------------- the published critical shell

CRITICAL = """
title = "200 mm square, 2.0 s in the mould (invented)"
steel.composition = { C = %s, Si = 0.2, Mn = 0.6, P = 0.015, S = 0.015 }
section = { shape = "rectangle", thickness_mm = 200, width_mm = 200 }
casting = { speed_m_per_min = 12, superheat_K = 30 }
[mould]
length_mm = 500
level_below_top_mm = 100
lubricant = "oil"
mean_heat_flux_MW_per_m2 = %s
peak_heat_flux_MW_per_m2 = %s
[[zone]]
name = "spray"
end_m = 1.0
water_L_per_min = 50
[machine]
support_end_m = 5
cutoff_m = 10
"""


PEAK = {0.10: 6.5}
"""
Local flux below the meniscus [MW/m2], 5 as in the first second of the relation that gives the mean (li_thomas_2004,
from memory); a peritectic steel has 0.77 of its peak at this age, so that 6.5 leaves it the same 5.
"""


def critical(carbon):
    """
    The strand after 2.0 s in the mould, its limits, and the same with the 0.7 m of head that belong to 21 m/min, which
    no case file accepts.
    """
    flux = float(handbook_mean_flux(2.0, relation="li_thomas_2004")) / 1e6
    strand = Results.of(
        solve(parse_case(CRITICAL % (carbon, round(flux, 2), PEAK.get(carbon, 5.0)), "critical.toml"))
    )
    return strand, limits_of(strand), replace(strand, working_length=0.7)


@pytest.mark.parametrize("carbon", [0.05, 0.10, 0.15, 0.20, 0.30, 0.45, 0.70])
def test_published_critical_shell_reads_one(carbon):
    """
    About 3 mm of shell is just too thin in a mould of 800 mm (700 working) for a 200 mm square, over 21 m/min: dwell
    2.0 s (li_thomas_2000, abstract seen). The check reads 0.7 to 1.5. The rate of the pull was fitted to this, one
    number for all steels.
    """
    strand, limits, below = critical(carbon)
    assert 1e3 * strand.exit_shells[0, 0, strand.fraction_index(0.3)] == pytest.approx(3.0, abs=0.4)
    assert 0.7 <= hot_strength_check(below, limits["hot_strength"]).value[0] <= 1.5


def test_faces_bulge_long_before_the_shell_tears():
    """
    Billets are bounded by bulging below the mould, not by a torn shell (li_thomas_2002, abstract seen): the critical
    shell carries less than a tenth of the head by bending.
    """
    _, limits, below = critical(0.20)
    assert face_strength(below, limits["face_strength"]).value[0] < 0.1


def test_rates_of_pull():
    """A slower pull finds less strength; tension is asked at the slower of the two."""
    assert TENSION_RATE < BENDING_RATE
    assert float(flow_stress(1200.0, 0.2, TENSION_RATE)) < float(flow_stress(1200.0, 0.2, BENDING_RATE))


# ------------------------------------------------------------------------------------------ whole strands


def strand_of(section, zone=""):
    """An invented strand of 0.2 %C at 1.2 m/min."""
    text = CRITICAL % (0.2, 1.6, 4.0)
    text = text.replace('shape = "rectangle", thickness_mm = 200, width_mm = 200', section)
    text = text.replace("speed_m_per_min = 12", "speed_m_per_min = 1.2").replace(
        "length_mm = 500", "length_mm = 900"
    )
    text = text.replace("water_L_per_min = 50", f"water_L_per_min = 50\n{zone}")
    return Results.of(solve(parse_case(text, "faces.toml")))


def faces(section, zone=""):
    """The two strength checks of an invented strand."""
    found = judged(strand_of(section, zone))[0]
    return {f.name: f for f in found.findings if f.name in ("hot_strength", "face_strength")}


def test_a_round_has_its_hoop_tension_alone():
    """No face, no bending; 0.75 of what the mean shell carries, over p D/2 of 0.8 m of steel."""
    strand = strand_of('shape = "round", diameter_mm = 200')
    found = {f.name: f for f in judged(strand)[0].findings}
    assert "face_strength" not in found
    s = strand.steel
    hot = hot_strength(s.temperature, s.solid_fraction, s.phases["delta"], 0.2, TENSION_RATE)
    tension, _ = shell_strength(strand.depth, strand.exit_temperature[0], hot)
    expected = 0.75 * float(tension) / (0.5 * 9.80665 * 7000 * 0.8 * 0.2)
    assert found["hot_strength"].value == pytest.approx(expected, rel=1e-9)
    square = faces('shape = "rectangle", thickness_mm = 200, width_mm = 200')
    assert square["face_strength"].where.endswith("face of 200 mm, between its corners")


def test_the_wider_face_of_a_bloom_bends_first():
    """Twice the width of the same thickness carries by bending about a quarter, by tension half."""
    square, flat = (faces(f'shape = "rectangle", thickness_mm = 200, width_mm = {w}') for w in (200, 400))
    assert flat["face_strength"].value == pytest.approx(square["face_strength"].value / 4, rel=0.1)
    assert flat["hot_strength"].value == pytest.approx(square["hot_strength"].value / 2, rel=0.1)


def test_foot_rolls_carry_the_wide_face_of_a_slab():
    """Close rolls leave the narrow face as the weaker; wide ones the wide face, with the square of the pitch."""
    slab = 'shape = "slab", thickness_mm = 200, width_mm = 1500'
    close, wide, wider, none = (
        faces(slab, zone=zone)["face_strength"]
        for zone in ("roll_pitch_m = 0.12", "roll_pitch_m = 0.4", "roll_pitch_m = 0.5", "")
    )
    assert close.where.endswith("narrow face, in tension")
    assert wide.where.endswith("wide face, between the foot rolls")
    assert wide.value / wider.value == pytest.approx(1.25**2, rel=1e-6)
    assert none.value == close.value
    assert "no roll_pitch_m in the first zone, no support known" in none.note


def test_rolls_help_a_bloom_that_has_them():
    """A face carries the shorter way: close rolls raise what the corners alone hold, wide ones change nothing."""
    bloom = 'shape = "rectangle", thickness_mm = 300, width_mm = 400'
    zones = ("", "roll_pitch_m = 0.2", "roll_pitch_m = 1.2")
    bare, close, wide = (faces(bloom, zone=zone)["face_strength"].value for zone in zones)
    assert close > 2 * bare
    assert wide == bare
