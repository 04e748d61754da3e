"""Margins: what inputs, grid and section treatment do to each finding, by hand, against many strands, at the edges."""

import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm, qmc

from solidify.assessment import error_bands as room
from solidify.assessment.bands import PARTS, Band, Effect
from solidify.assessment.error_bands import error_bands
from solidify.assessment.judge import judge, judged
from solidify.assessment.shifted import INPUTS, coarse, error_range, input_errors, with_errors
from solidify.case import demo_case, parse_case
from solidify.report.uncertainty import errors_text, uncertainty_lines, uncertainty_rows
from solidify.sources import load_data, sources
from solidify.storage.result_file import load_judgement, save
from solidify.strand.setup import case_steel, shape_notices
from solidify.strand.solve import solve, solve_stacked

NONE = {"liquid_conductivity_times": 1.0}
"""What counts as exactly known, where it is not 0."""


def sure(**own):
    """Changes that leave no error but those named."""
    keys = type(demo_case().uncertainty).model_fields
    return {f"uncertainty.{key}": own.get(key, NONE.get(key, 0.0)) for key in keys}


def band_of(value, pairs, errors):
    """The band of inputs alone."""
    moves = room._moves(value, pairs, errors, demo_case())
    return room._band(value, moves, seen=[v for pair in pairs.values() for v in pair])


def demo(name, **changes):
    return demo_case(name).replace(changes) if changes else demo_case(name)


@pytest.fixture(scope="module")
def bloom():
    """The demo bloom, its strand, and the bands of its findings."""
    case = demo("bloom")
    result = solve(case)
    return case, result, error_bands(case, result)


# ------------------------------------------------------------------------------------- the combination


def test_the_band_by_hand():
    """Rises of 3 and 4, falls of 1 and 0 (the second input can only raise it): 10 - 1 to 10 + 5."""
    pairs = {"superheat": (9.0, 13.0), "casting speed": (14.0, 12.0)}
    errors = {"superheat": (3.0, -3.0), "casting speed": (1.5, -1.5)}
    band = band_of(10.0, pairs, errors)
    assert (band.low, band.high) == pytest.approx((9.0, 15.0))
    first, second = band.effects
    assert (first.input, first.change, first.share) == ("superheat", pytest.approx(-2.0), pytest.approx(0.5))
    assert (second.input, second.change) == ("casting speed", pytest.approx(1.0))
    assert first.per(-10.0) == pytest.approx(20.0 / 3.0)


def test_shares_add_up_and_the_largest_is_first():
    """Spreads of 6 and 8: 36 % and 64 % of the variance."""
    pairs = {"superheat": (13.0, 7.0), "casting speed": (6.0, 14.0)}
    errors = {name: (1.0, -1.0) for name in pairs}
    effects = band_of(10.0, pairs, errors).effects
    assert [(e.input, round(e.share, 6)) for e in effects] == [("casting speed", 0.64), ("superheat", 0.36)]


def test_an_input_held_at_an_edge_keeps_its_slope():
    """3 K more adds 6, but only 1 K less can be, which takes 2: a slope of 2 a kelvin, 6 for one deviation."""
    band = band_of(10.0, {"superheat": (16.0, 8.0)}, {"superheat": (3.0, -1.0)})
    assert band.effects[0].change == pytest.approx(6.0)
    assert (band.low, band.high) == (8.0, 16.0)


def test_what_nothing_moves_has_no_band():
    """Round-off is no movement, and what is not known has no band."""
    errors = {"superheat": (3.0, -3.0)}
    assert band_of(1000.0, {"superheat": (1000.0 + 1e-6, 1000.0)}, errors) is None
    assert band_of(math.nan, {"superheat": (1.0, 2.0)}, errors) is None
    assert band_of(math.inf, {"superheat": (math.inf, math.inf)}, errors) is None


