"""The printed summary: its blocks in order, its figures, its words, and that it survives a pipe."""

import math
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from solidify.assessment.bands import Band, Effect
from solidify.assessment.judge import judge
from solidify.errors import Notice
from solidify.report.strand_text import cautions, charge_text, summary_text
from solidify.sources import source
from solidify.strand.result import MECHANISMS, Balance, MouldResult, Result, ZoneResult


def zone(name, kind, start, end, water, flux, heat, surface_in, surface_out):
    one = np.ones(1)
    return ZoneResult(
        name,
        kind,
        start,
        end,
        water / 60,
        math.nan * one,
        flux * 1e3 * one,
        heat * one,
        surface_in * one,
        surface_out * one,
    )


def strand():
    """A bloom of invented numbers."""
    distance = np.linspace(0, 25, 501)
    shell = np.minimum(17e-3 * np.sqrt(distance / 0.6), 0.125)
    surface = np.interp(distance, [0, 0.6, 0.9, 25], [1523.0, 1060.0, 1010.0, 900.0])
    heat = np.zeros((1, 4, len(MECHANISMS)))
    heat[0, 0, MECHANISMS.index("mould")] = 25.0
    heat[0, 1:, MECHANISMS.index("water")] = [7.0, 20.0, 18.0]
    heat[0, 1:, MECHANISMS.index("radiation")] = [3.0, 5.0, 22.0]
    case = SimpleNamespace(
        title="Bloom 250 x 300 (invented plant)",
        section=SimpleNamespace(shape="rectangle", product=None),
        casting=SimpleNamespace(speed_m_per_min=0.75),
        mould=SimpleNamespace(lubricant="powder"),
        straightener=(15.5, 17.0),
        support_end=22.0,
        cutoff=25.0,
        limits={},
        zone=(SimpleNamespace(roll_pitch_m=None),) * 2,
        machine=SimpleNamespace(radius_m=None, radius_after_m=None, roll_gap_tolerance_mm=0.5),
        vertical_length=0.0,
        speed=0.0125,
        working_length=0.6,
    )
    steel = SimpleNamespace(
        steel_class="medium carbon",
        composition={"C": 0.45},
        liquidus=1494.6,
        solidus=1436.1,
        temperatures={"zero strength": 1460.0},
        temperature=np.array([20.0, 1459.9, 1460.0, 1620.0]),
        enthalpy=np.array([0.0, 1.36e6 * 1439.9 / 1600, 1.36e6 * 0.9, 1.36e6]),
        solid_fraction=np.array([1.0, 1.0, 0.0, 0.0]),
        phases={"delta": np.zeros(4)},
        carbon_equivalent=0.45,
        march_density=7400.0,
        sources=("li_thomas_2000",),
        notices=(),
    )
    return Result(
        case=case,
        steel=steel,
        shape_treatment="rectangle, mid-face",
        sides=("both",),
        solid_fractions=np.array([0.3, 0.7, 1.0]),
        distance=distance,
        time=distance * 80,
        surface_temperature=surface[None],
        shell_thickness=np.stack([shell * 1.2, shell, shell * 0.9])[None],
        equivalent_shell=shell[None],
        centre_temperature=surface,
        centre_solid_fraction=np.interp(distance, [9, 13.84], [0, 1]),
        heat_flux=surface[None],
        heat_transfer_coefficient=surface[None],
        section_distance=np.array([0.0, 0.6, 25.0]),
        depth=np.linspace(0, 0.125, 51),
        section_temperature=np.tile(np.linspace(1060.0, 3560.0, 51).clip(max=1520.0), (3, 1)),
        section_solid_fraction=np.zeros((3, 51)),
        zones=(
            zone("mould", "mould", 0, 0.6, 0, 1390, 25.0, 1523, 1060),
            zone("foot rolls", "zone", 0.6, 0.9, 50, 520, 10.0, 1060, 1010),
            zone("spray 1", "zone", 0.9, 2.6, 90, 290, 25.0, 1010, 1000),
            zone("after the last zone", "open", 2.6, 25, 0, 75, 40.0, 1000, 900),
        ),
        mould=MouldResult(1.3e6, 5e5, "mean flux", "a law", 48.0, 0.6),
        pouring_temperature=1523.0,
        tundish_temperature=1523.0,
        superheat=28.0,
        half_thickness=0.125,
        thickness=0.25,
        width=0.30,
        balance=Balance(heat, 1e-13, 2e-6, 3e-7),
        summary={
            "metallurgical_length": 13.84,
            "solidification_time": 1107.2,
            "k_mould_exit": 19.0,
            "k_whole_machine": 29.1,
            "specific_water": 0.5,
            "throughput": 6.9,
            "centre_solid_fraction_at_straightener_in": 1.0,
        },
    )


