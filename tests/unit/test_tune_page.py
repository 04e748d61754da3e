"""The page of a tuned spray table: its figures, its marks, its words, and a structure that can be read aloud."""

import re
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from page_reader import check_page, svgs

from solidify.case import parse_case, read_case
from solidify.report.strand_text import cautions
from solidify.report.tuning_page import tuning_page
from solidify.report.tuning_text import assumed_texts, case_text
from solidify.tuning.target_file import parse_target, read_target
from solidify.tuning.tune import row_verdict, tune

CASES = Path(__file__).parents[2] / "cases"
SIDES = """
# <b>a & b</b>
speeds_m_per_min = [0.7, 0.9, 1.1, 1.2, 1.4]
[[surface]]
distance_m = 12.4
temperature_C = 930
band_K = 5
side = "both"
[aim]
keep = "hard"
[valve."foot rolls"]
fixed = true
[valve."spray 3"]
tied_to = "spray 4"
ratio = 1.6
[valve."spray 4"]
max_L_per_min = 120
side_shares = { loose = [0.4, 0.5], fixed = [0.5, 0.6] }
[loop."lower"]
feeds = ["spray 4 fixed", "spray 5"]
max_L_per_min = 400
"""


@pytest.fixture(scope="module")
def tunings():
    """The demo billet by its demo target; the slab with sides, loops, a point out of reach and five speeds."""
    billet, slab = (read_case(CASES / f"{name}.toml") for name in ("billet", "slab"))
    slab = slab.replace({'zone."spray 4".run_off_W_per_m2K': 40})
    one = parse_target('speeds_m_per_min = [2.5]\n[aim]\nleast = "water"', billet)
    return {
        "billet": tune(billet, read_target(CASES / "billet-target.toml", billet)),
        "sides": tune(slab, parse_target(SIDES, slab, "/somewhere/sides.toml")),
        "one speed": tune(billet, one),
    }


NAMES = ["billet", "sides", "one speed"]


@pytest.fixture(scope="module")
def pages(tunings):
    return {name: tuning_page(tuning) for name, tuning in tunings.items()}


@pytest.mark.parametrize("name", NAMES)
def test_the_page_needs_nothing_and_is_well_built(pages, name):
    reader = check_page(pages[name])
    assert len(reader.tables) >= 4
    assert len(reader.pictures) == 1


@pytest.mark.parametrize("name", NAMES)
def test_equal_tables_give_equal_bytes(tunings, pages, name):
    assert tuning_page(tunings[name]) == pages[name]


@pytest.mark.parametrize("name", NAMES)
def test_every_water_of_the_table_and_of_today_stands_on_it(tunings, pages, name):
    """Read back from the tables for paper, and again from those for a phone."""
    tuning, page = tunings[name], pages[name]
    for look in ("paper", "phone"):
        found = {zone: ([], []) for zone in tuning.zones}
        for part in re.findall(rf'<div class="{look}">(.*?)</div>\n</div>', page, re.S):
            if "Water of each zone" not in part:
                continue
            for zone, cells in re.findall(r'<th scope="row">([^<]*)<?.*?</th>(.*?)</tr>', part):
                for new, small in re.findall(r"<td>([^<]*)(?:<span[^>]*>([^<]*)</span>)?</td>", cells):
                    if zone in found:
                        found[zone][0].append(float(new))
                        found[zone][1].append(float(small or new))
        for i, zone in enumerate(tuning.zones):
            assert found[zone][0] == pytest.approx([row.water[i] for row in tuning.rows], abs=0.051)
            assert found[zone][1] == pytest.approx([row.water[i] for row in tuning.today], abs=0.051)


@pytest.mark.parametrize("name", NAMES)
def test_every_speed_has_its_mark_and_word(tunings, pages, name):
    part = re.search(r'<div class="paper">(.*?)</div>\n</div>', pages[name], re.S)[1]
    heads = re.findall(r'<th scope="col"><svg.*?</svg> ([\d.]+)<span class="small">([a-z ]+)</span>', part)
    words = {"kept": "met", "on paper": "on paper", "not met": "not met"}
    tuning = tunings[name]
    assert heads == [(f"{row.speed:g}", words[row_verdict(tuning, row)]) for row in tuning.rows]
    assert {row_verdict(tunings["sides"], row) for row in tunings["sides"].rows} >= {"not met"}


