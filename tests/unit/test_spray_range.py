"""Sprays outside the range of their relation: said once a relation for a strand, and counted over many runs."""

import numpy as np
import pytest
from plants import ROUND_NUMBERS

from solidify import solve
from solidify.case import demo_case
from solidify.errors import InputError, Notice
from solidify.heat.spray_range import Use, joined, outside_range, surface_notice, use_notices
from solidify.report.speeds import ceiling_page, ceiling_text
from solidify.report.study_page import study_page
from solidify.report.study_text import range_notes, sweep_text
from solidify.storage.study_file import load_study
from solidify.strand.cooling import cooling_path
from solidify.strand.setup import case_steel
from solidify.strand.solve import solve_many
from solidify.study.definition import make_study
from solidify.study.run import run_study
from solidify.study.speed_range import speed_ceilings, with_bands

MIST = "hernandez_bocanegra_2013"
SPRAY_3 = 'zone."spray 3".water_L_per_min'


def said(notices, word="outside its range"):
    return [str(notice) for notice in notices if word in notice.text]


# --- one strand


def test_water_outside_the_range_is_one_notice_for_all_zones():
    """Two zones above 8 and one below 0.2 L/m2s, each with the value farthest outside; inside nothing is said."""
    uses = [
        Use("a", (9.0, 12.0)),
        Use("b", (1.0, 2.0)),
        Use("c", (0.05, 0.1)),
        Use("d", (0.0, 9.5)),
    ]
    (notice,) = use_notices("nozaki_1978", uses)
    assert notice.where == "spray relation nozaki_1978"
    assert notice.text == (
        "outside its range: water flux 12 in a, 0.05 in c, 9.5 in d, made for 0.2 to 8 L/(m² s); extrapolated"
    )
    assert use_notices("nozaki_1978", uses[1:2]) == ()


def test_what_holds_for_several_zones_is_said_once_with_their_names():
    uses = [Use(zone, (2.0, 2.0)) for zone in ("a", "b")]
    (notice,) = use_notices("ishiguro_1974", uses)
    assert notice.where == 'zones "a", "b"'
    assert "comes out too high" in notice.text
    (one, _) = use_notices("ishiguro_1974", [Use("a", (2.0, 2.0)), Use("b", (2.0,), 0.3, 20.0)])
    assert one.where == 'zone "a"'


def test_the_water_under_the_spray_is_what_counts_for_a_footprint_relation():
    """1 L/m2s on a tenth of the area is 10 under the spray, at the end of the range; 1.2 is 12, beyond."""
    assert use_notices("ishiguro_1974", [Use("a", (1.0,), 0.1)]) == ()
    (notice,) = use_notices("ishiguro_1974", [Use("a", (1.2,), 0.1)])
    assert "water flux 12 in a, made for 0.2 to 10" in notice.text


def test_surface_and_water_of_a_relation_are_joined():
    (water,) = use_notices("nozaki_1978", [Use("a", (12.0,))])
    (surface,) = surface_notice("nozaki_1978", {"a": np.array([650.0, 720.0]), "b": np.array([1300.0])})
    assert "surface down to 650 °C in a, made for 700 °C and more" in surface.text
    assert "several times higher" in surface.text
    assert "1300" not in surface.text, "the coefficient does not hang on the surface"
    other = Notice("something else", "section")
    first, second = joined([water, other, surface])
    assert second == other
    assert "12 in a" in first.text
    assert "650 °C in a" in first.text
    assert first.text.count("outside its range") == 1
    assert outside_range([first, second]) == ("nozaki_1978",)
    assert outside_range([other, Notice("of a zone", "spray relation nozaki_1978")]) == ()
    (hot,) = surface_notice("sasaki_1979", {"a": np.array([1300.0])})
    assert "surface up to 1300 °C in a, made for 1200 °C and less" in hot.text


def test_a_lone_run_says_it_once_a_relation():
    """Two zones of the demo slab lie below 0.2 L/m2s, and strong sprays come below 700 °C; then with two relations."""
    strong = {f'zone."{name}".spray_factor': 6.0 for name in ("spray 3", "spray 4", "spray 5")}
    result = solve(demo_case("slab").replace(strong))
    (text,) = said(result.notices)
    assert (
        "spray relation nozaki_1978: outside its range: water flux 0.139 in spray 5, 0.0414 in spray 6"
        in text
    )
    assert "surface down to" in text
    two = demo_case("slab").replace({'zone."spray 6".spray_relation': "sasaki_1979"})
    texts = said(solve(two).notices)
    assert [t.split(":")[0].split()[-1] for t in texts] == ["nozaki_1978", "sasaki_1979"]


