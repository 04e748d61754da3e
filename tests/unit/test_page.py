"""The report page: one file that needs nothing, with the result's figures, and a structure that can be read aloud."""

import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from xml.etree import ElementTree

import pytest
from page_reader import Reader, check_page, svgs

import solidify
from solidify.analysis.growth import LAWS, STRETCHES, compare_with_handbook
from solidify.assessment.error_bands import error_bands
from solidify.assessment.judge import judge
from solidify.case import parse_case
from solidify.cli import main
from solidify.errors import Notice
from solidify.report.basis import basis
from solidify.report.growth import fit_text
from solidify.report.strand_page import report_page
from solidify.report.strand_text import cautions
from solidify.sources import sources
from solidify.storage.result_file import load, load_judgement, save
from solidify.strand.setup import cast_density
from solidify.strand.solve import solve

SHIPPED = Path(solidify.__file__).parent / "data" / "cases"
HOSTILE = '<script>alert("a & b")</script> 250 x 300'


def shipped(name, **changes):
    case = parse_case((SHIPPED / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")
    return case.replace(changes) if changes else case


def solved(case):
    result = replace(solve(case), created_at="2026-03-04T05:06:07+00:00")
    return result, judge(result)


@pytest.fixture(scope="module")
def strands():
    """Strands that show every branch of the page."""
    two_sides = shipped("slab", **{'zone."spray 5".water_at_speed': None, 'zone."spray 5".water_loose_L_per_min': 90,
                                   'zone."spray 5".water_fixed_L_per_min': 40})  # fmt: skip
    core = shipped("bloom", **{"machine.cutoff_m": 12.0, "machine.support_end_m": 11.0,
                               "machine.straightener_m": [9, 10], "machine.radius_after_m": None})  # fmt: skip
    own = shipped("bloom", **{"limits.shell_floor": 17.0, "limits.superheat_window": [10, 20], "title": HOSTILE,
                              "steel": {"liquidus_C": 1490, "solidus_C": 1420, "latent_heat_kJ_per_kg": 260,
                                        "density_kg_per_m3": 7300, "specific_heat_J_per_kgK": 680,
                                        "conductivity_W_per_mK": 30}})  # fmt: skip
    cases = {"bloom": shipped("bloom"), "slab": shipped("slab"), "billet": shipped("billet")}
    cases |= {"two sides": two_sides, "liquid core": core, "own numbers": own}
    return {name: solved(case) for name, case in cases.items()}


@pytest.fixture(scope="module")
def pages(strands):
    return {name: report_page(*strand) for name, strand in strands.items()}


NAMES = ["bloom", "slab", "billet", "two sides", "liquid core", "own numbers"]


@pytest.fixture(scope="module")
def readers(pages):
    return {name: Reader(page) for name, page in pages.items()}


@pytest.mark.parametrize("name", NAMES)
def test_the_page_needs_nothing_and_is_well_built(pages, name):
    assert len(check_page(pages[name]).tables) >= 7


@pytest.mark.parametrize("name", NAMES)
def test_there_are_two_pictures(readers, name):
    assert len(readers[name].pictures) == 2


def test_equal_results_give_equal_bytes(strands, pages):
    again = report_page(*strands["bloom"])
    assert again == pages["bloom"]


def test_a_page_from_a_file_is_the_page_from_the_march(strands, pages, tmp_path):
    result, judgement = strands["two sides"]
    save(result, tmp_path / "slab.h5", judgement)
    loaded = report_page(load(tmp_path / "slab.h5"), load_judgement(tmp_path / "slab.h5"))
    assert loaded == pages["two sides"]


def test_pictures_are_vector_graphics_with_text_as_text(pages):
    drawn = svgs(pages["slab"])
    assert len(drawn) == 3  # the strand for paper and for a phone, the heat
    for svg in drawn:
        root = ElementTree.fromstring(svg)
        words = " ".join("".join(e.itertext()) for e in root.iter("{http://www.w3.org/2000/svg}text"))
        assert "Slab 220 x 1500, 0.18 %C" in words
        assert "image" not in {e.tag.rpartition("}")[2] for e in root.iter()}
    assert "20.4 m" in drawn[0]
    assert "spray 6" in drawn[0]


@pytest.mark.parametrize("name", NAMES)
def test_every_finding_stands_with_its_word_beside_its_mark(strands, readers, pages, name):
    judgement = strands[name][1]
    reader = readers[name]
    for f in judgement.findings:
        assert f.label in reader.text
        assert (f.value_text if f.judged else f.reason).replace("-", "−").replace(
            "−", "-"
        ) in reader.text.replace("−", "-")
    rows = re.findall(r'<td class="word"><svg.*?</svg> ([a-z ]+)</td>', pages[name])
    hard_first = sorted((f for f in judgement.findings if f.judged), key=lambda f: f.hardness != "hard")
    assert rows == [f.verdict for f in hard_first]


def test_marks_grow_with_what_they_say(pages):
    """Kept has an empty square, close half a one, breached a full one; the word stands beside each."""
    inks = {}
    for svg, word in re.findall(r'<td class="word">(<svg.*?</svg>) ([a-z]+)</td>', "".join(pages.values())):
        inks[word] = sum(int(w) for w in re.findall(r'width="(\d+)" height="12" fill="#(?!DDE5E6)', svg))
    assert inks == {"kept": 0, "close": 6, "breached": 12}


@pytest.mark.parametrize("name", NAMES)
def test_the_breakout_risk_comes_with_every_reason_and_the_statement(strands, readers, name):
    risk = strands[name][1].breakout
    text = readers[name].text.replace("−", "-")
    assert text.count(risk.words) >= 2
    assert text.count(risk.statement) >= 2
    assert all(reason.text in text for reason in risk.reasons)


@pytest.mark.parametrize("name", NAMES)
def test_all_ten_cautions_stand_on_the_page(readers, name):
    assert len(cautions()) == 10
    assert all(c["text"] in readers[name].text for c in cautions())


def test_the_case_stands_on_the_page_as_given(strands, pages):
    given = unescape(re.search(r"<pre>(.*)</pre>", pages["billet"], re.S)[1])
    assert given == strands["billet"][0].case.text.rstrip("\n")


def test_words_of_a_case_are_never_markup(pages, readers):
    assert HOSTILE in readers["own numbers"].text
    assert "<script>" not in pages["own numbers"]


def test_heat_is_listed_by_share_and_adds_up(readers, pages):
    table = re.search(r"<caption>Heat removed.*?</table>", pages["slab"], re.S)[0]
    rows = re.findall(r'<th scope="row">(.*?)</th><td>(\d+)</td><td>\d+</td><td>([\d.]+)</td>', table)
    power = [float(p) for _, p, _ in rows[:-1]]
    assert rows[-1][0] == "whole strand"
    assert power == sorted(power, reverse=True)
    assert sum(power) == pytest.approx(float(rows[-1][1]), abs=len(power) / 2)
    assert sum(float(s) for *_, s in rows[:-1]) == pytest.approx(100, abs=len(power) / 2)


def test_heat_in_kilowatts_is_the_mean_flux_over_the_stretch(strands, pages):
    """By hand: kW per metre of face width = mean flux x length of the stretch, for steady casting."""
    result = strands["bloom"][0]
    zone = next(z for z in result.zones if z.name == "spray 1")
    by_hand = zone.mean_flux[0] / 1e3 * (zone.end - zone.start)
    shown = float(re.search(r'<th scope="row">spray 1</th><td>(\d+)</td>', pages["bloom"])[1])
    assert shown == pytest.approx(by_hand, abs=0.6)


def test_heat_of_a_strand_is_told_where_the_slice_speaks_for_it(strands, pages, readers):
    """A slab gives off its mean flux over both wide faces; the middle of a bloom's face is not its strand."""
    result = strands["slab"][0]
    zone = next(z for z in result.zones if z.name == "spray 1")
    by_hand = zone.mean_flux[0] / 1e3 * (zone.end - zone.start) * 2 * 1.5
    shown = re.search(r'<th scope="row">spray 1</th><td>(\d+)</td><td>(\d+)</td>', pages["slab"])
    assert float(shown[1]) == pytest.approx(by_hand, rel=1e-3)
    assert float(shown[2]) == pytest.approx(by_hand / 3.0, abs=0.6)
    assert "both wide faces; the narrow faces are not counted" in readers["slab"].text
    assert "kW, one strand" not in readers["bloom"].text
    assert "times the girth it would be about a fifth more" in readers["bloom"].text


def test_where_each_depth_froze_is_read_back_from_the_shell(strands, pages):
    """At the distance shown for 50 mm at 0.7 solid, the shell of the result is 50 mm."""
    result = strands["bloom"][0]
    table = re.search(r"<caption>Where each depth froze</caption>.*?</table>", pages["bloom"], re.S)[0]
    cells = re.search(r'<th scope="row">50\.0</th><td>(.*?)</td><td>(.*?)</td><td>(.*?)</td>', table)
    for i, cell in enumerate(cells.groups()):
        assert 1e3 * result.at(result.shell_thickness[0, i], float(cell)) == pytest.approx(50.0, abs=0.05)


def rows_of(page, caption):
    """Rows of a table by their first cell, as text."""
    table = re.search(rf"<caption>{re.escape(caption)}.*?</table>", page, re.S)[0]
    found = {}
    for row in re.findall(r"<tr>(.*?)</tr>", table, re.S):
        cells = [unescape(re.sub(r"<.*?>", "", c)) for c in re.findall(r"<t[hd].*?>(.*?)</t[hd]>", row, re.S)]
        cells = [re.sub(r"\s+", " ", c.replace("\xa0", " ").replace("−", "-")).strip() for c in cells]
        found[cells[0]] = cells[1:]
    return found


def test_the_steel_of_the_case_stands_in_its_table(pages):
    """Own numbers, typed in plant units, come back in plant units."""
    rows = rows_of(pages["own numbers"], "The steel in numbers")
    assert rows["Composition, mass %"] == ["not given, own numbers"]
    assert rows["Liquidus"] == ["1490 °C"]
    assert rows["Solidus"] == ["1420 °C"]
    assert rows["Latent heat"] == ["260 kJ/kg"]
    assert rows["Density used"] == ["7300 kg/m³"]
    rows = rows_of(pages["bloom"], "The steel in numbers")
    assert rows["Composition, mass %"] == ["C 0.45, Si 0.25, Mn 0.7, P 0.015, S 0.012"]
    degrees = [float(value[0].removesuffix(" °C")) for value in rows.values() if value[0].endswith(" °C")]
    assert len(degrees) >= 5
    assert degrees == sorted(degrees, reverse=True)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "slab",
            {
                "Vertical part ends": "2.50 m",
                "Bending points": "2.50, 2.90, 3.30, 3.70, 4.00 m",
                "Radius to the fixed side": "10 m",
                "Straightening points": "15.60, 16.30, 17.00, 17.70, 18.40, 19.10, 19.80 m",
                "Last support": "27.00 m",
                "Cut-off": "31.00 m",
            },
        ),
        (
            "liquid core",
            {
                "Bending points": "none",
                "Straightening points": "9.00, 10.00 m",
                "Last support": "11.00 m",
                "Cut-off": "12.00 m",
            },
        ),
    ],
)
def test_the_machine_of_the_case_stands_in_its_table(pages, name, expected):
    rows = rows_of(pages[name], "The machine in numbers")
    assert {key: rows[key] for key in expected} == {key: [value] for key, value in expected.items()}