def test_a_strand_that_may_not_freeze_in_time_has_an_open_band():
    """Never with more heat in it: no upper end; that input has the whole share. Never as it is: the best case."""
    errors = {"superheat": (3.0, -3.0), "casting speed": (1.5, -1.5)}
    band = band_of(88.0, {"superheat": (math.inf, 87.0), "casting speed": (89.0, 87.0)}, errors)
    assert band.low == pytest.approx(88.0 - math.sqrt(2.0))
    assert band.high == math.inf
    assert [e.share for e in band.effects] == [1.0, 0.0]
    assert band_of(math.inf, {"superheat": (math.inf, 97.0)}, errors) == Band(97.0, math.inf)


def test_an_effect_is_a_straight_line():
    """-0.12 mm for 3 K: 10 K less superheat give 0.4 mm more."""
    assert Effect("superheat", 3.0, "K", -0.12, 0.1).per(-10.0) == pytest.approx(0.4)


# --------------------------------------------------------------------------------------- shifted cases


def test_superheat_goes_with_either_key():
    """The tundish temperature moves where it is given."""
    assert with_errors(demo("bloom"), {"superheat": 3.0}).casting.superheat_K == 31.0
    hot = demo("bloom", **{"casting.superheat_K": None, "casting.tundish_temperature_C": 1522.0})
    assert with_errors(hot, {"superheat": -3.0}).casting.tundish_temperature_C == 1519.0


def test_superheat_never_freezes_the_meniscus():
    """2 K over the liquidus at the meniscus can only be 2 K less, and the strand still marches."""
    cold = demo("bloom", **{"casting.superheat_K": 6.0, "casting.meniscus_drop_K": 4.0})
    assert with_errors(cold, {"superheat": -3.0}).casting.superheat_K == pytest.approx(4.0)
    band = error_bands(cold)["superheat_window"]
    wanted = (
        6.0 - math.hypot(2.0, 2.0),
        6.0 + math.hypot(3.0, 2.5),
    )  # nor can the liquidus be more than 2 K higher
    assert (band.low, band.high) == pytest.approx(wanted)


def test_a_higher_liquidus_lies_nearer_to_the_tundish():
    """2.5 K higher: the freezing range moves, the tundish stays as hot as it is, 28 K become 25.5 K."""
    for changes in ({}, {"casting.superheat_K": None, "casting.tundish_temperature_C": 1522.0}):
        case = demo("bloom", **changes)
        before, after = solve(case), solve(with_errors(case, {"liquidus": 2.5}))
        assert after.steel.liquidus == pytest.approx(before.steel.liquidus + 2.5)
        assert after.steel.solidus == pytest.approx(before.steel.solidus + 2.5)
        assert after.tundish_temperature == pytest.approx(before.tundish_temperature)
        assert after.superheat == pytest.approx(before.superheat - 2.5)


def test_surfaces_move_in_every_zone():
    """A zone with its own emissivity or view factor moves from there; neither passes 1."""
    key = 'zone."spray 2"'
    case = demo("bloom", **{f"{key}.emissivity": 0.95, f"{key}.view_factor": 0.7})
    seen = [with_errors(case, {"emissivity": e, "view factor": e}) for e in (0.1, -0.1)]
    assert [(c.cooling.emissivity, c.cooling.view_factor) for c in seen] == [
        (pytest.approx(0.9), 1.0),
        (pytest.approx(0.7), pytest.approx(0.9)),
    ]
    zones = [c.cooling_in(c.zone[2]) for c in seen]
    assert [(z.emissivity, z.view_factor) for z in zones] == [
        (1.0, pytest.approx(0.8)),
        (pytest.approx(0.85), pytest.approx(0.6)),
    ]
    assert seen[0].zone[1].emissivity is None, "what is common stays common"