def text_of(result=None, columns=100, **changes):
    result = replace(result or strand(), **changes)
    return summary_text(result, judge(result), columns)


def line_of(text, start):
    return next(line for line in text.splitlines() if " ".join(line.split()).startswith(start))


def test_blocks_stand_in_order():
    """Title, strand, zones, solidification, findings, breakout risk, cautions."""
    text = text_of()
    marks = ["Bloom 250", "Steel", "zone ", "End of solidification", "verdict", "Breakout risk", "Cautions"]
    places = [re.search(f"^{m}", text, re.M).start() for m in marks]
    assert places == sorted(places)


@pytest.mark.parametrize("width", [100, 120])
def test_lines_fit_and_survive_a_pipe(width):
    """No line is longer than the width, none has trailing blanks, tabs or control characters."""
    for line in text_of(columns=width).splitlines():
        assert len(line) <= width
        assert line == line.rstrip()
        assert line.isprintable()


def test_head_names_treatment_sizes_speed_and_worst_verdict():
    """What was computed, in one glance."""
    lines = text_of().splitlines()
    assert lines[0] == "Bloom 250 x 300 (invented plant)"
    assert lines[1] == "bloom 250 x 300 mm, sizes hot; rectangle, mid-face; 0.75 m/min; superheat 28 K"
    assert lines[2] == "worst verdict: kept"


def test_a_round_prints_one_size():
    """A diameter is not a product of two sizes."""
    case = SimpleNamespace(
        **{**strand().case.__dict__, "section": SimpleNamespace(shape="round", product=None)}
    )
    text = text_of(case=case, thickness=0.2, width=0.2, half_thickness=0.1, shape_treatment="round")
    assert "round 200 mm, sizes hot; round" in text


def test_a_steel_without_a_composition_is_not_called_unknown():
    own = SimpleNamespace(**{**vars(strand().steel), "composition": {}, "steel_class": "unknown"})
    assert "Steel own numbers; liquidus" in " ".join(text_of(steel=own).split())


def test_shell_is_told_for_three_solid_fractions():
    """17 mm at 0.7, times 0.9 and 1.2 for the other two, at mould exit; 1060 °C and 20 K a millimetre reach
    1460 °C at 20 mm.
    """
    expected = "Shell at mould exit 15.3 mm at 1.0, 17.0 mm at 0.7, 20.4 mm at 0.3 solid fraction; "
    expected += "20.0 mm to zero strength, 1460 °C"
    assert expected in " ".join(text_of().split())


def test_facts_for_soft_reduction_sprays_and_hot_charging():
    """The centre is straight from 9 to 13.84 m; to 1.6 m all of 50 and 0.7/1.7 of 90 L/min; next to nothing is
    lost of what was poured at 1523 °C, and a mid-face slice has no mean.
    """
    words = " ".join(text_of().split())
    assert "Centre solid 0.1 at 9.48 m; 0.3 at 10.45 m; 0.5 at 11.42 m;" in words
    assert "0.50 L/kg, 62 % of it in the first metre below the mould; 414 kg/min" in words
    assert "At the cut-off" not in words
    case = SimpleNamespace(**{**vars(strand().case), "section": SimpleNamespace(shape="slab", product=None)})
    assert "At the cut-off mean 1523 °C, 1278 kJ/kg; surface 900 °C" in " ".join(text_of(case=case).split())