def test_the_mould_of_the_case_stands_in_its_table(pages):
    """Level 100 mm below the top of 700 and 900 mm; 0.6 m at 0.75 m/min is 48 s, 0.8 m at 1.2 m/min 40 s."""
    bloom, slab = (rows_of(pages[name], "The mould in numbers") for name in ("bloom", "slab"))
    assert bloom["Working length"] == ["0.60 m, 48 s"]
    assert slab["Working length"] == ["0.80 m, 40 s"]
    assert bloom["Mean heat flux"][0].startswith("1.30 MW/m², ")
    at_exit = 2.6 * (
        1 - (1 - 1.30 / 2.6) ** 0.5
    )  # of C / (2 √t) below a peak of 2.6 with this mean, whatever the time
    assert bloom["Heat flux at mould exit"] == [f"{at_exit:.2f} MW/m²"]
    assert bloom["Lubricant"] == ["powder"]


def test_the_strand_of_the_case_stands_in_its_table(strands, pages):
    """Steel cast is density x section x speed; the end is where the centre has frozen; each point reads the result."""
    result = strands["bloom"][0]
    rows = rows_of(pages["bloom"], "The strand in numbers")
    shells = [float(value[0].removesuffix(" mm")) for key, value in rows.items() if "solid fraction" in key]
    assert len(shells) == 3
    assert shells == sorted(shells), "the solid part first, then what is softer"
    assert rows["Casting speed"] == ["0.75 m/min"]
    assert rows["Steel cast"] == [
        f"{cast_density(result.case, result.steel) * 0.25 * 0.30 * 0.75:.0f} kg/min"
    ]
    tundish = result.steel.liquidus + 28
    assert rows["Tundish"] == [f"{tundish:.0f} °C, superheat 28 K"]
    length, minutes = map(float, re.findall(r"[\d.]+", rows["End of solidification"][0])[:2])
    assert float(result.at(result.centre_solid_fraction, length + 0.02)) == 1.0
    assert float(result.at(result.centre_solid_fraction, length - 0.02)) < 1.0
    assert minutes == pytest.approx(length / 0.75, abs=0.06)
    points = [key for key in rows if key.startswith("Straightening point")]
    assert [key.rpartition(", ")[2] for key in points] == [
        "14.30 m",
        "15.00 m",
        "15.70 m",
        "16.40 m",
        "17.10 m",
    ]
    for key, z in zip(points, (14.3, 15.0, 15.7, 16.4, 17.1), strict=True):
        surface = float(result.at(result.surface_temperature[0], z))
        assert rows[key] == [f"surface {surface:.0f} °C, centre 1.00 solid"]
    core = rows_of(pages["liquid core"], "The strand in numbers")["End of solidification"][0]
    at_end = strands["liquid core"][0].centre_solid_fraction[-1]
    assert core == f"not by the cut-off, where the centre is {at_end:.2f} solid"