def test_an_emissivity_by_relation_moves_by_as_much():
    """0.77 at 1000 degC by the relation: 0.1 less takes 13 % of the radiation."""
    case = demo("bloom", **{"cooling.emissivity": None, "cooling.emissivity_relation": "touloukian"})
    less = with_errors(case, {"emissivity": -0.1})
    assert less.cooling.view_factor == pytest.approx(1.0 - 0.1 / 0.771, abs=1e-3)
    number, by_relation = (error_bands(c)["straightener_surface"] for c in (demo("bloom"), case))
    changes = [next(e.change for e in b.effects if e.input == "emissivity") for b in (number, by_relation)]
    assert changes[1] == pytest.approx(changes[0], rel=0.15)


def test_conductivity_and_stirring_go_into_the_steel():
    """10 % more in the solid, none in the liquid; stirring doubles and halves, never below a liquid at rest."""
    case = demo("bloom")
    before, after = (case_steel(c) for c in (case, with_errors(case, {"conductivity of the solid": 10.0})))
    ratio = after.conductivity / before.conductivity
    assert ratio[0] == pytest.approx(1.1)
    assert ratio[-1] == pytest.approx(1.0)
    assert np.interp(before.solidus + 1e-3, before.temperature, ratio) > 1.05
    factors = [
        with_errors(case, {"stirring of the pool": e}).steel for e in (math.log(2), -math.log(2), -9.0)
    ]
    assert [f.liquid_conductivity_factor for f in factors] == pytest.approx([10.0, 2.5, 1.0])


@pytest.mark.parametrize(
    ("given", "key", "value"),
    [
        ({"roll_contact_W_per_m2K": 40.0}, "roll_contact_W_per_m2K", 60.0),
        ({"roll_contact_share": 0.1}, "roll_contact_share", 1.0 / 7.0),  # a ninth becomes a sixth of the rest
    ],
)
def test_rolls_take_half_as_much_again(given, key, value):
    case = demo("bloom", **{f"cooling.{name}": v for name, v in given.items()})
    assert getattr(with_errors(case, {"roll contact": 50.0}).cooling, key) == pytest.approx(value)
    assert "roll contact" in error_range(case)
    assert "roll contact" not in error_range(demo("bloom")), "a case without rolls has no error of them"


def test_the_coarse_grid_has_twice_the_spacing():
    fewer, longer = coarse(demo("bloom"))
    assert (fewer.steps.nodes - 1) * 2 in (57, 58)
    assert (fewer.steps.tolerance, longer.steps.tolerance, longer.steps.nodes) == (1.0, 8.0, None)


def test_flux_and_spray_go_by_their_factors():
    """All zones alike; a whole flux of a zone goes with the spray."""
    case = demo(
        "bloom", **{'zone."spray 3".water_L_per_min': None, 'zone."spray 3".heat_flux_kW_per_m2': 200.0}
    )
    shifted = with_errors(case, {"mould heat flux": 10.0, "spray heat transfer": -20.0})
    assert shifted.mould.heat_flux_factor == pytest.approx(1.1)
    assert [z.spray_factor for z in shifted.zone[:3]] == pytest.approx([0.8] * 3)
    assert shifted.zone[3].heat_flux_kW_per_m2 == pytest.approx(160.0)
    assert shifted.zone[0].water_L_per_min == case.zone[0].water_L_per_min


def test_speed_takes_its_measurement_along_and_leaves_the_valves():
    """A tacho 2 % low was so when the flux was measured; valves set by the tacho stay where it put them."""
    table = ((0.5, 30.0), (1.0, 80.0))
    key = 'zone."spray 1"'
    case = demo("bloom", **{f"{key}.water_L_per_min": None, f"{key}.water_at_speed": table})
    shifted = with_errors(case, {"casting speed": 2.0})
    assert shifted.casting.speed_m_per_min == pytest.approx(0.765)
    assert shifted.mould.measured_at_speed_m_per_min == pytest.approx(0.765)
    assert shifted.zone[1].water_at_speed is None
    assert shifted.zone[1].water_L_per_min == pytest.approx(55.0)
    mean = solve(shifted).mould.mean_flux
    assert mean == pytest.approx(solve(case).mould.mean_flux), "the mean was measured, whatever the speed"