def test_the_surface_of_two_sides_at_the_cut_off_is_said_to_be_the_colder():
    """A flat strand, the loose side at 900 °C and the fixed one at 870 °C."""
    case = SimpleNamespace(**{**vars(strand().case), "section": SimpleNamespace(shape="slab", product=None)})
    one = replace(strand(), case=case)
    surface = np.concatenate([one.surface_temperature, one.surface_temperature - 30.0])
    two = replace(one, sides=("loose", "fixed"), surface_temperature=surface)
    assert "; surface 900 °C" in charge_text(one)
    assert "; colder surface 870 °C" in charge_text(two)


def test_bands_say_which_errors_they_rest_on():
    """The band stands beside its value, the errors once below the table, what moves the shell with the risk."""
    effects = (Effect("superheat", 3.0, "K", -0.3, 1.0),)
    bands = {"shell_floor": Band(15.0, 19.0, effects), "straightener_surface": Band(930.0, 943.0, effects)}
    text = summary_text(strand(), judge(strand(), bands), 100)
    assert "15.0 to 19.0" in line_of(text, "kept hard shell at mould exit")
    assert "error band, one standard deviation either way: superheat 3 K" in text
    assert "its band: superheat 100 %" in " ".join(text.split())
    assert "what moves the shell at mould exit: 10 K less superheat: 1.0 mm more shell" in text


def test_zone_table():
    """From, to, water, flux, surface in and out, heat, share of the heat (10 of 100).

    10 MJ/m2 at 25 m in 2000 s are 125 kW a metre; both faces of a slab of 0.3 m give off 75 kW.
    """
    balance = replace(strand().balance, heat=1e6 * strand().balance.heat)
    cells = line_of(text_of(balance=balance), "foot rolls").split()
    assert cells == ["foot", "rolls", "0.60", "0.90", "50", "520", "1060", "1010", "125", "10"]
    assert "kW/m: per metre of face; times the girth" in text_of()
    case = SimpleNamespace(**{**vars(strand().case), "section": SimpleNamespace(shape="slab", product=None)})
    text = text_of(balance=balance, case=case)
    assert line_of(text, "foot rolls").split()[-2:] == ["75", "10"]
    assert "kW: one strand, both wide faces; the narrow faces are not counted." in text


def test_a_long_name_of_a_zone_is_folded():
    base = strand()
    name = "segment 4 with the short rolls, inner and outer loop, as rebuilt in spring"
    zones = tuple(replace(z, name=name) if z.name == "spray 1" else z for z in base.zones)
    text = text_of(zones=zones)
    assert max(map(len, text.splitlines())) <= 100
    assert "segment 4 with the short rolls" in text


def test_two_sides_print_two_figures():
    """Loose and fixed side, in that order, and a line that says so."""
    base = strand()
    both = {k: np.repeat(getattr(base, k), 2, axis=0) for k in ("surface_temperature", "shell_thickness")}
    both["depth"] = np.concatenate([base.depth, 0.25 - base.depth[-2::-1]])
    for name in ("section_temperature", "section_solid_fraction"):
        half = getattr(base, name)
        both[name] = np.concatenate([half, half[:, -2::-1]], axis=1)
    zones = tuple(
        replace(
            z,
            mean_flux=np.repeat(z.mean_flux, 2),
            surface_in=np.array([z.surface_in[0], z.surface_in[0] + 7]),
            surface_out=np.repeat(z.surface_out, 2),
            heat_removed=np.repeat(z.heat_removed, 2),
        )
        for z in base.zones
    )
    text = text_of(zones=zones, sides=("loose", "fixed"), **both)
    assert "1060 / 1067" in line_of(text, "foot rolls")
    assert "loose / fixed side" in text