@pytest.mark.parametrize("name", ["bloom", "slab"])
def test_zones_stand_with_their_water_flux_and_surface(strands, pages, name):
    """Water as the case gives it at its speed; one side stands for two that are alike."""
    result = strands[name][0]
    given = {
        "bloom": {"foot rolls": 46, "spray 1": 90, "spray 2": 51, "spray 3": 21},
        "slab": {"foot rolls": 313, "spray 1": 470, "spray 2": 440, "spray 3": 360, "spray 4": 240},
    }[name]
    rows = rows_of(pages[name], "Zone by zone")
    assert {zone: rows[zone][1] for zone in given} == {zone: str(water) for zone, water in given.items()}
    assert rows["mould"][1] == "–"
    for zone in result.zones:
        ends, _, flux, begin, end = rows[zone.name]
        assert ends == f"{zone.start:.2f}–{zone.end:.2f}"
        assert float(flux) == pytest.approx(float(zone.mean_flux[0]) / 1e3, abs=0.51)
        surface = result.surface_temperature[0]
        assert float(end) == pytest.approx(float(result.at(surface, zone.end)), abs=1.0)
        if zone.name != "mould":
            assert float(begin) == pytest.approx(float(result.at(surface, zone.start)), abs=1.0)


def test_what_takes_the_heat_of_a_stretch_adds_up(pages):
    """Shares of a hundred each, the largest first; the mould alone takes that of the mould."""
    rows = rows_of(pages["slab"], "Heat removed")
    for *_, takers in rows.values():
        shares = [float(x) for x in re.findall(r"[\d.]+", takers)]
        if shares:
            assert shares == sorted(shares, reverse=True)
            assert sum(shares) == pytest.approx(100.0, abs=1.6)
    assert rows["mould"][-1] == "mould 100"
    assert "heat lost by the steel agree within 0.01 %" in Reader(pages["slab"]).text