def test_valves_of_loops_stay_too():
    keys = {f'zone."spray 1".water_{side}_at_speed': [[0.5, 20], [1.0, 40]] for side in ("loose", "fixed")}
    shifted = with_errors(
        demo("bloom", **{'zone."spray 1".water_L_per_min': None} | keys), {"casting speed": 2.0}
    )
    assert shifted.zone[1].water_loose_at_speed is None
    assert shifted.zone[1].water_loose_L_per_min == shifted.zone[1].water_fixed_L_per_min == 30.0


def test_a_zone_with_any_name_is_found():
    """Quotes, dots and backslashes in a name."""
    text = demo("bloom").text.replace('"spray 1"', r'"a.b \"c\" \\ d"')
    assert with_errors(parse_case(text), {"spray heat transfer": 20.0}).zone[1].spray_factor == 1.2


def test_the_edge_of_a_range_is_no_edge_of_an_error():
    """A factor at the end of what the case file takes may truly be more, and the strand marches."""
    case = demo("bloom", **{"mould.heat_flux_factor": 1.0, "casting.speed_m_per_min": 0.75})
    assert with_errors(case, {"mould heat flux": -150.0}).mould.heat_flux_factor > 0
    assert with_errors(case, {"spray heat transfer": -150.0}).zone[0].spray_factor == 0.0


def test_every_input_error_of_the_case_counts():
    """Each key under [uncertainty] is an input or one of the section treatment, and none is forgotten."""
    case = demo("slab")
    keys = {key for key, _ in INPUTS.values()}
    assert {k for k in type(case.uncertainty).model_fields if not k.startswith("section_")} == keys
    assert set(error_range(case)) == set(INPUTS)


# ----------------------------------------------------------------------------------------- whole strands


def test_bands_that_follow_from_the_inputs_alone(bloom):
    """28 ± 3.9 K (3 and 2.5); 1.30 ± 0.13 MW/m²; 48 s over 1.015 and 0.985; water per steel goes with the speed."""
    _, _, bands = bloom
    assert bands["superheat_window"][:2] == pytest.approx(
        (28.0 - math.hypot(3, 2.5), 28.0 + math.hypot(3, 2.5))
    )
    assert bands["mould_flux_window"][:2] == pytest.approx((1.17, 1.43))
    assert bands["dwell"][:2] == pytest.approx((48.0 / 1.015, 48.0 / 0.985))
    effect = bands["specific_water"].effects[0]
    assert effect.share > 0.999
    assert (effect.input, effect.error, effect.unit) == ("casting speed", 1.5, "%")
    assert "strain_surface" not in bands, "the machine is bent as it is"


def test_signs_are_those_of_casting(bloom):
    """More superheat and speed thin the shell, more flux thickens it; more spray cools and shortens."""
    _, _, bands = bloom
    shell = {e.input: e.change for e in bands["shell_floor"].effects}
    assert shell["superheat"] < 0
    assert shell["casting speed"] < 0 < shell["mould heat flux"]
    assert "spray heat transfer" not in shell, "no spray acts in the mould"
    for name in ("last_liquid_support", "straightener_surface"):
        change = {e.input: e.change for e in bands[name].effects}
        assert change["spray heat transfer"] < 0 < change["casting speed"]
        assert change["superheat"] > 0


def test_the_strand_given_is_the_strand_marched(bloom):
    """With and without the result at hand: the same bands, bit for bit."""
    case, _, bands = bloom
    assert error_bands(case) == bands


SMOOTH = ("shell_floor", "strength_floor", "last_liquid_support", "last_liquid_cutoff", "dwell")
SMOOTH += ("straightener_surface", "mould_flux_window", "superheat_window", "surface_ceiling", "cooling_rate")
"""Findings that follow their inputs without a kink; those that are the largest of several places do not."""