def test_end_of_solidification_and_k():
    """13.84 m and 1107.2 s = 18.5 min; K beside the practice window of a rectangular bloom, 26 to 31.

    At mould exit after 48 s, 0.894 √min: the shells over that, each window with its own solid fraction.
    """
    text = text_of()
    assert line_of(text, "End of sol") == "End of solidification  13.84 m from the meniscus, 18.5 min"
    flat = " ".join(text.split())
    shell = 1e3 * float(strand().at(strand().equivalent_shell[0], 0.6)) / 0.8**0.5
    said = f"K, s = K√t mould exit {1.2 * shell:.1f} (practice 17 to 23 at 0.3 solid); {shell:.1f} at 0.7 solid; "
    said += f"{shell:.1f} by equivalent solid; whole machine 29.1 (practice 26 to 31 at 1.0 solid)"
    assert said in flat
    assert "handbook" not in flat
    assert "s from one side in mm, t in min" in flat


def test_k_window_follows_shape_and_carbon():
    """A square has its own window, 28 to 33; 0.8 %C moves it by -2 and -1 to 26 and 32 (common practice)."""
    square = " ".join(text_of(thickness=0.25, width=0.25).split())
    assert "whole machine 29.1 (practice 28 to 33 at 1.0 solid)" in square
    steel = SimpleNamespace(**{**strand().steel.__dict__, "composition": {"C": 0.8}})
    high = " ".join(text_of(thickness=0.25, width=0.25, steel=steel).split())
    assert "whole machine 29.1 (practice 26 to 32 at 1.0 solid)" in high


def test_liquid_at_the_cutoff_is_said():
    """No length, no time, no K of the whole machine; never a NaN."""
    base = strand()
    summary = base.summary | {
        "metallurgical_length": math.nan,
        "solidification_time": math.nan,
        "k_whole_machine": math.nan,
    }
    text = text_of(summary=summary, centre_solid_fraction=np.linspace(0, 0.8, 501))
    assert "not by the cut-off at 25.0 m, where the centre is 0.80 solid" in text
    slab = SimpleNamespace(**{**vars(base.case), "section": SimpleNamespace(shape="slab", product=None)})
    assert "Heat to the cut-off mould" in " ".join(text_of(summary=summary, case=slab).split())
    assert "Heat until solid mould" in " ".join(text_of(case=slab).split())
    assert "whole machine not known" in text
    assert "beyond the cut-off" in text
    assert "nan" not in text.lower()


def test_findings_table():
    """Hard ones first; verdict, hardness, words, value, limit, room and where on one line; not
    judged below.
    """
    text = text_of()
    cells = re.split(r"\s{2,}", line_of(text, "kept hard shell at").strip())
    assert cells == ["kept", "hard", "shell at mould exit", "17.0 mm", "≥ 13", "4.0 mm room", "0.60 m"]
    hardness = re.findall(r"^(?:kept|close|breached)\s+(hard|soft)", text, re.M)
    assert hardness == sorted(hardness, key=["hard", "soft"].index)
    assert len(hardness) == sum(f.judged for f in judge(strand()).findings)
    assert "not judged: mould flux against normal: what this plant calls normal is not given" in text


def test_least_room_is_named():
    """Surface at 17 m: 1010 - 110 x 16.1/24.1 = 936.5 °C, 46.5 K over 890 °C or 2.3 widths; the
    shell has 2.7.
    """
    flat = " ".join(text_of().split())
    words = "hard limits: surface at the straightener, 937 °C against ≥ 890 °C (C-Mn), 47 K room"
    assert f"least room of the {words}" in flat
    assert "least room of the soft limits: " in flat