def test_laws_of_growth_stand_beside_practice(strands, pages, readers):
    """Constants and what each law leaves, as `solidify compare` prints them, for both stretches."""
    result = strands["bloom"][0]
    found = compare_with_handbook(result)
    for where in STRETCHES:
        table = re.search(rf"<caption>Laws of growth, {where}</caption>.*?</table>", pages["bloom"], re.S)[0]
        rows = re.findall(r'<th scope="row">(.*?)</th><td>(.*?)</td><td>(.*?)</td>', table)
        assert len(rows) == len(LAWS) * len(result.solid_fractions)
        for name, constants, left in rows:
            fraction, law = name.replace("\xa0", " ").split(" solid, ")
            growth = next(g for g in found.rows[where] if g.solid_fraction == float(fraction))
            fit = growth.fits[law]
            assert constants.replace("\xa0", " ").replace("−", "-") == fit_text(fit)
            assert f"{1e3 * fit.one_minute:.1f} ±" in fit_text(fit)
            assert float(left) == pytest.approx(1e3 * fit.rms, abs=0.006)
    assert (
        "K of practice 26 to 31 at 1.0 solid (common practice, no source); exact solution"
        in readers["bloom"].text
    )
    assert "how closely the law follows the computed curve" in readers["bloom"].text


def test_facts_that_no_limit_judges_stand_among_the_numbers(strands, readers):
    text = readers["slab"].text
    assert "Shell at mould exit that has any strength" in text
    assert f"1.0 at {strands['slab'][0].summary['metallurgical_length']:.2f} m" in text
    assert re.search(r"Cut-off, 31\.00 m mean \d+ °C, \d+ kJ/kg", text)
    assert "in brackets what is usual, common practice" in text
    assert "Mould water rise 7.2 K" in text