@pytest.mark.parametrize(
    ("name", "draws"),
    [
        ("bloom", 256),
        ("slab", 256),
        pytest.param("bloom", 4096, marks=pytest.mark.full),
    ],
)
def test_bands_agree_with_a_monte_carlo(name, draws):
    """Normal errors of all inputs at once, evenly spread (JCGM 101:2008 propagates distributions so; from memory):
    half of what lies between the 16th and the 84th in a hundred is the input part of the band within 10 %, and so is
    the standard deviation.
    """
    case = demo(name, **{"cooling.view_factor": 0.8})
    own = error_bands(case)
    errors = error_range(case)
    drawn = norm.ppf(np.clip(qmc.Sobol(len(errors), seed=3).random(draws), 1e-9, 1 - 1e-9))
    values = {finding: [] for finding in SMOOTH}
    for first in range(0, draws, 128):
        rows = drawn[first : first + 128]
        cases = [
            with_errors(case, {n: z * errors[n][0] for n, z in zip(errors, row, strict=True)}) for row in rows
        ]
        groups, wrong = solve_stacked(cases, sections=False)
        assert not wrong
        for group in groups:
            judgements = judged(group.results)
            for i in range(len(group.places)):
                found = judgements.values(i)
                for finding, seen in values.items():
                    seen.append(found[finding])
    for finding, seen in values.items():
        if not np.isfinite(seen).all():
            continue  # a few of the slab's strands do not freeze before the cut-off
        band = own[finding]
        share = math.fsum(e.share for e in band.effects if e.part == "input")
        half = 0.5 * (band.high - band.low) * math.sqrt(share)
        low, high = np.percentile(seen, [15.87, 84.13])
        assert half == pytest.approx(0.5 * (high - low), rel=0.10), finding
        assert half == pytest.approx(np.std(seen), rel=0.10), finding


def test_the_demo_bloom_covers_a_wrong_emissivity(bloom):
    """0.7 in place of 0.8 moves the surface at the straightener by some 30 K: inside the 95 % that is printed, and
    far outside the 12 K that were printed while emissivity, view factor and conductivity were left out.
    """
    _, result, bands = bloom
    finding = judge(result, bands)["straightener_surface"]
    other = judge(solve(demo("bloom", **{"cooling.emissivity": 0.7})))["straightener_surface"]
    assert 20.0 < other.value - finding.value < 40.0
    low, high = map(float, finding.interval_95_text.split(" to "))
    assert low < other.value < high
    assert (low, high) == pytest.approx(finding.interval_95, abs=0.51)


def test_parts_and_shares_add_up(bloom):
    """Shares of all effects to 1, parts to the whole in squares; grid and section are told apart from the inputs."""
    _, result, bands = bloom
    for finding in judge(result, bands).findings:
        if not finding.effects:
            continue
        assert math.fsum(e.share for e in finding.effects) == pytest.approx(1.0), finding.name
        assert math.fsum(finding.shares.values()) == pytest.approx(1.0), finding.name
        whole = math.hypot(*finding.parts.values())
        assert whole == pytest.approx(0.5 * (finding.high - finding.low)), finding.name
    surface = {e.input: e for e in bands["straightener_surface"].effects}
    assert surface["section treatment"].part == "model"
    assert surface["grid and time step"].part == "numerical"
    assert surface["section treatment"].change == pytest.approx((18 + 14) / math.sqrt(12), abs=0.01)
    assert [e.part for e in bands["mould_flux_window"].effects] == ["input"], (
        "no model or grid gives a flux read"
    )