def test_strands_side_by_side_say_what_each_says_alone():
    cases = [demo_case("bloom").replace({SPRAY_3: water}) for water in (60, 0.4, 60, 2000)]
    together = [result.notices for result in solve_many(cases)]
    assert together == [solve(case).notices for case in cases]
    assert [bool(said(notices)) for notices in together] == [False, True, False, True]


def test_the_edge_of_film_boiling_is_spoken_of_at_foot_rolls_alone():
    """Above 5 L/m2s in the first zone below the mould: 10.5 on the demo billet; the bloom has 3.6 there."""
    word = "published Leidenfrost temperatures"

    def of(case):
        return said(cooling_path(case, case_steel(case)).notices, word)

    (text,) = of(demo_case("billet"))
    assert text.startswith('zone "foot rolls": ')
    assert "practice, not physics" in text
    assert of(demo_case("bloom")) == []
    later = {'zone."spray 1".water_L_per_min': 2000}
    assert of(demo_case("bloom").replace(later)) == []
    assert of(demo_case("billet").replace({"cooling.spray_relation": "hodgson_1991"})) == []


def test_a_dense_mist_relation_is_refused_in_a_zone_with_little_water():
    """66 L/min on 1.1 m2 is 1 L/m2s; on 30 % of it 3.3, which the relation takes. A dry zone is let alone."""
    mist = ROUND_NUMBERS.replace({"cooling.spray_relation": MIST, "cooling.drop_velocity_m_per_s": 20})
    with pytest.raises(InputError) as caught:
        cooling_path(mist, case_steel(mist))
    (problem,) = caught.value.problems
    assert problem.where == 'zone "one" spray_relation'
    assert problem.given.startswith("1 L/(m² s)")
    assert "air_mist_linear" in problem.do
    wetted = mist.replace({"cooling.wetted_share": 0.3})
    assert cooling_path(wetted, case_steel(wetted)).stretches[1].relation == MIST
    (alone,) = solve_many([wetted])
    assert alone.zones[2].water == 0.0


# --- many runs


@pytest.fixture(scope="module")
def study():
    return make_study(demo_case("bloom"), {SPRAY_3: [0.4, 60, 2000], "casting.superheat_K": [20, 30]})


def test_a_sweep_says_once_how_many_runs_lie_outside(study, tmp_path):
    """A third of the runs has too little, a third too much water in one zone."""
    place = tmp_path / "s.h5"
    run_study(study, place)
    table = load_study(place)
    assert table.columns["outside_range"].tolist().count("nozaki_1978") == 4
    (note,) = range_notes(table)
    assert note.startswith("nozaki_1978 is used outside its range in 4 of 6 runs: made for 0.2 to 8 L/(m² s)")
    flat = " ".join(sweep_text(place).split())
    assert flat.count("is used outside its range in 4 of 6 runs") == 1
    assert "is used outside its range in 4 of 6 runs" in study_page(table)


def test_the_base_case_counts_too(tmp_path):
    """What the base case says as well is not repeated run by run, but its runs are counted."""
    base = demo_case("bloom").replace({SPRAY_3: 0.4})
    run_study(make_study(base, {"casting.superheat_K": [20, 30]}), tmp_path / "s.h5")
    (note,) = range_notes(load_study(tmp_path / "s.h5"))
    assert "in 2 of 2 runs" in note


def test_a_ceiling_says_once_how_many_runs_lie_outside():
    case = demo_case("bloom")
    rows = make_study(case, {SPRAY_3: [0.4, 60]})
    speeds = (0.6, 0.8)
    found = speed_ceilings(rows, *speeds, step=0.1)
    assert [c.outside for c in found] == [{"nozaki_1978": found[0].runs}, {}]
    assert found[0].runs >= 3
    runs = sum(c.runs for c in found)
    said = f"nozaki_1978 is used outside its range in {found[0].runs} of {runs} runs"
    assert " ".join(ceiling_text(found, case).split()).count(said) == 1
    assert said in ceiling_page(with_bands(rows, found, speeds), case, speeds)