def test_what_moves_the_shell_is_said_where_the_errors_are_known(strands):
    case = strands["billet"][0].case
    result = strands["billet"][0]
    judgement = judge(result, error_bands(case, result))
    (moves,) = {r.moves for r in judgement.breakout.reasons if r.moves and r.name == "shell_floor"}
    page = Reader(report_page(result, judgement))
    assert f"What moves the shell at mould exit: {moves}." in page.text.replace("−", "-")
    floor = judgement["shell_floor"]
    assert floor.banded
    assert f"{floor.value_text} {floor.band_text}" in page.text
    assert "one standard deviation" in page.text


def test_own_limits_stand_beside_those_shipped(readers, pages):
    text = readers["own numbers"].text
    assert re.search(r"shell at mould exit ≥ 17 mm ≥ 13 mm", text)
    assert re.search(r"superheat in the tundish 10 to 20 K 15 to 35 K", text)
    assert "None: every limit is as shipped." not in text
    assert "None: every limit is as shipped." in readers["bloom"].text


def test_how_well_a_source_is_known_is_said_once(strands):
    """One fit gives liquidus, partition and transformation, each with a remark of its own."""
    known = [known for _, known, _ in basis(*strands["bloom"])]
    assert all(len(set(parts)) == len(parts) for parts in (text.split("; ") for text in known))
    assert any("derived or computed here; P, S from memory; Si" in text for text in known)


def test_the_ductility_trough_is_told_with_its_sources(strands):
    result = strands["slab"][0]
    plain = Reader(report_page(result, judge(result))).text
    between = "between peritectic and C-Mn; common practice, no source"
    assert f"Surface at the straightener ≥ 893 °C by practice bands ({between})." in plain
    assert "What the trough is made of" not in plain
    own = replace(result, case=result.case.replace({"limits.ductility_criterion": "published_troughs"}))
    text = Reader(report_page(own, judge(own))).text
    assert "≥ 950 or ≤ 700 °C by published troughs (AlN 700 to 950 °C; read in the source)." in text
    assert "AlN 700 to 950 read in the source T. Nozaki et al.: Tetsu-to-Hagané 62 (1976) 1503" in text
    assert "C-Mn 700 to 850 from memory B. Mintz and co-workers" in text
    assert re.search(r"From memory, not verified: [^.]*ductility trough: C-Mn", text)
    number = replace(own, case=own.case.replace({"limits.straightener_surface": 930}))
    text = Reader(report_page(number, judge(number))).text
    assert "surface at the straightener ≥ 930 °C ≥ 950 or ≤ 700 °C" in text
    assert "ductility trough: C-Mn" not in text, "what does not count is not among what the page rests on"