def test_no_table_is_wider_than_four_speeds_on_a_phone(pages):
    counts = {
        look: [
            len(re.findall("<th scope", head)) - 1
            for part in re.findall(rf'<div class="{look}">(.*?)</div>\n</div>', pages["sides"], re.S)
            for head in re.findall("<thead>(.*?)</thead>", part)
        ]
        for look in ("paper", "phone")
    }
    assert set(counts["paper"]) == {5}
    assert max(counts["phone"]) <= 4
    assert sum(counts["phone"]) == sum(counts["paper"])


def test_loops_shares_ties_and_what_is_out_of_reach_are_told(tunings, pages):
    text = check_page(pages["sides"]).text
    tuning = tunings["sides"]
    assert tuning.reach
    for words in (
        "Out of reach of these valves",
        "The same by loop",
        "spray 4 fixed, spray 5",
        "1.6 times that of spray 4",
        "loose share 0.4 to 0.5",
        "12.40 m, fixed side",
        "wanted 930 ± 5 °C",
        "sides.toml",
    ):
        assert words in text
    for row in tuning.rows:
        assert f"{tuning.loop_water(row, tuning.loops[0]):.1f}" in text
    assert "/somewhere" not in pages["sides"]
    assert "<b>" not in pages["sides"]
    assert "# <b>a & b</b>" in unescape(pages["sides"])


def test_what_holds_each_row_stands_with_its_price(tunings, pages):
    text = check_page(pages["billet"]).text
    for row in tunings["billet"].rows:
        for holding in row.holding[:4]:
            assert holding.what in text
    table = re.search(r"<caption>What holds each row.*?</table>", pages["billet"], re.S)[0]
    assert len(re.findall(r"L/min</td></tr>", table)) > 4
    plain = re.search(r"<caption>What holds each row.*?</table>", pages["sides"], re.S)
    assert plain is None or "saves" not in plain[0]


@pytest.mark.parametrize("name", NAMES)
def test_cautions_target_and_case_stand_on_it(tunings, pages, name):
    reader = check_page(pages[name])
    assert all(c["text"] in reader.text for c in cautions())
    assert "no measurement and no permission" in reader.text
    given = [unescape(text) for text in re.findall(r"<pre>(.*?)</pre>", pages[name], re.S)]
    assert given[0] == tunings[name].target.text.strip("\n")
    written = parse_case(given[1], "page")
    for row in tunings[name].rows:
        one = written.replace({"casting.speed_m_per_min": row.speed})
        found = [z.water_at_speed or z.water_L_per_min for z in one.zone]
        assert len(found) == len(row.water)
    assert given[1] == case_text(tunings[name], ".").rstrip("\n")


@pytest.mark.parametrize("name", NAMES)
def test_the_page_has_no_jargon_and_no_words_of_plant_systems(pages, name):
    text = check_page(pages[name]).text
    own = text[: text.index("What it rests on", 400)]
    assert not re.findall(
        r"\b(enthalpy|Newton|residual|iteration|mesh|node|alarm|traffic|pass|fail|OK|safe|dual|programme)\b",
        own,
    )
    assert "nan" not in own.split()
    assert "->" not in own


def test_pictures_are_vector_graphics_for_paper_and_phone(tunings, pages):
    drawn = svgs(pages["billet"])
    assert len(drawn) == 2
    for svg in drawn:
        assert "2.25 m/min" in svg
        assert "<image" not in svg
    assert np.all([len(svgs(page)) == 2 for page in pages.values()])


def test_a_zone_that_the_table_shuts_is_said(tunings):
    """A foot zone without water is no small thing: named with its speeds, on sheet and page, until a least is given."""
    billet = read_case(CASES / "billet.toml")
    hot = "speeds_m_per_min = [1.8, 2.5]\n[[surface]]\ndistance_m = 1.1\ntemperature_C = {}\n"
    hot = hot.format(1350) + '[aim]\nkeep = "hard"\n'
    shut = tune(billet, parse_target(hot, billet))
    told = "Dry in the new table, but not today: foot rolls (at 1.8, 2.5 m/min)"
    assert [row.water[0] for row in shut.rows] == [0.0, 0.0]
    assert any(text.startswith(told) for text in assumed_texts(shut))
    assert told in tuning_page(shut).replace("\xa0", " ")
    held = tune(billet, parse_target(hot + '[valve."foot rolls"]\nmin_L_per_min = 20\n', billet))
    assert not any("foot rolls" in text for text in assumed_texts(held) if text.startswith("Dry"))
    assert not any(text.startswith("Dry") for text in assumed_texts(tunings["billet"]))