def test_breach_shows_in_head_table_and_risk():
    """A shell of 12 mm: worst verdict, the row, the strong reason with its physics, and the statement."""
    thin = strand().shell_thickness * 12 / 17
    text = text_of(shell_thickness=thin)
    assert "worst verdict: breached" in text
    assert "1.0 mm beyond" in line_of(text, "breached hard shell at mould exit")
    assert "Breakout risk, from a computed mid-face slice: strong reason" in text
    assert "strong reason: mean shell 12.0 mm, practice floor 13 mm (1.0 mm beyond): a thin shell" in text
    assert "\nThis is no detector and no permission.\n" in text


def test_flux_not_measured_stands_in_mould_line_and_risk():
    """Said where the flux is printed and where the risk is weighed."""
    mould = replace(strand().mould, origin="handbook")
    text = text_of(mould=mould)
    assert "flux not measured" in line_of(text, "Mould")
    assert text.count("flux not measured") == 2


def test_own_limit_is_marked():
    """A star at the limit and what it means."""
    case = SimpleNamespace(**{**strand().case.__dict__, "limits": {"shell_floor": 15.0}})
    text = text_of(case=case)
    assert "≥ 15 *" in line_of(text, "kept hard shell at mould exit")
    assert "* your own limit, from the case file" in text


def test_bands_get_a_column():
    """An error band of 15.2 to 18.8 mm stands beside its value."""
    result = strand()
    text = summary_text(result, judge(result, {"shell_floor": (15.2, 18.8)}))
    assert "error band" in text
    assert "15.2 to 18.8" in line_of(text, "kept hard shell at mould exit")


def test_notices_are_kept_and_counted():
    """Where, what and how often; the steel's own too, each once."""
    steel = SimpleNamespace(**{**strand().steel.__dict__, "notices": (Notice("one of the steel"),)})
    notices = (Notice("below the range of the relation", 'zone "spray 1"', 3), Notice("one of the steel"))
    text = text_of(notices=notices, steel=steel)
    assert 'zone "spray 1": below the range of the relation (3 times)' in text
    assert text.count("one of the steel") == 1
    assert "To know" not in text_of()


def test_what_is_recalled_is_said():
    """Recalled sources of the steel are named; sources that were read are not; practice is counted."""
    steel = SimpleNamespace(
        **{**strand().steel.__dict__, "sources": ("li_thomas_2000", "carslaw_jaeger_1959")}
    )
    text = text_of(steel=steel)
    assert "From memory, not verified: carslaw_jaeger_1959" in text
    assert "From memory" not in text_of()
    assert re.search(r"\d+ of \d+ limits are common practice, no source", text)


def test_cautions_are_complete_and_resolve():
    """Ten standing cautions, the ones that can hurt printed; sources resolve."""
    found = cautions()
    assert len({c["name"] for c in found}) == len(found) == 10
    printed = {c["name"] for c in found if "short" in c}
    assert {"estimate", "interlocks", "no permission", "water and steel", "emergency", "change"} <= printed
    for caution in found:
        assert caution["text"].endswith(".")
        for key in caution.get("source", ()):
            assert source(key).reference
    text = text_of()
    assert all(" ".join(c["short"].split()) in " ".join(text.split()) for c in found if "short" in c)
    assert "local codes and licensed practice" in " ".join(text.split())


FORBIDDEN = re.compile(r"\b(warning|warn|act|alarm\w*|trip|passed|fail\w*|ok|safe\w*|dangerous)\b", re.I)


def test_no_word_of_plant_systems_and_no_solver_jargon():
    """Verdict words of alarms, and words a night shift does not use, stay out."""
    text = text_of(shell_thickness=strand().shell_thickness / 3, superheat=60.0)
    assert not FORBIDDEN.search(text.replace("safety factor", ""))  # the trade's name of a ratio of loads
    assert not re.search(
        r"\b(mesh|newton|iteration|residual|boundary condition|mushy|metallurgical)\b", text, re.I
    )