def test_the_section_treatment_is_that_of_the_shape(bloom):
    """Of a rectangle what is printed; none of a slab or a round; one's own number where it is given."""
    case, _, bands = bloom
    told = str(shape_notices(case)[0])
    treatment = load_data("uncertainty.toml")["treatment"]["rectangle"][0]
    (low, high), shell, surface = (treatment[k] for k in ("length_percent", "shell_percent", "surface_K"))
    for text in (
        f"{low:g} to {high:+g} %",
        "{:g} to {:+g} %".format(*shell),
        "{:g} to {:+g} K".format(*surface),
    ):
        assert text in told, "the band counts what the notice prints"
    support = next(e for e in bands["last_liquid_support"].effects if e.part == "model")
    assert support.change == pytest.approx(
        0.01 * round((high - low) / math.sqrt(12), 2) * judge(bloom[1])["last_liquid_support"].value, rel=1e-3
    )
    assert demo("slab").uncertainty.section_surface_K == 0.0
    own = demo("bloom", **{"uncertainty.section_surface_K": 8.0, "uncertainty.section_length_percent": 0.0})
    found = error_bands(own)
    assert next(e.change for e in found["straightener_surface"].effects if e.part == "model") == 8.0
    assert not [e for e in found["last_liquid_support"].effects if e.part == "model"]


def test_errors_follow_what_the_case_knows():
    """Flux from the panel 10 %, from the handbook 25 %; a relation as it stands 40 %, calibrated zones 20 %."""
    case = demo("bloom")
    assert (case.uncertainty.heat_flux_percent, case.uncertainty.spray_percent) == (10.0, 40.0)
    none = {"mould.mean_heat_flux_MW_per_m2": None, "mould.expected_mean_heat_flux_MW_per_m2": None}
    assert case.replace(none).uncertainty.heat_flux_percent == 25.0
    factors = {f'zone."{zone.name}".spray_factor': 1.1 for zone in case.zone}
    assert case.replace(factors).uncertainty.spray_percent == 20.0
    assert case.replace(dict(list(factors.items())[:2])).uncertainty.spray_percent == 40.0
    own = case.replace(none | {"uncertainty.heat_flux_percent": 12.0})
    assert own.uncertainty.heat_flux_percent == 12.0
    assert parse_case(own.effective_toml()) == own


def test_the_grid_is_estimated_from_a_coarser_one(bloom):
    """Three standard deviations cover what a far finer grid finds, for every smooth finding, and are no excuse."""
    case, result, bands = bloom
    fine = judge(solve(case.replace({"steps.nodes": 153, "steps.tolerance": 0.02})))
    found = judge(result, bands)
    for name in SMOOTH[:6]:
        off, sure = abs(fine[name].value - found[name].value), found[name].parts["numerical"]
        assert off <= 3.0 * sure + 1e-9, name
        assert sure < 0.02 * (found[name].high - found[name].low), name


def test_numbers_have_a_source_and_stand_in_the_page_of_the_docs():
    """docs/uncertainty.md shows each default with its key, unit and grade, and nothing else."""
    page = (Path(__file__).parents[2] / "docs" / "uncertainty.md").read_text(encoding="utf-8")
    for name, row in load_data("uncertainty.toml")["input"].items():
        assert row["source"] in sources()
        unit = {"x": "×/÷", "1": ""}.get(row["unit"], row["unit"])
        value = f"{row['value']:g}" + (f" / {row['without']:g}" if "without" in row else "")
        value = f"×/÷ {value}" if row["unit"] == "x" else f"{value} {unit}".strip()
        assert f"| {name} | `{row['key']}` | {value} | {row['evidence']} |" in page, name


def test_results_hold_the_parts(tmp_path, bloom):
    """Read back, every effect says where it comes from."""
    _, result, bands = bloom
    judgement = judge(result, bands)
    save(result, tmp_path / "a.h5", judgement)
    read = load_judgement(tmp_path / "a.h5")
    assert [f.effects for f in read.findings] == [f.effects for f in judgement.findings]
    assert {e.part for f in read.findings for e in f.effects} == set(PARTS)