def test_sources_are_named_and_what_is_recalled_is_said(strands, readers):
    result, _ = strands["bloom"]
    text = readers["bloom"].text
    keys = {key for key, _ in result.steel.evidence.values()} | set(result.sources)
    assert "nozaki_1978" in keys
    for key in keys:
        if sources()[key].evidence != "practice":
            assert re.sub(r"\s+", " ", sources()[key].reference) in text
    recalled = re.search(r"From memory, not verified: (.*?)\. ", text)[1]
    assert "cooling" in recalled
    assert "enthalpy" in recalled


def test_assumptions_say_section_treatment_and_shell_definition(readers):
    for name, words in (("slab", "flat (one-way)"), ("bloom", "rectangle, mid-face")):
        assert f"section treatment: {words}" in readers[name].text
        assert f"Section treatment: {words}:" in readers[name].text
    assert "at least 0.7 solid" in readers["slab"].text


def test_keys_left_open_are_shown_with_the_value_used(readers):
    text = readers["bloom"].text
    assert "casting.meniscus_drop_K = 0" in text
    assert "zone.*.sprayed_faces = all" in text
    assert "superheat_K" not in re.search(r"Left to defaults(.*)Cautions", text)[1].replace(
        "uncertainty.superheat_K", ""
    )


def test_notices_and_their_counts_stand_under_to_know(strands):
    result, judgement = strands["bloom"]
    noted = replace(result, notices=(Notice("a <b>thing</b> to know", "somewhere", 3),))
    text = report_page(noted, judgement)
    assert "somewhere: a &lt;b&gt;thing&lt;/b&gt; to know (3 times)" in text


def test_a_liquid_core_at_the_cut_off_is_said(readers):
    text = readers["liquid core"].text
    assert "End of solidification not by the cut-off" in text
    assert "The centre is still liquid at the cut-off." not in text  # that stands in the alternative text
    assert "nan" not in text.lower().split()


def test_two_sides_are_told_apart(readers):
    text = readers["two sides"].text
    assert "Two figures: loose / fixed side." in text
    assert re.search(r"spray 5 12\.40–17\.60 130 \d+ / \d+ ", text)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_says_who_made_it_and_when(readers, name):
    assert f"solidify {solidify.__version__} on 2026-03-04 05:06 UTC" in readers[name].text


@pytest.mark.parametrize("name", NAMES)
def test_the_page_has_no_jargon_and_no_words_of_plant_systems(readers, name):
    """Words that belong to a solver, or that read as an alarm or a permission."""
    page = readers[name].text
    own = page[: page.index("What it rests on")]
    assert not re.findall(
        r"\b(enthalpy|Newton|residual|iteration|mesh|node|alarm|traffic|pass|fail|OK|safe)\b", own
    )
    assert "nan" not in own.split()


def test_the_verb_writes_the_page_and_says_so(strands, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    result, judgement = strands["bloom"]
    save(result, "tuesday.h5", judgement)
    assert main(["report", "tuesday.h5"]) == 0
    assert capsys.readouterr().out.strip() == "written: tuesday.html"
    assert Path("tuesday.html").read_text(encoding="utf-8") == report_page(result, judgement)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["no.h5"], "no such result or study file"),
        (["tuesday.h5", "-o", "tuesday.h5"], "a name like report.html"),
        (["tuesday.h5", "-o", "nowhere/page.html"], "nowhere"),
    ],
)
def test_the_verb_refuses_what_it_cannot_read_or_write(
    strands, tmp_path, monkeypatch, capsys, arguments, words
):
    monkeypatch.chdir(tmp_path)
    save(strands["bloom"][0], "tuesday.h5", strands["bloom"][1])
    before = Path("tuesday.h5").read_bytes()
    assert main(["report", *arguments]) == 2
    assert words in capsys.readouterr().err
    assert Path("tuesday.h5").read_bytes() == before
    assert [p.name for p in Path().iterdir()] == ["tuesday.h5"]