def test_sheets_say_the_parts(bloom):
    """The terminal shows hard limits within 100 characters, the page all of them; both with shares."""
    _, result, bands = bloom
    judgement = judge(result, bands)
    lines = uncertainty_lines(judgement, 100)
    assert max(map(len, lines)) <= 100
    surface = next(line for line in lines if line.startswith("surface at the straightener"))
    assert surface.count("%") == 3
    assert judgement["straightener_surface"].interval_95_text in surface
    head, rows, _ = uncertainty_rows(judgement)
    assert len(rows) == sum(bool(f.effects) for f in judgement.findings if f.judged)
    assert {len(row) for row in rows} == {len(head)}
    assert set(PARTS) < set(head)
    assert uncertainty_lines(judge(result), 100) == []
    text = errors_text(judgement.findings)
    assert "stirring of the pool ×/÷ 2" in text
    assert text.endswith("section treatment and grid and time step") or text.endswith(
        "grid and time step and section treatment"
    )
    assert errors_text([judge(result, {"dwell": (40.0, 50.0)})["dwell"]]) == "error band: as given"
    assert [e.text for e in input_errors(demo("bloom"))][:2] == ["superheat 3 K", "liquidus 2.5 K"]


def test_no_errors_no_bands_but_those_of_the_grid():
    """A plant that knows its inputs exactly: nothing but the grid moves a value."""
    bands = error_bands(demo("billet", **sure()))
    assert {e.part for band in bands.values() for e in band.effects} == {"numerical"}
    assert bands["shell_floor"].high - bands["shell_floor"].low < 0.1


def test_a_band_over_the_limit_reads_close(bloom):
    """Mean flux 1.17 to 1.43 against 1.4: close, though 0.10 MW/m² is more than the 5 % that count without a
    band; and a met limit that the band does not reach is kept.
    """
    _, result, bands = bloom
    assert judge(result)["mould_flux_window"].verdict == "kept"
    judged = judge(result, bands)
    finding = judged["mould_flux_window"]
    assert (finding.verdict, finding.band_text) == ("close", "1.17 to 1.43")
    assert finding.effects_text == "mould heat flux 100 %"
    for f in judged.findings:
        if f.banded and f.verdict != "breached" and f.sense != "outside":
            assert (f.verdict == "close") == (f.low < f.lower or f.high > f.upper), f.name


def test_the_least_room_is_ranked_without_the_band(bloom):
    """A badly known value is not nearer to its limit: the same limits bind with bands and without."""
    _, result, bands = bloom
    bare, judged = judge(result), judge(result, bands)
    assert judged.binding.name == bare.binding.name
    assert judged.binding_soft.name == bare.binding_soft.name
    wide = {name: Band(-1e9, 1e9) for name in bands}
    assert [f.widths_of_room for f in judge(result, wide).findings] == [
        f.widths_of_room for f in bare.findings
    ]


@pytest.mark.parametrize(
    "name", ["bloom", *(pytest.param(name, marks=pytest.mark.full) for name in ("billet", "slab"))]
)
def test_findings_and_bands_hold_on_a_finer_grid(name):
    """Half the node distance, a tenth of the tolerance, half the output step: every value stays within a tenth
    of its band, every end of a band within a tenth of its width.
    """
    case = demo(name)
    fine = case.replace({"steps.nodes": 119, "steps.tolerance": 0.1, "steps.output_step_m": 0.01})
    coarse, finer = (judge(solve(c), error_bands(c)) for c in (case, fine))
    banded = [f for f in coarse.findings if f.banded and math.isfinite(f.high - f.low)]
    assert len(banded) >= 10
    for f in banded:
        other, width = finer[f.name], 0.1 * (f.high - f.low)
        assert other.value == pytest.approx(f.value, abs=width), f.name
        assert (other.low, other.high) == pytest.approx((f.low, f.high), abs=width), f.name


def test_the_demo_bloom_states_its_errors():
    """The case file need not: the defaults of the reference hold."""
    text = tomllib.loads(demo("bloom").effective_toml())["uncertainty"]
    rows = load_data("uncertainty.toml")["input"].values()
    told = {row["key"]: row["value"] for row in rows} | {"spray_percent": 40.0}
    assert {key: value for key, value in text.items() if not key.startswith("section_")} == told
